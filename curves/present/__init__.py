"""How results are laid out, whatever shows them."""
