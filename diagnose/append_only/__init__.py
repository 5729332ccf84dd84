"""A log of entries that only grows, in one file: what the case store and the file of exercises stand on."""
