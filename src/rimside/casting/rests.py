"""Where implements that belong to no one pitch live: on the ledge inside the rim, near where they are wanted."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from rimside.kit import Implement
from rimside.piano.model import Piano, Place, Point
from rimside.piano.resting import fouled, on_keys

LEDGE_MM = 230.0
"""From the body's centre line to the ledge inside the rim. Our assumption; a survey may give better rests later."""
APART_MM = 45.0
"""Between two rests."""
PIN_BLOCK_Y_MM = 200.0
"""Where implements are laid over the pin block by who stands at the keyboard. Our assumption."""
STEEP = 0.5
"""Sine of the heading from which a player counts as facing the pin block across the keys."""
SPOTS_TRIED = 60
"""How many spots of a ledge are looked at for one that fouls nothing; the ledge then ends in any case."""
STEPS_AT_MOST = 1000
"""Steps of the search for a cover where the greedy one does not serve everybody."""

Demand = tuple[frozenset[int], int]
"""The places from which a figure can be played, and how many implements of the kind it takes."""


def lay_rests(
    piano: Piano, wanted: Mapping[str, list[Demand]], counts: Mapping[str, int], reach_mm: float
) -> list[Implement]:
    """Lay the implements of each kind so that every figure that wants some has enough within reach, if that can be.

    What is left after that goes where it helps the figures that have fewest near them so far.

    Parameters
    ----------
    wanted : for each kind, what each figure that wants it asks for.
    counts : how many of each kind the kit holds.
    reach_mm : full reach of the player with the shortest.
    """
    laid: list[Implement] = []
    taken: list[Point] = []
    for kind in sorted(wanted):
        want = _Want(piano=piano, demands=tuple(wanted[kind]), count=counts[kind], reach_mm=reach_mm)
        for number, place in enumerate(sorted(_spread(want, _cover(want))), start=1):
            at = _free_spot(piano, piano.places[place], taken)
            taken.append(at)
            laid.append(Implement(id=f"{kind} {number}", kind=kind, rest_x_mm=at.x_mm, rest_y_mm=at.y_mm))
    return laid


@dataclass(frozen=True, kw_only=True)
class _Want:
    """One kind: what is asked for, and what each place is worth."""

    piano: Piano
    demands: tuple[Demand, ...]
    count: int
    reach_mm: float

    @cached_property
    def near(self) -> list[frozenset[int]]:
        """For each place, the places whose rests are in reach from it, wherever on the ledge there they come to lie."""
        rests = [_ledge(self.piano, place, 1)[0] for place in self.piano.places]
        limit = self.reach_mm - APART_MM
        return [
            frozenset(number for number, rest in enumerate(rests) if place.at.distance_mm(rest) <= limit)
            for place in self.piano.places
        ]

    @cached_property
    def kinds_of_demand(self) -> Counter[Demand]:
        """The different demands and how many figures make each."""
        return Counter((places, need) for places, need in self.demands if need <= self.count)

    def given(self, demand: Demand, chosen: list[int]) -> int:
        """How many of what a figure needs lie within reach of the best of its places."""
        places, need = demand
        return min(need, max((sum(rest in self.near[place] for rest in chosen) for place in places), default=0))

    def served(self, chosen: list[int]) -> tuple[int, int]:
        """How many figures have all they need, and how many implements figures have in reach, summed."""
        given = {demand: self.given(demand, chosen) for demand in self.kinds_of_demand}
        full = sum(number for demand, number in self.kinds_of_demand.items() if given[demand] == demand[1])
        return full, sum(number * given[demand] for demand, number in self.kinds_of_demand.items())

    def open(self, chosen: list[int]) -> list[Demand]:
        """The demands that are not served, those with fewest places first."""
        found = [demand for demand in self.kinds_of_demand if self.given(demand, chosen) < demand[1]]
        return sorted(found, key=lambda demand: (len(demand[0]), sorted(demand[0]), demand[1]))

    def gain(self, place: int, chosen: list[int]) -> float:
        """How much figures want one more at a place: more in the middle of theirs, half for each that lies there."""
        gain = 0.0
        for (places, need), number in self.kinds_of_demand.items():
            if place in places:
                weight = number * need * 0.5 ** sum(rest in places for rest in chosen)
                gain += weight / (1.0 + self._spread_mm(place, places) / 1000.0)
        return gain

    def _spread_mm(self, place: int, places: frozenset[int]) -> float:
        here = self.piano.places[place]
        return sum(self.piano.walk_mm(here, self.piano.places[other]) for other in places) / len(places)


