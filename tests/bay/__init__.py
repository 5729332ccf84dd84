"""Whole cases played in the bay, kept as transcripts that a technician can read."""
