"""What is read on the plan: places, rests, spots and contact points, with labels that keep clear of each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field

from rimside.casting.result import Casting
from rimside.paper import svg
from rimside.paper.ink import pitch_colour
from rimside.paper.rests import Rest
from rimside.piano.model import Piano, Point
from rimside.pitch import Key, LabelScheme, label

DARK, PAPER, FLOOR = "#1F1B18", "#FFFFFF", "#8A8178"
LABEL_MM, PLACE_MM, SPOT_MM, REST_MM = 44.0, 40.0, 30.0, 30.0
"""Letter sizes on the plan."""
SCALE_BAR_MM = 500.0
_CHAR_SHARE = 0.62
"""Mean advance of a bold capital or figure, in ems."""
_SAME_MM = 60.0
"""Contact points of one course closer than this share a mark."""


@dataclass(slots=True)
class Board:
    """The rectangles that labels have taken so far, as (from y, to y, from x, to x) in mm."""

    taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    def free(self, at: Point, width_mm: float, height_mm: float) -> bool:
        """Whether a rectangle about a point touches none that is taken."""
        a, b, c, d = self._around(at, width_mm, height_mm)
        return not any(a < to_y and b > from_y and c < to_x and d > from_x for from_y, to_y, from_x, to_x in self.taken)

    def take(self, at: Point, width_mm: float, height_mm: float) -> None:
        """Take a rectangle about a point."""
        self.taken.append(self._around(at, width_mm, height_mm))

    def settle(self, wanted: Sequence[Point], width_mm: float, height_mm: float) -> Point:
        """The first of these points that is free, else the last; taken."""
        at = next((point for point in wanted if self.free(point, width_mm, height_mm)), wanted[-1])
        self.take(at, width_mm, height_mm)
        return at

    def keep_clear_of_spots(self, piano: Piano) -> None:
        """Take the room of the spots' own marks."""
        for spot in piano.spots:
            self.take(spot.at, 36.0, 36.0)

    @staticmethod
    def _around(at: Point, width_mm: float, height_mm: float) -> tuple[float, float, float, float]:
        return (
            at.y_mm - width_mm / 2, at.y_mm + width_mm / 2, at.x_mm - height_mm / 2, at.x_mm + height_mm / 2,
        )  # fmt: skip


def text_width_mm(words: str, size_mm: float) -> float:
    """About how wide bold words come out."""
    return _CHAR_SHARE * size_mm * len(words)


def beyond(at: Point, heading_deg: float, distance_mm: float) -> Point:
    """The point at a distance in a direction (counted from x anticlockwise)."""
    turn = math.radians(heading_deg)
    return Point(x_mm=at.x_mm + distance_mm * math.cos(turn), y_mm=at.y_mm + distance_mm * math.sin(turn))


def place_marks(piano: Piano, used: Set[str], taken: Set[str], prefix: str) -> Iterator[str]:
    """A small ring on the floor for each place, its id behind it, or behind the body that stands there.

    Places in use are drawn stronger.
    """
    for place in piano.places:
        strong = place.id in used
        colour = DARK if strong else FLOOR
        yield f'<g id="{prefix}-place-{place.id}">'
        yield svg.circle(place.at, 11.0, fill=PAPER, stroke=colour, stroke_width=4 if strong else 2.5)
        behind = beyond(place.at, place.heading_deg + 180.0, 190.0 if place.id in taken else 58.0)
        yield svg.text(behind, place.id, PLACE_MM, fill=colour, font_weight="bold" if strong else "normal")
        yield "</g>"


def rest_marks(piano: Piano, rests: Sequence[Rest], board: Board) -> Iterator[str]:
    """A small square on the ledge for each rest."""
    for rest in rests:
        words = rest.name
        width = text_width_mm(words, REST_MM) + 12.0
        near = [rest.at, *(beyond(rest.at, turn, step) for step in (38.0, 60.0) for turn in (0, 180, 90, 270))]
        at = board.settle(near, width, 40.0)
        yield svg.rect(
            at.y_mm - width / 2, at.y_mm + width / 2, at.x_mm - 20.0, at.x_mm + 20.0, rx=5, fill=PAPER, stroke=DARK,
            stroke_width=2.5,
        )  # fmt: skip
        yield svg.text(at, words, REST_MM, font_weight="bold")


