"""Labelled builders of what pages are made of; layout only, no callbacks."""