def _cover(want: _Want) -> list[int]:
    """Places that serve every figure, or as many as a greedy choice does when no cover was found."""
    chosen: list[int] = []
    while len(chosen) < want.count and want.open(chosen):
        chosen.append(
            max(_all(want), key=lambda place: (*want.served([*chosen, place]), want.gain(place, chosen), -place))
        )
    return (_search(want, [], iter(range(STEPS_AT_MOST))) or chosen) if want.open(chosen) else chosen


def _search(want: _Want, chosen: list[int], steps: Iterator[int]) -> list[int] | None:
    """Try the places that help the most particular open demand, one after the other, as far as the implements go."""
    still_open = want.open(chosen)
    if not still_open:
        return chosen
    if len(chosen) == want.count or next(steps, None) is None:
        return None
    helping = frozenset[int]().union(*(want.near[place] for place in still_open[0][0]))
    for place in sorted(helping, key=lambda place: (-want.gain(place, chosen), place)):
        found = _search(want, [*chosen, place], steps)
        if found is not None:
            return found
    return None


def _spread(want: _Want, chosen: list[int]) -> list[int]:
    """Greedy: each further implement goes where it helps the figures that have fewest near them so far."""
    while len(chosen) < want.count:
        chosen = [*chosen, max(_all(want), key=lambda place: (want.gain(place, chosen), -place))]
    return chosen


def _all(want: _Want) -> range:
    return range(len(want.piano.places))


def _free_spot(piano: Piano, place: Place, taken: list[Point]) -> Point:
    """The first spot of a place's ledge that is not taken and fouls nothing; off the keys when none is free."""
    apart = [at for at in _ledge(piano, place, SPOTS_TRIED + len(taken)) if _is_apart(at, taken)]
    return next((at for at in apart if fouled(piano, at) is None), apart[0])


def _is_apart(at: Point, taken: list[Point]) -> bool:
    return all(at.distance_mm(other) >= APART_MM - 1.0 for other in taken)


def _ledge(piano: Piano, place: Place, count: int) -> list[Point]:
    """Where implements may lie at a place, the middle first; never on the keys."""
    heading = math.radians(place.heading_deg)
    ahead_mm = _ahead_mm(piano, place)
    asides = (APART_MM * ((number + 1) // 2) * (1 if number % 2 else -1) for number in range(2 * count))
    spots = (_spot(place, heading, ahead_mm, aside_mm) for aside_mm in asides)
    return [at for at in spots if not on_keys(piano, at)][:count]


def _ahead_mm(piano: Piano, place: Place) -> float:
    """From the body to the ledge; from in front of the keys, to the pin block behind them."""
    heading = math.radians(place.heading_deg)
    if not on_keys(piano, _spot(place, heading, LEDGE_MM, 0.0)) or math.sin(heading) < STEEP:
        return LEDGE_MM
    return (PIN_BLOCK_Y_MM - place.at.y_mm) / math.sin(heading)


def _spot(place: Place, heading: float, ahead_mm: float, aside_mm: float) -> Point:
    return Point(
        x_mm=round(place.at.x_mm + ahead_mm * math.cos(heading) - aside_mm * math.sin(heading), 1),
        y_mm=round(place.at.y_mm + ahead_mm * math.sin(heading) + aside_mm * math.cos(heading), 1),
    )
