"""Asks ``curves`` and remembers what it answered. No Dash."""
