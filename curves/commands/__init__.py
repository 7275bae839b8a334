"""The commands, one module each; ``curves.cli`` lists them."""
