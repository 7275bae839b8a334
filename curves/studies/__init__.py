"""Studies: many setups at once, and the answer with its reason."""
