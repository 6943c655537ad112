"""From photographs of the open instrument to its string plane in mm."""
