"""What stands between a browser and the app."""
