"""Heavier studies of the knowledge: what it tells apart, what answers rest on, how its parts hang together."""
