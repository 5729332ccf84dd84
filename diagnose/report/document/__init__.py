"""The report of a case: one frozen record, told to two readers, on three kinds of paper."""
