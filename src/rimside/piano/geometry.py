"""Plan geometry: crossings, the outline of the case, and the places where people can stand round it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rimside.errors import BadInput
from rimside.piano.model import Keyboard, Place, Point, Strut

if TYPE_CHECKING:
    from shapely import LineString, Polygon

HALF_BODY_MM = 150.0
"""From the case to the centre line of a standing body.
Half of a 95th-percentile man's chest depth, 298 mm (ANSUR II, Gordon et al. 2014), rounded."""
PLACE_SPACING_MM = 300.0
_USUAL_KEYS = Keyboard()
_FRONT_BAND_MM = 60.0
_TAIL_SHARE = 0.12
_STEP_MM = 4.0

Side = Literal["K", "S", "T", "B"]
"""Keyboard front, straight side (spine), tail, bent side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorObstacle:
    """Something where nobody can stand: a leg, a stand, or, with `to`, a wall; `radius_mm` round a point or line."""

    name: str
    at: Point
    radius_mm: float
    to: Point | None = None


def crossing_shares(a: Point, b: Point, c: Point, d: Point) -> tuple[float, float] | None:
    """Where two straight lines cross between their ends: shares along a-b and along c-d, or None."""
    ux, uy, vx, vy = b.x_mm - a.x_mm, b.y_mm - a.y_mm, d.x_mm - c.x_mm, d.y_mm - c.y_mm
    turn = ux * vy - uy * vx
    if turn == 0.0:
        return None
    wx, wy = c.x_mm - a.x_mm, c.y_mm - a.y_mm
    on_first, on_second = (wx * vy - wy * vx) / turn, (wx * uy - wy * ux) / turn
    return (on_first, on_second) if 0.0 <= on_first <= 1.0 and 0.0 <= on_second <= 1.0 else None


def under_strut_shares(a: Point, b: Point, strut: Strut) -> tuple[float, float] | None:
    """The stretch of a-b under a strut's band, as shares of a-b, or None."""
    length_mm = strut.start.distance_mm(strut.end)
    ux, uy = (strut.end.x_mm - strut.start.x_mm) / length_mm, (strut.end.y_mm - strut.start.y_mm) / length_mm
    frames = [
        ((p.x_mm - strut.start.x_mm) * ux + (p.y_mm - strut.start.y_mm) * uy,
         (p.y_mm - strut.start.y_mm) * ux - (p.x_mm - strut.start.x_mm) * uy)
        for p in (a, b)
    ]  # fmt: skip
    along = _clip(frames[0][0], frames[1][0], 0.0, length_mm)
    across = _clip(frames[0][1], frames[1][1], -strut.width_mm / 2.0, strut.width_mm / 2.0)
    if along is None or across is None:
        return None
    low, high = max(along[0], across[0]), min(along[1], across[1])
    return (low, high) if low < high else None


def _clip(start: float, end: float, low: float, high: float) -> tuple[float, float] | None:
    """Shares of the way from start to end that lie in [low, high]."""
    if start == end:
        return (0.0, 1.0) if low <= start <= high else None
    shares = sorted(((low - start) / (end - start), (high - start) / (end - start)))
    first, last = max(shares[0], 0.0), min(shares[1], 1.0)
    return (first, last) if first < last else None


def outline_polygon(outline: Sequence[Point]) -> Polygon:
    """The case as a polygon.

    Raises
    ------
    BadInput : fewer than four points, the last point not the first again, or an edge that crosses another.
    """
    from shapely import Polygon

    if len(outline) < 4:
        raise BadInput("the outline needs more points", value=len(outline), allowed="4 or more, better 30")
    gap_mm = outline[0].distance_mm(outline[-1])
    if gap_mm > 0.5:
        raise BadInput(
            "the outline is not closed: its ends lie apart, in mm",
            value=round(gap_mm, 1),
            allowed="the last point repeats the first",
        )
    polygon = Polygon([(p.x_mm, p.y_mm) for p in outline])
    if not polygon.is_valid:
        from shapely import is_valid_reason

        raise BadInput("the outline crosses itself", value=is_valid_reason(polygon), hint="are two points swapped?")
    return polygon


def places_round(
    outline: Sequence[Point],
    *,
    floor: Sequence[FloorObstacle] = (),
    spacing_mm: float = PLACE_SPACING_MM,
    half_body_mm: float = HALF_BODY_MM,
    keyboard_mm: tuple[float, float] | None = (_USUAL_KEYS.from_mm, _USUAL_KEYS.to_mm),
) -> tuple[tuple[Place, ...], float]:
    """The places where people can stand, and the length of the walking line, mm.

    The walking line is the outline pushed outward by half a body. `along_rim_mm` starts at the bass end of the keyboard
    front and runs clockwise seen from above: straight side, tail, bent side, keyboard. Ids: K1.. along the keyboard
    counted from the bass; S1.. along the straight side from the keyboard to the tail; T1.. at the tail from the
    straight to the bent side; B1.. along the bent side from the tail back to the keyboard. Each side is filled from
    its middle, `spacing_mm` apart, with one place at least; then places too near a floor obstacle are left out (their
    ids too, so that a place keeps its name in another hall).
    """
    polygon = outline_polygon(outline)
    line = _walking_line(polygon, half_body_mm)
    stretches = _sides(line, polygon)
    places = [
        _place(line, polygon, f"{side}{number}", along_mm, keyboard_mm)
        for side in ("K", "S", "T", "B")
        for number, along_mm in enumerate(_spread(*stretches[side], spacing_mm, backward=side == "K"), start=1)
    ]
    return tuple(p for p in places if _free_floor(p.at, floor, half_body_mm)), float(line.length)


