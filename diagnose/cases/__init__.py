"""What was seen and done: events, their fold, and the store."""
