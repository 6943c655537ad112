"""The book: everything that is printed."""
