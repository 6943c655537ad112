"""H4: time to put down, walk, pick up and settle. Toy times: settle 0.2, turn 0.5, pick 1, put 0.5 s, 1000 mm/s."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.rules.h04_change import handling_s, need_s
from rimside.score.model import Figure, Technique
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import World, figure, toy_piano, toy_players

ALONE = toy_players(1)


def pair(second: Technique, gap_s: float, key: int = 40) -> World:
    """A pluck from 0 to 2 s, and another figure after a gap, for one player."""
    first = figure("A", Technique.FINGER_PLUCK, (40,), 0.0, 2.0)
    return world(first, figure("B", second, (key,), 2.0 + gap_s, 6.0 + gap_s), players=ALONE)


def hammer(name: str, start_s: float) -> Figure:
    """A felt hammer for two seconds."""
    return figure(name, Technique.FELT_HAMMER, (40,), start_s, start_s + 2.0)


def test_holds_with_time_to_spare() -> None:
    """Five seconds are enough to take up a line bow."""
    assert not solved(pair(Technique.LINE_BOW, 5.0), depth=1).uncast


def test_broken_no_time_to_pick_up() -> None:
    """Half a second is not, and H4 says so."""
    assert [entry.rule for entry in solved(pair(Technique.LINE_BOW, 0.5), depth=1).uncast] == ["H4"]


@pytest.mark.parametrize(("second", "need"), [(Technique.FINGER_PLUCK, 0.2), (Technique.LINE_BOW, 1.2)])
def test_edge_settling_and_picking_up_to_the_ms(second: Technique, need: float) -> None:
    """At one place a change takes 0.2 s bare-handed and 1.2 s with a bow to pick up; a ms less is too little."""
    assert not solved(pair(second, need), depth=1).uncast
    assert len(solved(pair(second, need - 0.001), depth=1).uncast) == 1


def test_edge_a_kept_hammer_saves_putting_down_and_picking_up() -> None:
    """The same hammer goes on after 0.2 s; 1 ms less is too little."""
    one = replace(world().kit, stock=tuple(replace(s, count=1) for s in world().kit.stock))
    enough = world(hammer("A", 0.0), hammer("B", 2.2), players=ALONE, kit=one)
    assert not solved(enough, depth=1).uncast
    assert len(solved(replace(enough, figures=(hammer("A", 0.0), hammer("B", 2.199))), depth=1).uncast) == 1


def test_a_walk_counts_turn_and_way() -> None:
    """From p17 to p18, 450 mm: 0.2 settle, 0.5 turn, 0.45 walk, and 0.5 + 1.0 for two tools unless kept."""
    problem = question(world(hammer("A", 0.0), figure("B", Technique.STICK_BOW, (40,), 9.0, 10.0)))
    first, second = problem.tasks
    assert need_s(problem, first, second, False, 17, 18) == pytest.approx(2.65)
    assert need_s(problem, first, second, True, 17, 18) == pytest.approx(1.15)
    assert need_s(problem, first, second, True, 17, 17) == pytest.approx(0.2)
    assert handling_s(first, second, False) == pytest.approx(1.5)


def test_edge_a_walk_to_the_ms() -> None:
    """Two places 450 mm apart, each in reach of one figure only: 1.15 s between the figures are enough, 1.149 not."""
    piano = toy_piano()
    piano = replace(piano, places=tuple(place for place in piano.places if place.id in ("p05", "p06")))
    short = toy_players(1, measured_reach_mm=(330.0, 330.0))
    spots = tuple(replace(spot, at=place.at) for spot, place in zip(piano.spots, piano.places, strict=True))
    piano, names = replace(piano, spots=spots), [spot.name for spot in piano.spots]
    uncast = []
    for gap_s in (1.15, 1.149):
        first = figure("A", Technique.BEATER, names[0], 0.0, 2.0)
        second = figure("B", Technique.BEATER, names[1], 2.0 + gap_s, 6.0)
        kit = world().kit
        quick = replace(kit.times, pick_s={"beater": 0.0}, put_s={"beater": 0.0})
        asked = world(first, second, piano=piano, players=short, kit=replace(kit, times=quick))
        uncast.append(len(solved(asked, depth=1).uncast))
    assert uncast == [0, 1]
