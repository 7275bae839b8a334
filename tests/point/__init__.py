"""The operating point against methods that share nothing with it."""
