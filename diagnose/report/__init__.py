"""Answers in words."""
