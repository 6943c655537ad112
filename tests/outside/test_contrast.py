"""Contrast of the page's two dresses, recomputed here from the definition.

Source: WCAG 2.2 (W3C Recommendation, 5 October 2023), "relative luminance" and "contrast ratio"; success criteria
1.4.3 (4.5 : 1 for text) and 1.4.11 (3 : 1 for parts of controls).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

LOOK = (Path(__file__).parents[2] / "src/rimside/web/static/look.css").read_text("utf-8")
DRESSES = {
    name: dict(re.findall(r"--(\w+): (#[0-9A-Fa-f]{6})", block))
    for name, block in re.findall(r'\[data-dress="(\w+)"\] \{([^}]*)\}', LOOK)
}
TEXT, PARTS = 4.5, 3.0


def luminance(colour: str) -> float:
    """0.2126 R + 0.7152 G + 0.0722 B of the linear parts."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """(L1 + 0.05) / (L2 + 0.05)."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_black_on_white_is_21() -> None:
    """The greatest contrast there is, as the definition says."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)


def test_both_dresses_are_there() -> None:
    """Paper and hall name the same colours."""
    assert DRESSES.keys() == {"paper", "hall"}
    assert DRESSES["paper"].keys() == DRESSES["hall"].keys()


@pytest.mark.parametrize("dress", DRESSES)
@pytest.mark.parametrize("words", ["ink", "quiet", "lit", "warn", "good"])
def test_words_can_be_read(dress: str, words: str) -> None:
    """Each colour of words on the ground and on a field."""
    colours = DRESSES[dress]
    assert min(contrast(colours[words], colours[behind]) for behind in ("ground", "field")) >= TEXT


@pytest.mark.parametrize("dress", DRESSES)
def test_edges_of_controls_can_be_seen(dress: str) -> None:
    """The line round a button and under a field, and the ring round what has the focus."""
    colours = DRESSES[dress]
    for part in ("edge", "lit"):
        assert min(contrast(colours[part], colours[behind]) for behind in ("ground", "field")) >= PARTS