def contact_marks(
    piano: Piano, casting: Casting, scheme: LabelScheme, pitch_colours: Mapping[Key, str], board: Board
) -> Iterator[str]:
    """A ringed dot where a hand or tool meets a string, and beside it the label in the pitch's colour."""
    found = contact_points(casting)
    for _, at in found:
        board.take(at, 30.0, 30.0)
    tags, dots = [], []
    for key, at in found:
        colour, words = pitch_colour(key, pitch_colours), label(key, scheme)
        width = text_width_mm(words, LABEL_MM) + 18.0
        spot = board.settle(_beside(piano, key, at, width), width, 54.0)
        if spot.distance_mm(at) > 80.0:
            tags.append(svg.line(at, spot, stroke=DARK, stroke_width=2.5))
        tags.append(
            svg.rect(spot.y_mm - width / 2, spot.y_mm + width / 2, spot.x_mm - 26.0, spot.x_mm + 26.0, rx=9,
                     fill=colour, stroke=DARK, stroke_width=2.5)
        )  # fmt: skip
        tags.append(svg.text(spot, words, LABEL_MM, font_weight="bold", fill="#000000"))
        dots.append(svg.circle(at, 11.0, fill=colour, stroke=DARK, stroke_width=4.5))
    yield from tags
    yield from dots


def contact_points(casting: Casting) -> list[tuple[Key, Point]]:
    """Each place on a string that the casting touches, once, in order of key."""
    found: list[tuple[Key, Point]] = []
    for cast in casting.cast:
        for contact in cast.contacts:
            if contact.key is None or contact.from_near_end_mm is None:
                continue
            at = Point(x_mm=contact.x_mm, y_mm=contact.y_mm)
            if not any(key == contact.key and at.distance_mm(other) < _SAME_MM for key, other in found):
                found.append((contact.key, at))
    return sorted(found, key=lambda pair: (pair[0], pair[1].y_mm))


def _beside(piano: Piano, key: Key, at: Point, width_mm: float) -> list[Point]:
    """Where a label may stand: along its own string on either side of the mark, then further off all round."""
    course = piano.course(key)
    turn = math.degrees(math.atan2(course.far.y_mm - course.near.y_mm, course.far.x_mm - course.near.x_mm))
    step = width_mm / 2 + 20.0
    along = [beyond(at, turn + half, step) for half in (0.0, 180.0)]
    return [*along, *_ring(at, turn, width_mm)]


def _ring(at: Point, turn_deg: float, width_mm: float) -> list[Point]:
    """Points further and further off all round, the near ones beside the string's run first."""
    return [
        beyond(at, turn_deg + side, distance)
        for distance in (65.0, 100.0, 135.0, 170.0, 210.0, 260.0, 320.0, 400.0)
        for side in (90.0, 270.0, 45.0, 315.0, 135.0, 225.0, 0.0, 180.0)
        if distance > width_mm / 2 or side in (90.0, 270.0, 45.0, 315.0)
    ]


def spot_marks(piano: Piano, board: Board) -> Iterator[str]:
    """A small diamond and its name for each spot."""
    for spot in piano.spots:
        at = spot.at
        corners = [beyond(at, turn, 15.0) for turn in (0, 90, 180, 270)]
        yield svg.path(corners, closed=True, fill=PAPER, stroke=DARK, stroke_width=3)
        width = 0.52 * SPOT_MM * len(spot.name) + 10.0
        near = [Point(x_mm=at.x_mm + dx, y_mm=at.y_mm) for dx in (40.0, -40.0)]
        sides = [Point(x_mm=at.x_mm, y_mm=at.y_mm + side * (width / 2 + 24.0)) for side in (1, -1)]
        place = board.settle([*near, *sides, *_ring(at, 0.0, width)], width, 36.0)
        if place.distance_mm(at) > width / 2 + 30.0:
            yield svg.line(at, place, stroke=DARK, stroke_width=2)
        yield svg.rect(place.y_mm - width / 2, place.y_mm + width / 2, place.x_mm - 18.0, place.x_mm + 18.0, rx=6,
                       fill=PAPER, opacity=0.82)  # fmt: skip
        yield svg.text(place, spot.name, SPOT_MM, font_style="italic")


def scale_bar(left: float, top: float, width: float, height: float) -> Iterator[str]:
    """Half a metre of the plan, in the corner at the bass end of the drawing's foot."""
    start = Point(x_mm=top + height - 40.0, y_mm=left + 40.0)
    end = Point(x_mm=start.x_mm, y_mm=start.y_mm + SCALE_BAR_MM)
    yield svg.line(start, end, stroke=FLOOR, stroke_width=5)
    for at in (start, end):
        up = Point(x_mm=at.x_mm - 22.0, y_mm=at.y_mm)
        yield svg.line(at, up, stroke=FLOOR, stroke_width=5)
    middle = Point(x_mm=start.x_mm - 32.0, y_mm=(start.y_mm + end.y_mm) / 2)
    yield svg.text(middle, f"{SCALE_BAR_MM:.0f} mm", 34.0, fill=FLOOR)
