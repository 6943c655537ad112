"""The page: what the commands do, seen and touched. Nothing is decided here; every function calls a layer below."""
