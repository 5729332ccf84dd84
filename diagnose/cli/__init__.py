"""The command line."""

import os

# One command does many small matrix products; a pool of threads costs it ten times what it saves. Must be set
# before numpy is first imported.
for _name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
