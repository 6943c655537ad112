"""Where implements that belong to no one pitch live: on the ledge inside the rim, near where they are wanted."""

from __future__ import annotations

import math
from collections.abc import Mapping

from rimside.kit import Implement
from rimside.piano.model import Piano, Place

LEDGE_MM = 230.0
"""From the body's centre line to the ledge inside the rim. Our assumption; a survey may give better rests later."""
APART_MM = 45.0
"""Between two rests at one place."""


def lay_rests(piano: Piano, wanted: Mapping[str, list[frozenset[int]]], counts: Mapping[str, int]) -> list[Implement]:
    """Spread the implements of each kind over the rim so that every figure that wants one has some within reach.

    Parameters
    ----------
    wanted : for each kind, for each figure that wants it (repeated as often as it needs one), the indices of the
        places from which it can be played.
    counts : how many of each kind the kit holds.
    """
    laid: list[Implement] = []
    taken: dict[int, int] = {}
    for kind in sorted(wanted):
        for number, place in enumerate(_spread(piano.places, wanted[kind], counts[kind], piano), start=1):
            x_mm, y_mm = _ledge(piano.places[place], taken.get(place, 0))
            taken[place] = taken.get(place, 0) + 1
            laid.append(Implement(id=f"{kind} {number}", kind=kind, rest_x_mm=x_mm, rest_y_mm=y_mm))
    return laid


def _spread(places: tuple[Place, ...], demands: list[frozenset[int]], count: int, piano: Piano) -> list[int]:
    """Greedy: each next implement goes where it helps the figures that have fewest near them so far."""
    chosen: list[int] = []
    weights = [1.0] * len(demands)
    for _ in range(count):
        best = max(range(len(places)), key=lambda place: (_gain(place, demands, weights, piano), -place))
        chosen.append(best)
        weights = [w * (0.5 if best in d else 1.0) for w, d in zip(weights, demands, strict=True)]
    return sorted(chosen)


def _gain(place: int, demands: list[frozenset[int]], weights: list[float], piano: Piano) -> float:
    """How much the figures want an implement at a place: more when the place is in the middle of theirs."""
    here, gain = piano.places[place], 0.0
    for demand, weight in zip(demands, weights, strict=True):
        if place in demand:
            spread_mm = sum(piano.walk_mm(here, piano.places[other]) for other in demand) / len(demand)
            gain += weight / (1.0 + spread_mm / 1000.0)
    return gain


def _ledge(place: Place, already: int) -> tuple[float, float]:
    heading = math.radians(place.heading_deg)
    aside = APART_MM * ((already + 1) // 2) * (1 if already % 2 else -1)
    return (
        round(place.at.x_mm + LEDGE_MM * math.cos(heading) - aside * math.sin(heading), 1),
        round(place.at.y_mm + LEDGE_MM * math.sin(heading) + aside * math.cos(heading), 1),
    )
