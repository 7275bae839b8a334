"""Setups as arrays, and ready for the solver."""
