"""Our own outlines for the signs that the book's lettering lacks: accidentals, arrows and a few marks.

Each glyph is drawn on an em of 1000 units with capitals 668 high, to stand beside Atkinson Hyperlegible. A contour is a
closed run of points (x, y, on): `on` points lie on the outline, others are the controls of quadratic curves. Outer
contours run clockwise, holes anticlockwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

EM = 1000
ASCENT, DESCENT = 950, -290
CAP_HEIGHT = 668

PointOn = tuple[int, int, bool]
Contour = tuple[PointOn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Glyph:
    """One sign: how far it advances and its contours, in units of the em."""

    name: str
    advance: int
    contours: tuple[Contour, ...]


def _straight(*points: tuple[int, int]) -> Contour:
    return tuple((x, y, True) for x, y in points)


def _box(left: int, bottom: int, right: int, top: int) -> Contour:
    return _straight((left, bottom), (left, top), (right, top), (right, bottom))


def _bar(left: int, right: int, bottom: int, rise: int, thick: int) -> Contour:
    """A slanted bar between two uprights."""
    return _straight((left, bottom), (left, bottom + thick), (right, bottom + thick + rise), (right, bottom + rise))


def _turned(contour: Contour) -> Contour:
    """Half a turn about the middle of the arrow, so that it points the other way."""
    return tuple((800 - x, 668 - y, on) for x, y, on in contour)


def _upright(contour: Contour) -> Contour:
    """A quarter turn anticlockwise about the middle of the arrow."""
    return tuple((400 - (y - 334), 334 + (x - 400), on) for x, y, on in contour)


_ARROW = _straight((60, 284), (60, 384), (470, 384), (470, 560), (760, 334), (470, 108), (470, 284))
_BOWL: Contour = (
    (90, 292, True), (160, 415, False), (258, 415, True), (392, 415, False), (392, 282, True), (392, 130, False),
    (90, -62, True),
)  # fmt: skip
_BOWL_HOLE: Contour = (
    (138, 66, True), (276, 172, False), (276, 272, True), (276, 328, False), (228, 328, True), (168, 328, False),
    (138, 256, True),
)  # fmt: skip
_DOT: Contour = (
    (60, 334, True), (60, 444, False), (170, 444, True), (280, 444, False), (280, 334, True), (280, 224, False),
    (170, 224, True), (60, 224, False),
)  # fmt: skip

SIGNS: Mapping[str, Glyph] = {
    "♯": Glyph(
        name="sharp",
        advance=470,
        contours=(
            _box(128, -72, 196, 690),
            _box(276, -28, 344, 738),
            _bar(44, 428, 142, 78, 104),
            _bar(44, 428, 382, 78, 104),
        ),
    ),
    "♭": Glyph(name="flat", advance=430, contours=(_box(60, -62, 138, 740), _BOWL, _BOWL_HOLE)),
    "♮": Glyph(
        name="natural",
        advance=400,
        contours=(
            _box(60, 108, 128, 740),
            _box(262, -72, 330, 560),
            _bar(60, 330, 108, 56, 104),
            _bar(60, 330, 400, 56, 104),
        ),
    ),
    "→": Glyph(name="arrow right", advance=820, contours=(_ARROW,)),
    "←": Glyph(name="arrow left", advance=820, contours=(_turned(_ARROW),)),
    "↑": Glyph(name="arrow up", advance=800, contours=(_upright(_ARROW),)),
    "↓": Glyph(name="arrow down", advance=800, contours=(_turned(_upright(_ARROW)),)),
    "⏩": Glyph(
        name="hurry",
        advance=800,
        contours=(_straight((60, 84), (60, 584), (400, 334)), _straight((400, 84), (400, 584), (740, 334))),
    ),
    "◆": Glyph(name="cue", advance=700, contours=(_straight((350, 34), (50, 334), (350, 634), (650, 334)),)),
    "●": Glyph(name="dot", advance=340, contours=(_DOT,)),
    "✓": Glyph(
        name="tick",
        advance=760,
        contours=(_straight((60, 310), (140, 390), (290, 240), (620, 590), (700, 510), (290, 80)),),
    ),
}
"""The signs by character."""
