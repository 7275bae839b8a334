"""The operating point: arrays in, arrays out, SI units, no models."""
