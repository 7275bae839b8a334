"""The browser's view of the results; it holds no physics."""
