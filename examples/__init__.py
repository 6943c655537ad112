"""The demo: a piece, its people and its pianos, all invented."""
