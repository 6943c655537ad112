"""From what the composer wrote to timed notes and figures."""
