"""What happens when: thin, parse then ask then draw."""
