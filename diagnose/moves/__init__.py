"""What to do now, above planning: one place that every screen, document, exercise and scenario reads."""
