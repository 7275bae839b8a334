"""The tests, run in order by ``python -m tests``."""
