"""Roots, counts and the spread of a normal: what knows nothing of bikes."""
