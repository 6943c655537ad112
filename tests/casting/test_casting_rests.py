"""Where implements are laid: everyone who wants one has enough in reach, and none lies on the keys."""

from __future__ import annotations

from itertools import combinations_with_replacement
from random import Random

import pytest

from rimside.casting.rests import APART_MM, Demand, lay_rests
from rimside.kit import Implement
from rimside.piano.model import Piano, Point
from rimside.piano.resting import fouled
from rimside.piano.shipped import SHIPPED
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import solved
from tests.casting.worlds import TOY_STOCK, figure, toy_kit, toy_piano, toy_players
from tests.piano.example import piano as shipped_piano

REACH_MM = 900.0
BASS_SIDE, TREBLE_SIDE = frozenset({16, 17, 18}), frozenset({4, 5, 6})
"""Toy places on the two sides, by number."""


def in_reach(piano: Piano, demand: Demand, laid: list[Implement]) -> int:
    """How many implements are in reach from the best of a figure's places."""
    rests = [Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm) for tool in laid]
    places = [piano.places[number].at for number in demand[0]]
    return max(sum(place.distance_mm(rest) <= REACH_MM for rest in rests) for place in places)


def lay(piano: Piano, demands: list[Demand], count: int) -> list[Implement]:
    """The rests of one kind."""
    return lay_rests(piano, {"beater": demands}, {"beater": count}, REACH_MM)


@pytest.mark.parametrize("crowd", [1, 3, 10, 200])
def test_two_ends_get_one_each(crowd: int) -> None:
    """However many figures want a beater on the bass side, the one on the treble side has one in reach too."""
    demands: list[Demand] = [(BASS_SIDE, 1)] * crowd + [(TREBLE_SIDE, 1)]
    laid = lay(toy_piano(), demands, 2)
    assert len(laid) == 2
    assert all(in_reach(toy_piano(), demand, laid) >= 1 for demand in demands)


def test_two_hands_at_one_end_get_both() -> None:
    """A figure for two hands on the bass side gets two, and the third goes to the other side."""
    demands: list[Demand] = [(TREBLE_SIDE, 1), (BASS_SIDE, 2)]
    laid = lay(toy_piano(), demands, 3)
    assert [in_reach(toy_piano(), demand, laid) for demand in demands] == [1, 2]


def test_what_is_left_goes_where_more_want_it() -> None:
    """Of six, with nine figures on the bass side and one on the treble side, more lie on the bass side."""
    laid = lay(toy_piano(), [(BASS_SIDE, 1)] * 9 + [(TREBLE_SIDE, 1)], 6)
    bass = sum(tool.rest_x_mm < 600.0 for tool in laid)
    assert 3 < bass < 6


def arcs(seed: int, piano: Piano) -> list[Demand]:
    """A few random stretches of the rim, some for two implements."""
    rng, count = Random(seed), len(piano.places)
    found = []
    for _ in range(rng.randint(2, 5)):
        middle, width = rng.randrange(count), rng.randint(0, 1)
        places = frozenset((middle + step) % count for step in range(-width, width + 1))
        found.append((places, rng.choice((1, 1, 2))))
    return found


def could_serve(piano: Piano, demands: list[Demand], count: int) -> bool:
    """Whether any way to share `count` implements out among the places serves all, a hand's breadth to spare."""
    single = [
        lay_rests(piano, {"beater": [(frozenset({number}), 1)]}, {"beater": 1}, 0.0)[0]
        for number in range(len(piano.places))
    ]
    spots = [Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm) for tool in single]
    near = [
        {number for number, spot in enumerate(spots) if place.at.distance_mm(spot) <= REACH_MM - APART_MM}
        for place in piano.places
    ]
    return any(
        all(max(sum(rest in near[place] for rest in chosen) for place in places) >= need for places, need in demands)
        for chosen in combinations_with_replacement(range(len(spots)), count)
    )


# Authority: every way to share them out.
@pytest.mark.parametrize("seed", range(30))
def test_everyone_is_served_if_that_can_be(seed: int) -> None:
    """Two or three implements reach every figure whenever some way to lay them does."""
    piano = toy_piano()
    demands, count = arcs(seed, piano), 2 + seed % 2
    laid = lay(piano, demands, count)
    served = all(in_reach(piano, demand, laid) >= demand[1] for demand in demands)
    assert served or not could_serve(piano, demands, count)


def test_some_of_those_can_be_served_and_some_cannot() -> None:
    """The test above sees both."""
    piano = toy_piano()
    assert {could_serve(piano, arcs(seed, piano), 2 + seed % 2) for seed in range(30)} == {True, False}


@pytest.mark.parametrize("name", [*SHIPPED, "toy"])
@pytest.mark.parametrize("count", [1, 7])
def test_nothing_fouls_keys_strings_or_dampers(name: str, count: int) -> None:
    """From every place, also before the keyboard: beside the keyboard, or behind it over the pin block."""
    piano = toy_piano() if name == "toy" else shipped_piano(name)
    for number, place in enumerate(piano.places):
        for tool in lay(piano, [(frozenset({number}), 1)], count):
            at = Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm)
            assert fouled(piano, at) is None
            assert not (0.0 < at.x_mm < 1225.0 and at.y_mm < 160.0)
            if place.at_keyboard:
                assert at.x_mm < -40.0 or at.x_mm > 1265.0 or at.y_mm >= 180.0


def test_no_two_lie_in_one_spot() -> None:
    """Kinds that are laid at one place lie side by side, `APART_MM` apart but for rounding."""
    wanted: dict[str, list[Demand]] = {kind: [(BASS_SIDE, 1)] for kind in ("beater", "hammer", "stick")}
    laid = lay_rests(toy_piano(), wanted, dict.fromkeys(wanted, 4), REACH_MM)
    rests = [Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm) for tool in laid]
    assert len(rests) == 12
    assert min(a.distance_mm(b) for n, a in enumerate(rests) for b in rests[:n]) >= APART_MM - 1.0


def test_laying_is_the_same_every_time() -> None:
    """Twice the same question, the same rests, also with the demands in another order."""
    demands = arcs(3, toy_piano())
    assert lay(toy_piano(), demands, 4) == lay(toy_piano(), demands[::-1], 4)


def test_two_beaters_at_two_ends_are_played() -> None:
    """Many beats at the tail and one at the treble end: two beaters, and nothing stays uncast."""
    tail = [figure(f"T{n}", Technique.BEATER, "frame, bass", 6.0 * n, 6.0 * n + 1.0) for n in range(5)]
    treble = figure("E", Technique.BEATER, "rim, treble", 0.0, 1.0)
    stock = tuple(item for item in TOY_STOCK if item.kind == "beater")
    where = world(*tail, treble, players=toy_players(2), kit=toy_kit(stock))
    assert not solved(where, depth=1).uncast
