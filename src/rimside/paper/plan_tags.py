"""One tag for each played course, set in the tuning pin area or beyond the bass bridge, off the crowded strings.

The lit course leads from its tag to its contact points, so that no line has to run over the strings. Tags keep the
order of their courses, and so their thin leaders never cross.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rimside.casting.result import Casting
from rimside.paper import svg
from rimside.paper.ink import pitch_colour
from rimside.paper.plan_case import WHITE_KEY_MM, bridge_runs
from rimside.paper.plan_marks import DARK, Board
from rimside.paper.plan_strings import played_keys
from rimside.piano.model import Course, Piano, Point
from rimside.pitch import Key, LabelScheme, label

LETTER_MM, PAD_MM = 40.0, 14.0
HEIGHT_SHARE = 1.16
"""Height of a tag over its letters' size."""
LANE_MM = 6.0
"""Room beside a leader that passes between two tags."""
BEYOND_MM = 40.0
"""Room behind the bass bridge in which leaders fan out to their tags."""
_FIRST_MM = WHITE_KEY_MM + 8.0
"""Tags begin behind the keys and the red felt."""
_ELBOW_MM = 22.0
_MOST_SLANT = 0.2
_SIGN_EMS, _CHAR_EMS = {"♯": 0.47, "♭": 0.43, "'": 0.23, ",": 0.25}, 0.65
"""Breadths of signs and of letters and figures, bold. Measured on Atkinson Hyperlegible."""
WIDEST_FAN = 1.25
"""One column of tags may be so much longer than the row of its strings."""
MOST_AT_FAR_ENDS = 12
"""More bass courses than this have their tags in the tuning pin area like the others."""
_SAME_MM = 60.0
"""Contact points of one course closer than this share a dot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A label in its pitch's colour: its middle, and the leader that ties it to its course's end."""

    key: Key
    words: str
    at: Point
    letter_mm: float
    leader: tuple[Point, ...]

    @property
    def width_mm(self) -> float:
        """Breadth of the tag as drawn."""
        return tag_width_mm(self.words, self.letter_mm)

    @property
    def height_mm(self) -> float:
        """Height of the tag as drawn."""
        return HEIGHT_SHARE * self.letter_mm


def tag_width_mm(words: str, letter_mm: float) -> float:
    """Breadth of a tag with these words."""
    ems = sum(_SIGN_EMS.get(char, _CHAR_EMS) for char in words)
    return letter_mm * (ems + PAD_MM / LETTER_MM)


def tags(piano: Piano, casting: Casting, scheme: LabelScheme) -> tuple[Tag, ...]:
    """A tag for each played course, bass courses beyond their bridge, the others before their near ends."""
    played = played_keys(casting)
    courses = [course for course in piano.courses if course.key in played]
    runs = bridge_runs(piano.courses)
    bass = {course.key for course in runs[0]} if len(runs) > 1 else set()
    far = [course for course in courses if course.key in bass]
    far = far if len(far) <= MOST_AT_FAR_ENDS else []
    near = [course for course in courses if course not in far]
    return (*_at_far_ends(far, runs[0], scheme), *_at_near_ends(near, piano, scheme))


def _at_near_ends(courses: Sequence[Course], piano: Piano, scheme: LabelScheme) -> Iterator[Tag]:
    """One column along the strings' beginnings, or two in turn where one would spread too far.

    With two, leaders of the outer one pass between the tags of the inner one. Between two straight fronts they fan
    out to the breadths of their strings, so that none runs under a tag or over another leader.
    """
    if not courses:
        return
    ordered = sorted(courses, key=lambda course: course.near.x_mm)
    wanted = [course.near.x_mm for course in ordered]
    least, most = piano.courses[0].near.x_mm, max(course.near.x_mm for course in piano.courses)
    if piano.keyboard is None:
        beyond = max(0.0, len(wanted) * _row_mm(1) - (most - least)) / 2.0
        least, most = least - beyond, most + beyond
    columns = 1 if len(wanted) * _row_mm(1) <= max(_row_mm(1), WIDEST_FAN * (wanted[-1] - wanted[0])) else 2
    step_mm = min(_row_mm(columns), (most - least) / len(wanted))
    letter_mm = min(LETTER_MM, max(4.0, columns * (step_mm - LANE_MM) / HEIGHT_SHARE))
    words = [label(course.key, scheme) for course in ordered]
    broad = max(tag_width_mm(word, letter_mm) for word in words)
    rows = spread(wanted, [step_mm] * (len(ordered) - 1), least, most)
    # before a slanting front the next tag of the other column stands as much nearer as the front leans over its height
    deep = broad + LANE_MM + (_MOST_SLANT * HEIGHT_SHARE * letter_mm if columns > 1 else 0.0)
    slant, level = _front(ordered, rows, _first_mm(piano) + broad + LANE_MM + (columns - 1) * deep)
    for number, (course, x_mm, word) in enumerate(zip(ordered, rows, words, strict=True)):
        front = level + slant * x_mm
        column = number % columns
        at = Point(x_mm=x_mm, y_mm=front - LANE_MM - broad / 2 - column * deep)
        leader = (at, Point(x_mm=x_mm, y_mm=front), *_end(course, slant, level + _ELBOW_MM))
        yield Tag(key=course.key, words=word, at=at, letter_mm=letter_mm, leader=leader)


