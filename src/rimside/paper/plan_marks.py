"""What is read on the plan: places, rests and spots, with labels that keep clear of each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, field

from rimside.paper import svg
from rimside.paper.plan_moment import Stand
from rimside.paper.rests import Rest
from rimside.piano.model import Piano, Place, Point

DARK, PAPER, FLOOR = "#1F1B18", "#FFFFFF", "#8A8178"
PLACE_MM, SPOT_MM, REST_MM = 40.0, 30.0, 30.0
"""Letter sizes on the plan."""
REST_STEPS_MM = (24.0, 38.0, 50.0, 62.0, 76.0, 90.0, 110.0, 140.0)
SCALE_BAR_MM = 500.0
_CHAR_SHARE = 0.62
"""Mean advance of a bold capital or figure, in ems."""
_BODY_STEP_MM, _LINE_STEP_MM = 40, 10.0


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

    def keep_clear_of(self, standing: Sequence[Stand]) -> None:
        """Take the room of bodies, as squares small enough to follow their outline."""
        for stand in standing:
            reach = int(stand.body.shoulder_breadth_mm)
            for dx in range(-reach, reach, _BODY_STEP_MM):
                for dy in range(-reach, reach, _BODY_STEP_MM):
                    at = Point(x_mm=stand.at.x_mm + dx, y_mm=stand.at.y_mm + dy)
                    if stand.covers(at):
                        self.take(at, _BODY_STEP_MM, _BODY_STEP_MM)

    def keep_clear_of_line(self, start: Point, end: Point) -> None:
        """Take a run of small squares along a line."""
        count = 1 + int(start.distance_mm(end) / _LINE_STEP_MM)
        for number in range(count + 1):
            share = number / count
            at = Point(
                x_mm=start.x_mm + share * (end.x_mm - start.x_mm), y_mm=start.y_mm + share * (end.y_mm - start.y_mm)
            )
            self.take(at, _LINE_STEP_MM, _LINE_STEP_MM)

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


def place_marks(piano: Piano, used: Set[str], standing: Sequence[Stand], prefix: str, board: Board) -> Iterator[str]:
    """A small ring on the floor for each place, its id behind it, or behind the bodies that hide it.

    Places in use are drawn stronger.
    """
    taken = {stand.place.id for stand in standing}
    for place in piano.places:
        strong = place.id in used
        colour = DARK if strong else FLOOR
        yield f'<g id="{prefix}-place-{place.id}">'
        if place.id in taken or not any(stand.covers(place.at) for stand in standing):
            yield svg.circle(place.at, 11.0, fill=PAPER, stroke=colour, stroke_width=4 if strong else 2.5)
        behind = _label_behind(place, standing, board)
        yield svg.text(behind, place.id, PLACE_MM, fill=colour, font_weight="bold" if strong else "normal")
        yield "</g>"


def _label_behind(place: Place, standing: Sequence[Stand], board: Board) -> Point:
    """The nearest point behind a place where its id lies on the floor and not on a body."""
    width = text_width_mm(place.id, PLACE_MM)
    steps = [beyond(place.at, place.heading_deg + 180.0, 58.0 + 6.0 * number) for number in range(60)]
    clear = [at for at in steps if not any(_on_body(stand, at, width) for stand in standing)]
    return board.settle(clear or steps[-1:], width, PLACE_MM)


def _on_body(stand: Stand, at: Point, width_mm: float) -> bool:
    """Whether a place's id would touch a body."""
    corners = [
        Point(x_mm=at.x_mm + down * (PLACE_MM / 2 + 8.0), y_mm=at.y_mm + right * (width_mm / 2 + 14.0))
        for down in (-1, 0, 1) for right in (-1, 0, 1)
    ]  # fmt: skip
    return any(map(stand.covers, corners))


def rest_marks(rests: Sequence[Rest], board: Board) -> Iterator[str]:
    """A small square on the ledge for each rest."""
    for rest in rests:
        words = rest.name
        width = text_width_mm(words, REST_MM) + 12.0
        near = [rest.at, *(beyond(rest.at, turn, step) for step in REST_STEPS_MM for turn in range(0, 360, 45))]
        at = board.settle(near, width, 40.0)
        yield svg.rect(
            at.y_mm - width / 2, at.y_mm + width / 2, at.x_mm - 20.0, at.x_mm + 20.0, rx=5, fill=PAPER, stroke=DARK,
            stroke_width=2.5,
        )  # fmt: skip
        yield svg.text(at, words, REST_MM, font_weight="bold")


def _ring(at: Point, least_mm: float, width_mm: float) -> list[Point]:
    """Points round another, nearer ones first; above and below before aside."""
    return [
        beyond(at, side, least_mm + distance + (width_mm / 2 if side in (90.0, 270.0) else 0.0))
        for distance in (40.0, 70.0, 110.0, 160.0, 220.0, 300.0, 400.0)
        for side in (0.0, 180.0, 90.0, 270.0, 45.0, 315.0, 135.0, 225.0)
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
