"""One rule of a correct casting, one file."""
