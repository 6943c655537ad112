"""Rimside plans music that many hands play inside one open grand piano."""

__version__ = "0.1.0"