def _first_mm(piano: Piano) -> float:
    """Tags begin behind the keys; without keys, behind the edge that people stand at."""
    return _FIRST_MM if piano.keyboard is not None else min(point.y_mm for point in piano.outline)


def _end(course: Course, slant: float, level: float) -> Iterator[Point]:
    """Where a leader leaves the second front and where it ends: the near end, or the string itself on that front."""
    short = level + slant * course.near.x_mm - course.near.y_mm
    if short <= 0.0:
        yield Point(x_mm=course.near.x_mm, y_mm=level + slant * course.near.x_mm)
        yield course.near
        return
    run_x, run_y = course.far.x_mm - course.near.x_mm, course.far.y_mm - course.near.y_mm
    share = short / (run_y - slant * run_x)
    yield Point(x_mm=course.near.x_mm + share * run_x, y_mm=course.near.y_mm + share * run_y)


def _row_mm(columns: int) -> float:
    """From one tag to the next at full size: a tag and a lane, or half of one where another column takes turns."""
    return HEIGHT_SHARE * LETTER_MM / columns + LANE_MM


def _front(courses: Sequence[Course], rows: Sequence[float], least_mm: float) -> tuple[float, float]:
    """Slant and level of the line before which the tags stand: just short of all near ends, behind the keys."""
    first, last = courses[0].near, courses[-1].near
    run = last.x_mm - first.x_mm
    slant = max(0.0, min(_MOST_SLANT, (last.y_mm - first.y_mm) / run)) if run > 0.0 else 0.0
    level = min(course.near.y_mm - slant * course.near.x_mm for course in courses) - _ELBOW_MM
    if level + slant * rows[0] < least_mm:
        return 0.0, least_mm
    return slant, level


def _at_far_ends(courses: Sequence[Course], bridge: Sequence[Course], scheme: LabelScheme) -> Iterator[Tag]:
    """A row along the bridge, behind it as the strings run; leaders fan out before it."""
    if not courses:
        return
    ordered = sorted(courses, key=lambda course: course.key)
    start, end = bridge[0].far, bridge[-1].far
    length = start.distance_mm(end)
    along_x, along_y = (end.x_mm - start.x_mm) / length, (end.y_mm - start.y_mm) / length
    side = 1.0 if _aside(start, bridge[0].near, along_x, along_y) < 0.0 else -1.0
    words = [label(course.key, scheme) for course in ordered]
    steps = [_step_mm(one, other, along_x, along_y) for one, other in pairwise(words)]
    wanted = [(one.far.x_mm - start.x_mm) * along_x + (one.far.y_mm - start.y_mm) * along_y for one in ordered]
    behind = max(side * _aside(start, course.far, along_x, along_y) for course in ordered) + 4.0
    front = behind + BEYOND_MM
    broad = max(tag_width_mm(word, LETTER_MM) for word in words)
    middle = front + LANE_MM + (broad * abs(along_x) + HEIGHT_SHARE * LETTER_MM * abs(along_y)) / 2

    def point(way: float, depth: float) -> Point:
        x_mm, y_mm = way * along_x - side * depth * along_y, way * along_y + side * depth * along_x
        return Point(x_mm=start.x_mm + x_mm, y_mm=start.y_mm + y_mm)

    for course, way, want, word in zip(ordered, spread(wanted, steps, -math.inf, math.inf), wanted, words, strict=True):
        leader = (point(way, middle), point(way, front), point(want, behind), course.far)
        yield Tag(key=course.key, words=word, at=leader[0], letter_mm=LETTER_MM, leader=leader)


