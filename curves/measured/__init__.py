"""What was measured: bench readings to a motor, logs of runs, and how predictions compare."""
