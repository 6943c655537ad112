"""The demonstration: an invented piece for eight players, and the job of putting it on its feet."""
