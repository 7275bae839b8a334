"""A setup as it moves: forces, charge and temperatures, runs, hills and rides."""
