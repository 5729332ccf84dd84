"""One thing that was typed -> events of a case."""
