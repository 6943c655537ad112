"""What a person at the terminal sees."""