def _aside(start: Point, point: Point, along_x: float, along_y: float) -> float:
    """How far a point lies to one side of a line through `start`."""
    return (point.y_mm - start.y_mm) * along_x - (point.x_mm - start.x_mm) * along_y


def _step_mm(one: str, other: str, along_x: float, along_y: float) -> float:
    """How far apart along a slanting row two upright tags must be to stand clear of each other."""
    broad = (tag_width_mm(one, LETTER_MM) + tag_width_mm(other, LETTER_MM)) / 2 + LANE_MM
    high = HEIGHT_SHARE * LETTER_MM + LANE_MM
    return min(broad / max(abs(along_y), 1e-6), high / max(abs(along_x), 1e-6))


def spread(wanted: Sequence[float], steps: Sequence[float], least: float, most: float) -> list[float]:
    """Places as near as can be to those wanted, in order, a step apart each, between two ends.

    Least squares: neighbours that are too close are pooled about their mean.
    """
    offsets = [0.0]
    for step in steps:
        offsets.append(offsets[-1] + step)
    pools: list[tuple[float, int]] = []
    for want, offset in zip(wanted, offsets, strict=True):
        pools.append((want - offset, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (high, many), (low, few) = pools[-2], pools[-1]
            pools[-2:] = [((high * many + low * few) / (many + few), many + few)]
    flat = [value for value, count in pools for _ in range(count)]
    ceiling = most - offsets[-1]
    return [max(least, min(value, ceiling)) + offset for value, offset in zip(flat, offsets, strict=True)]


def draw_tags(found: Sequence[Tag], pitch_colours: Mapping[Key, str], board: Board) -> Iterator[str]:
    """Leaders under all tags, then the tags."""
    for tag in found:
        board.take(tag.at, tag.width_mm, tag.height_mm)
        for one, other in pairwise(tag.leader):
            board.keep_clear_of_line(one, other)
        yield svg.path(tag.leader, fill="none", stroke=DARK, stroke_width=2.5, stroke_linejoin="round")
    for tag in found:
        a, b = tag.at, (tag.width_mm / 2, tag.height_mm / 2)
        yield svg.rect(a.y_mm - b[0], a.y_mm + b[0], a.x_mm - b[1], a.x_mm + b[1], rx=8,
                       fill=pitch_colour(tag.key, pitch_colours), stroke=DARK, stroke_width=2.5)  # fmt: skip
        yield svg.text(a, tag.words, tag.letter_mm, font_weight="bold", fill="#000000")


def draw_dots(casting: Casting, pitch_colours: Mapping[Key, str], board: Board) -> Iterator[str]:
    """A ringed dot where a hand or tool meets a string; the one that a course is played at most is larger."""
    points = contact_points(casting)
    most: dict[Key, int] = {}
    for key, _, count in points:
        most[key] = max(count, most.get(key, 0))
    for key, at, count in sorted(points, key=lambda point: point[2]):
        large = count == most[key]
        board.take(at, 24.0, 24.0)
        yield svg.circle(at, 10.5 if large else 6.5, fill=pitch_colour(key, pitch_colours), stroke=DARK,
                         stroke_width=4 if large else 2.5)  # fmt: skip


def contact_points(casting: Casting) -> list[tuple[Key, Point, int]]:
    """Each place on a string that the casting touches and how many figures touch it there, in order of key."""
    found: list[tuple[Key, Point, int]] = []
    for cast in casting.cast:
        for contact in cast.contacts:
            if contact.key is None or contact.from_near_end_mm is None:
                continue
            at = Point(x_mm=contact.x_mm, y_mm=contact.y_mm)
            same = (
                n for n, (key, other, _) in enumerate(found) if key == contact.key and at.distance_mm(other) < _SAME_MM
            )
            number = next(same, None)
            if number is None:
                found.append((contact.key, at, 1))
            else:
                found[number] = (contact.key, found[number][1], found[number][2] + 1)
    return sorted(found, key=lambda point: (point[0], point[1].y_mm))
