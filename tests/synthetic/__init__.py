"""Readings and logs of machines whose truth is known, with the faults that real ones have."""
