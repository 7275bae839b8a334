"""How fast the operating point is, as ratios measured in the same run; left out of the tests."""
