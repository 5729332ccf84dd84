"""Fault codes as typed by a technician."""
