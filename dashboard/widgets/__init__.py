"""Builders of what several pages show."""
