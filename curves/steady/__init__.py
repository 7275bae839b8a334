"""A setup at a steady speed: over speed, at its top speed, braking and at part load."""
