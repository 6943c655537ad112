"""One open grand piano: its courses, obstacles, spots and the places around its rim."""
