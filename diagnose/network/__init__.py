"""Records to probabilities: arrays, exact inference."""
