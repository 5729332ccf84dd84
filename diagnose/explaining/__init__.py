"""Why the answer is what it is: what decides between causes, what would settle it, what would change it."""
