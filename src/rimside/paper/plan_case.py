"""The instrument itself: lacquered case, spruce, keyboard, bridges, plate and struts, in their own quiet colours."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from rimside.paper import svg
from rimside.piano.model import Course, Keyboard, Piano, Point, Strut
from rimside.pitch import choir_of

LACQUER, LACQUER_EDGE = "#211C19", "#4A413B"
SPRUCE, GRAIN = "#E2C592", "#CFAE75"
BRIDGE, BRIDGE_EDGE = "#B98A4E", "#94693A"
BRONZE, BRONZE_EDGE, BRONZE_LIGHT = "#A98548", "#7A5C2C", "#C6A566"
IVORY, KEY_GAP, EBONY = "#FAF6EC", "#BDB4A4", "#24201D"
FELT_RED = "#7C2F2A"

RIM_MM = 62.0
"""Breadth of the case wall as drawn. Our own choice: a survey gives the outer edge only."""
WHITE_KEY_MM, BLACK_KEY_MM = 150.0, 95.0
"""Lengths of the keys as drawn. From memory of usual keyboards."""
FRETS, NECK_SHARE, NECK_MM = 19, 0.68, 12.0
"""Frets of a guitar as drawn, how far its fingerboard goes along the strings, and how far beyond them to both sides."""
EBONY_BOARD, FRET = "#3A2A22", "#B8B2A4"
_BLACK = {1, 4, 6, 9, 11}
"""Pitch classes of black keys counted from A."""
_GRAIN_DEG, _GRAIN_STEP_MM = 32.0, 17.0


def case(piano: Piano, prefix: str) -> Iterator[str]:
    """Case, soundboard, plate and keyboard, from below upwards."""
    yield _clip(piano, prefix)
    yield svg.path(piano.outline, closed=True, fill=SPRUCE)
    inside = f"url(#{prefix}-inside)"
    yield f'<g clip-path="{inside}">'
    yield _grain(piano)
    yield from _bridges(piano)
    if piano.keyboard is not None:
        yield _pin_field(piano)
    yield svg.path(piano.outline, closed=True, fill="none", stroke=LACQUER_EDGE, stroke_width=2 * _rim_mm(piano) + 8)
    yield svg.path(piano.outline, closed=True, fill="none", stroke=LACQUER, stroke_width=2 * _rim_mm(piano))
    if piano.keyboard is not None:
        yield from _keyboard(piano, piano.keyboard)
    if piano.instrument == "guitar":
        yield from _fingerboard(piano)
    yield "</g>"


def _rim_mm(piano: Piano) -> float:
    """The wall of a case; the edge of the table that an instrument without a keyboard lies on."""
    return RIM_MM if piano.keyboard is not None else RIM_MM / 6.0


def _fingerboard(piano: Piano) -> Iterator[str]:
    """Under the strings from the near ends on, with frets where equal temperament puts them: L (1 - 2^(-n/12))."""
    first, last = piano.courses[0], piano.courses[-1]
    aside = -NECK_MM if first.near.x_mm < last.near.x_mm else NECK_MM

    def across(share: float) -> list[Point]:
        left, right = first.at(share * first.length_mm), last.at(share * last.length_mm)
        return [Point(x_mm=left.x_mm + aside, y_mm=left.y_mm), Point(x_mm=right.x_mm - aside, y_mm=right.y_mm)]

    yield svg.path([*across(0.0), *reversed(across(NECK_SHARE))], closed=True, fill=EBONY_BOARD)
    for fret in range(FRETS + 1):
        yield svg.line(*across(1.0 - 2.0 ** (-fret / 12.0)), stroke=FRET, stroke_width=2.2)


def _clip(piano: Piano, prefix: str) -> str:
    return f'<defs><clipPath id="{prefix}-inside">{svg.path(piano.outline, closed=True)}</clipPath></defs>'


def _grain(piano: Piano) -> str:
    """The fine lines of the spruce, along the length of the long bridge."""
    reach_mm = piano.length_mm + 2000.0
    rise_mm = reach_mm * math.tan(math.radians(_GRAIN_DEG))
    starts = range(-int(rise_mm), 2000, int(_GRAIN_STEP_MM))
    runs = " ".join(f"M0,{start + 7 * (start % 3 - 1)} l{reach_mm:.0f},{rise_mm:.0f}" for start in starts)
    return f'<path d="{runs}" fill="none" stroke="{GRAIN}" stroke-width="2.2" opacity="0.55"/>'


def _bridges(piano: Piano) -> Iterator[str]:
    """The bridges run under the far ends: one for each overstrung level of strings."""
    for run in bridge_runs(piano.courses):
        points = [course.far for course in run]
        for colour, width in ((BRIDGE_EDGE, 38.0), (BRIDGE, 32.0)):
            yield svg.path(
                points, fill="none", stroke=colour, stroke_width=width, stroke_linecap="round", stroke_linejoin="round"
            )


def bridge_runs(courses: Sequence[Course]) -> list[list[Course]]:
    """Courses of one bridge together: a new one begins where the far end jumps by more than a hand."""
    ordered = sorted(courses, key=lambda course: course.key)
    runs: list[list[Course]] = [[ordered[0]]]
    for before, course in pairwise(ordered):
        if before.far.distance_mm(course.far) > 130.0:
            runs.append([])
        runs[-1].append(course)
    return runs


def _pin_field(piano: Piano) -> str:
    """The front of the plate, from the keyboard to just before the strings' near ends."""
    first_choir = [course for course in piano.courses if choir_of(course.key) == 1]
    ends = [Point(x_mm=course.near.x_mm, y_mm=course.near.y_mm - 14.0) for course in first_choir]
    front = WHITE_KEY_MM + 60.0
    points = [
        Point(x_mm=-300.0, y_mm=front), Point(x_mm=-300.0, y_mm=ends[0].y_mm), *ends,
        Point(x_mm=1600.0, y_mm=ends[-1].y_mm), Point(x_mm=1600.0, y_mm=front),
    ]  # fmt: skip
    return svg.path(points, closed=True, fill=BRONZE, stroke=BRONZE_EDGE, stroke_width=3)


