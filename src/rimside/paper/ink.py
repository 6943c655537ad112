"""Colours on paper: contrast, black or white letters, and the two kinds of colour that never mix.

A player's colour is a field or a body. A pitch's colour is a tag or a lit course. Each stands beside a letter, number
or label.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from rimside.errors import BadInput
from rimside.pitch import Key, midi_of_key, plain_key

BLACK, WHITE = "#000000", "#FFFFFF"
_HEX = re.compile(r"#[0-9A-Fa-f]{6}")

PITCH_CLASS_COLOURS: tuple[str, ...] = (
    "#F6A192", "#79C4F7", "#D5B868", "#C5ABF4", "#88CE97", "#F29EB8",
    "#5CCDE0", "#ECAA74", "#A0B7FF", "#B2C576", "#E1A2DB", "#64D1BD",
)  # fmt: skip
"""One for each pitch class from C, in the order of fifths round the hues, so that neighbouring courses lie far apart.
Even lightness (OKLCH L 0.79, C 0.105), so that black letters stand out alike on all. Our own choice."""


def luminance(colour: str) -> float:
    """Relative luminance of #RRGGBB, 0 to 1. Source: WCAG 2.1, relative luminance.

    Raises
    ------
    BadInput : not #RRGGBB.
    """
    if not _HEX.fullmatch(colour):
        raise BadInput("a colour is written as #RRGGBB", value=colour, allowed="#000000 to #FFFFFF")
    red, green, blue = (_linear(int(colour[at : at + 2], 16) / 255.0) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(share: float) -> float:
    return float(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21. Source: WCAG 2.1, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def letters_on(field: str) -> str:
    """Black or white, whichever stands out more on a field of this colour."""
    return BLACK if contrast(BLACK, field) >= contrast(WHITE, field) else WHITE


def pitch_colour(key: Key, given: Mapping[Key, str]) -> str:
    """The colour of a key's tag: the production's own, or that of its pitch class."""
    return given.get(plain_key(key)) or PITCH_CLASS_COLOURS[midi_of_key(key) % 12]
