"""How a score writes a harmonic: a node, a partial at any of its nodes, or the pitch that sounds."""

from __future__ import annotations

import math

from rimside.score.model import Touch

MAX_NODE = 16
"""Partials above this have nodes closer together than a finger is wide. Our assumption."""


def touch_of(k: int, n: int) -> Touch | None:
    """The node k/n, or None when it is none: 0 < k < n <= 16 and gcd(k, n) = 1."""
    return Touch(k=k, n=n) if 0 < k < n <= MAX_NODE and math.gcd(k, n) == 1 else None


def partial_of(n: int) -> Touch | None:
    """Partial n at any of its nodes, or None when it is none of ours: 2 to 16."""
    return Touch(k=1, n=n, loose=True) if 2 <= n <= MAX_NODE else None


def partial_sounding(string_midi: float, sounding_midi: float) -> Touch | None:
    """The partial of a string that sounds as written, at any of its nodes; None when none lies within a quarter tone.

    Partial n lies 12 log2 n semitones above the string: 12, 19.02, 24, 27.86, 31.02 ...
    """
    semitones = sounding_midi - string_midi
    n = round(2.0 ** (semitones / 12.0))
    touch = partial_of(n)
    return touch if touch is not None and abs(12.0 * math.log2(n) - semitones) <= 0.5 else None