def _keyboard(piano: Piano, keys: Keyboard) -> Iterator[str]:
    front = min(point.y_mm for point in piano.outline)
    yield svg.rect(front, WHITE_KEY_MM + 62.0, -400.0, 1700.0, fill=LACQUER)
    yield svg.rect(0.0, WHITE_KEY_MM, keys.from_mm, keys.to_mm, fill=IVORY)
    white = white_key_mm(keys)
    gaps = " ".join(
        f"M0,{keys.from_mm + number * white:.1f} h{WHITE_KEY_MM}"
        for number in range(1, round((keys.to_mm - keys.from_mm) / white))
    )
    yield f'<path d="{gaps}" stroke="{KEY_GAP}" stroke-width="1.6" fill="none"/>'
    for key in range(keys.first_key, keys.last_key + 1):
        if _is_black(key):
            middle = key_middle_mm(key, keys)
            yield svg.rect(WHITE_KEY_MM - BLACK_KEY_MM, WHITE_KEY_MM, middle - 5.5, middle + 5.5, fill=EBONY, rx=1.5)
    yield svg.rect(WHITE_KEY_MM, WHITE_KEY_MM + 5.0, keys.from_mm, keys.to_mm, fill=FELT_RED)


def _is_black(key: int) -> bool:
    return (key - 1) % 12 in _BLACK


def white_key_mm(keys: Keyboard) -> float:
    """Breadth of a white key, all alike."""
    whites = sum(not _is_black(key) for key in range(keys.first_key, keys.last_key + 1))
    return (keys.to_mm - keys.from_mm) / whites


def key_middle_mm(key: int, keys: Keyboard) -> float:
    """Where the middle of a key lies along the keyboard, as drawn: white keys alike, black ones on the joint."""
    whites = sum(not _is_black(lower) for lower in range(keys.first_key, key))
    return keys.from_mm + (whites if _is_black(key) else whites + 0.5) * white_key_mm(keys)


def strut(bar: Strut) -> Iterator[str]:
    """One bar of the plate."""
    for colour, share in ((BRONZE_EDGE, 1.0), (BRONZE, 0.86), (BRONZE_LIGHT, 0.22)):
        yield svg.line(
            bar.start, bar.end, stroke=colour, stroke_width=round(share * bar.width_mm, 1),
            stroke_linecap="round" if colour != BRONZE_LIGHT else "butt",
        )  # fmt: skip
