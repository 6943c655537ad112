"""The production folder: what people write, what the program derives."""