def walking_line(outline: Sequence[Point], step_mm: float) -> tuple[tuple[float, Point, float], ...]:
    """Points of the line that people walk, as (along_rim_mm, point, heading_deg to the case), `step_mm` apart."""
    polygon = outline_polygon(outline)
    line = _walking_line(polygon, HALF_BODY_MM)
    along = [number * step_mm for number in range(int(line.length / step_mm) + 1)] + [float(line.length)]
    facing = _facing(line, polygon, along)
    return tuple((at_mm, at, _heading_deg(at, edge)) for at_mm, (at, edge) in zip(along, facing, strict=True))


def _walking_line(polygon: Polygon, half_body_mm: float) -> LineString:
    """The outline pushed outward, clockwise, starting beside the bass end of the keyboard front."""
    from shapely import LineString
    from shapely import Point as Dot
    from shapely.ops import substring

    ring = polygon.buffer(half_body_mm, quad_segs=32).exterior
    line = LineString(ring.coords if not ring.is_ccw else list(ring.coords)[::-1])
    min_x, min_y, _, _ = polygon.bounds
    start_mm = line.project(Dot(min_x - half_body_mm, min_y))
    head, tail = substring(line, start_mm, line.length), substring(line, 0.0, start_mm)
    return LineString([*head.coords, *list(tail.coords)[1:]])


def _sides(line: LineString, polygon: Polygon) -> dict[Side, tuple[float, float]]:
    """From where to where along the walking line each side runs, mm."""
    stretches: dict[Side, tuple[float, float]] = {}
    steps = [step * _STEP_MM for step in range(int(line.length / _STEP_MM) + 1)]
    _, min_y, _, max_y = polygon.bounds
    for along_mm, facing in zip(steps, _facing(line, polygon, steps), strict=True):
        side = _side_of(*facing, min_y, max_y)
        if side is not None:
            first, _ = stretches.get(side, (along_mm, along_mm))
            stretches[side] = (first, along_mm)
    return stretches


def _facing(line: LineString, polygon: Polygon, along_mm: Sequence[float]) -> list[tuple[Point, Point]]:
    """Points of the walking line, each with the point of the case that it faces; all in one call, which is quicker."""
    from shapely import get_x, get_y, line_interpolate_point, line_locate_point

    dots = line_interpolate_point(line, along_mm)
    edges = line_interpolate_point(polygon.exterior, line_locate_point(polygon.exterior, dots))
    pairs = zip(zip(get_x(dots), get_y(dots), strict=True), zip(get_x(edges), get_y(edges), strict=True), strict=True)
    return [
        (Point(x_mm=float(x), y_mm=float(y)), Point(x_mm=float(edge_x), y_mm=float(edge_y)))
        for (x, y), (edge_x, edge_y) in pairs
    ]


def _heading_deg(at: Point, edge: Point) -> float:
    return math.degrees(math.atan2(edge.y_mm - at.y_mm, edge.x_mm - at.x_mm)) % 360.0


def _side_of(at: Point, edge: Point, min_y: float, max_y: float) -> Side | None:
    """The side that a point of the walking line faces; None round the two front corners."""
    heading_deg = _heading_deg(at, edge)
    if edge.y_mm < min_y + _FRONT_BAND_MM and 45.0 < heading_deg < 135.0:
        return "K"
    if edge.y_mm < min_y + 0.5:
        return None
    if heading_deg <= 45.0 or heading_deg > 315.0:
        return "S"
    if 225.0 < heading_deg <= 315.0 and edge.y_mm > max_y - _TAIL_SHARE * (max_y - min_y):
        return "T"
    return "B"


def _spread(from_mm: float, to_mm: float, spacing_mm: float, *, backward: bool) -> list[float]:
    """Positions `spacing_mm` apart round the middle of a stretch; one at least."""
    count = max(1, int((to_mm - from_mm) // spacing_mm))
    middle_mm = (from_mm + to_mm) / 2.0
    along = [middle_mm + (i - (count - 1) / 2.0) * spacing_mm for i in range(count)]
    return along[::-1] if backward else along


def _place(
    line: LineString, polygon: Polygon, place_id: str, along_mm: float, keyboard_mm: tuple[float, float] | None
) -> Place:
    ((at, edge),) = _facing(line, polygon, [along_mm])
    keys = keyboard_mm is not None and place_id.startswith("K") and keyboard_mm[0] <= at.x_mm <= keyboard_mm[1]
    return Place(
        id=place_id,
        at=Point(x_mm=round(at.x_mm, 1), y_mm=round(at.y_mm, 1)),
        heading_deg=round(_heading_deg(at, edge), 1) % 360.0,
        along_rim_mm=round(along_mm, 1),
        at_keyboard=keys,
    )


def _free_floor(at: Point, floor: Sequence[FloorObstacle], half_body_mm: float) -> bool:
    return all(_apart_mm(at, obstacle) >= obstacle.radius_mm + half_body_mm for obstacle in floor)


def _apart_mm(at: Point, obstacle: FloorObstacle) -> float:
    if obstacle.to is None:
        return at.distance_mm(obstacle.at)
    length_mm = obstacle.at.distance_mm(obstacle.to)
    dx, dy = obstacle.to.x_mm - obstacle.at.x_mm, obstacle.to.y_mm - obstacle.at.y_mm
    share = ((at.x_mm - obstacle.at.x_mm) * dx + (at.y_mm - obstacle.at.y_mm) * dy) / length_mm**2
    share = min(1.0, max(0.0, share))
    return at.distance_mm(Point(x_mm=obstacle.at.x_mm + share * dx, y_mm=obstacle.at.y_mm + share * dy))
