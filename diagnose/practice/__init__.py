"""Practice: cases whose cause is hidden, results by the network's own odds, and a debrief."""
