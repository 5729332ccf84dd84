"""What a YAML file may hold, declared, and its reader: every value and every problem knows its line and column."""
