"""H5: two players never stand closer than their shoulders allow."""

from __future__ import annotations

from dataclasses import replace

from rimside.casting.rules.h05_room import stand_together, too_close
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import World, figure, toy_piano, toy_players


def side_by_side(*breadths_mm: float, second_start_s: float = 0.0) -> World:
    """Two bows for two players at the only two places, 450 mm apart."""
    piano = toy_piano()
    piano = replace(piano, places=tuple(place for place in piano.places if place.id in ("p05", "p06")))
    players = toy_players(2, measured_reach_mm=(5000.0, 5000.0))
    players = tuple(replace(p, measured_breadth_mm=mm) for p, mm in zip(players, breadths_mm, strict=True))
    bows = (
        figure("A", Technique.LINE_BOW, (30,), 0.0, 4.0),
        figure("B", Technique.LINE_BOW, (50,), second_start_s, second_start_s + 4.0),
    )
    return world(*bows, piano=piano, players=players)


def test_holds_slim_players_side_by_side() -> None:
    """Two players of 300 mm stand 450 mm apart."""
    assert not solved(side_by_side(300.0, 300.0), depth=1).uncast


def test_broken_broad_players_do_not_fit() -> None:
    """Two of 600 mm do not, and H5 says so."""
    assert [entry.rule for entry in solved(side_by_side(600.0, 600.0), depth=1).uncast] == ["H5"]


def test_edge_half_the_sum_of_the_shoulders() -> None:
    """400 and 500 mm make 450 mm, which fits; 2 mm more on one of them do not."""
    assert not solved(side_by_side(400.0, 500.0), depth=1).uncast
    assert len(solved(side_by_side(402.0, 500.0), depth=1).uncast) == 1


def test_edge_a_player_comes_as_the_other_goes() -> None:
    """Settling takes 0.2 s: whoever begins 0.2 s after the other's end finds the place free, and not 1 ms sooner."""
    for start_s, together in ((4.2, False), (4.199, True)):
        problem = question(side_by_side(600.0, 600.0, second_start_s=start_s))
        first, second = problem.tasks
        assert stand_together(first, second, problem.settle_s) is together


def test_distance_is_the_smaller_of_straight_and_along_the_rim() -> None:
    """At one place two players are always too close."""
    problem = question(side_by_side(300.0, 300.0))
    assert too_close(problem, 0, 1, 0, 0)
    assert not too_close(problem, 0, 1, 0, 1)
