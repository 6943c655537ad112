"""Measurements: ratios against a named baseline, taken in one run."""
