"""Where implements live, told so that a hand finds them: each rest is named after the nearest place ("S7a", "S7b")."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from rimside.casting.result import Casting
from rimside.kit import Implement
from rimside.piano.model import Piano, Place, Point

NEAR_MM = 220.0
"""A strut or spot this close names a rest; further off the nearest place does. Our own choice."""
SAME_REST_MM = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """One named rest of the plan and the implements that live there."""

    name: str
    at: Point
    implements: tuple[str, ...]


def named_rests(casting: Casting) -> tuple[Rest, ...]:
    """The rests of all implements that do not live threaded at their course, along the rim; lettered at each place."""
    return _named(casting.implements, casting.places)


@lru_cache(maxsize=16)
def _named(implements: tuple[Implement, ...], places: tuple[Place, ...]) -> tuple[Rest, ...]:
    groups: list[tuple[Point, list[str]]] = []
    for implement in implements:
        if implement.key is not None:
            continue
        at = Point(x_mm=implement.rest_x_mm, y_mm=implement.rest_y_mm)
        found = next((names for point, names in groups if point.distance_mm(at) < SAME_REST_MM), None)
        if found is None:
            groups.append((at, [implement.id]))
        else:
            found.append(implement.id)
    groups.sort(key=lambda group: (_nearest(places, group[0]).along_rim_mm, group[1][0]))
    letters: Counter[str] = Counter()
    rests = []
    for at, names in groups:
        place = _nearest(places, at)
        rests.append(Rest(name=f"{place.id}{_letter(letters[place.id])}", at=at, implements=tuple(names)))
        letters[place.id] += 1
    return tuple(rests)


def _nearest(places: tuple[Place, ...], at: Point) -> Place:
    return min(places, key=lambda place: (place.at.distance_mm(at), place.id))


def _letter(number: int) -> str:
    """a to z, then aa, ab and on."""
    before = _letter(number // 26 - 1) if number >= 26 else ""
    return before + chr(ord("a") + number % 26)


def rest_of(casting: Casting) -> Mapping[str, Rest]:
    """The named rest of each implement that has one, by implement id."""
    return {implement: rest for rest in named_rests(casting) for implement in rest.implements}


def landmark(piano: Piano, implement: Implement) -> str:
    """Words for where an implement lives: on its own course, by a strut or spot, or in front of a place."""
    if implement.key is not None:
        return "on its course"
    at = Point(x_mm=implement.rest_x_mm, y_mm=implement.rest_y_mm)
    marks = [(_from_line_mm(at, strut.start, strut.end), strut.name) for strut in piano.struts]
    marks += [(spot.at.distance_mm(at), spot.name) for spot in piano.spots]
    distance_mm, name = min(marks, default=(NEAR_MM + 1.0, ""))
    if distance_mm <= NEAR_MM:
        return f"by {name}"
    return f"ledge at {min(piano.places, key=lambda place: (place.at.distance_mm(at), place.id)).id}"


def _from_line_mm(at: Point, start: Point, end: Point) -> float:
    run_x, run_y = end.x_mm - start.x_mm, end.y_mm - start.y_mm
    share = ((at.x_mm - start.x_mm) * run_x + (at.y_mm - start.y_mm) * run_y) / (run_x**2 + run_y**2)
    share = min(1.0, max(0.0, share))
    return at.distance_mm(Point(x_mm=start.x_mm + share * run_x, y_mm=start.y_mm + share * run_y))
