"""One TOML file a motor; every value with its source."""
