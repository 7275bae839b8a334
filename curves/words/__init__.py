"""What is found, in sentences: a question a file."""
