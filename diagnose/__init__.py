"""From what a technician saw to ranked root causes and the next check."""
