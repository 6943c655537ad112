"""H7: hands keep clear of each other, and one course carries one technique at a time."""

from __future__ import annotations

from dataclasses import replace

from rimside.casting.problem import clearance_mm
from rimside.casting.rules.h07_clear import share_string
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM, Stock
from rimside.piano.model import Point, Spot
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import World, figure, toy_kit, toy_piano, toy_players

SPOTS = "abc"


def row_of_spots(apart_mm: float, count: int, players: int) -> World:
    """Spots in a line along the frame, one beater figure on each, all at once."""
    spots = tuple(
        Spot(name=name, kind="frame", at=Point(x_mm=300.0 + apart_mm * number, y_mm=2300.0), height_mm=960.0)
        for number, name in enumerate(SPOTS[:count])
    )
    beats = [figure(name.upper(), Technique.BEATER, name, 0.0, 4.0) for name in SPOTS[:count]]
    kit = toy_kit((Stock(kind="beater", serves=frozenset({Technique.BEATER}), count=count),))
    return world(*beats, piano=toy_piano(spots=spots), kit=kit, players=toy_players(players))


def test_holds_far_apart() -> None:
    """Three spots 200 mm apart are played at once by two players."""
    assert not solved(row_of_spots(200.0, 3, 2), depth=1).uncast


def test_broken_two_techniques_on_one_course() -> None:
    """Of a pluck and a bow on one course at one time, one is uncast, and H7 says so."""
    pluck, bow = figure("A", Technique.FINGER_PLUCK, (40,), 0.0, 2.0), figure("B", Technique.LINE_BOW, (40,), 0.0, 2.0)
    casting = solved(world(pluck, bow), depth=1)
    assert [entry.rule for entry in casting.uncast] == ["H7"]
    assert share_string(*question(world(pluck, bow)).tasks)


def test_broken_two_techniques_on_one_spot() -> None:
    """One spot takes one beater at a time, and another one after it."""
    first = figure("A", Technique.BEATER, "frame, bass", 0.0, 2.0)
    at_once, after = (figure("B", Technique.BEATER, "frame, bass", start, 5.0) for start in (1.9, 2.2))
    assert len(solved(world(first, at_once), depth=1).uncast) == 1
    assert not solved(world(first, after), depth=1).uncast


def test_edge_two_hands_of_one_player() -> None:
    """One player's own hands work at `OWN_HANDS_CLEARANCE_MM`, and not 1 mm nearer."""
    assert not solved(row_of_spots(OWN_HANDS_CLEARANCE_MM, 2, 1), depth=1).uncast
    assert len(solved(row_of_spots(OWN_HANDS_CLEARANCE_MM - 1.0, 2, 1), depth=1).uncast) == 1


def test_edge_hands_of_two_players() -> None:
    """Three in a row need two players, who are neighbours somewhere: at `HAND_CLEARANCE_MM` they fit, 1 mm less not."""
    assert not solved(row_of_spots(HAND_CLEARANCE_MM, 3, 2), depth=1).uncast
    assert len(solved(row_of_spots(HAND_CLEARANCE_MM - 1.0, 3, 2), depth=1).uncast) == 1


def test_clearance_is_the_nearest_pair_of_contacts() -> None:
    """Keys 40 and 42 at the same distance from the near end are 28 mm apart on the toy piano."""
    plucks = [figure(name, Technique.FINGER_PLUCK, (key,), 0.0, 2.0) for name, key in (("A", 40), ("B", 42))]
    a, b = question(world(*plucks)).tasks
    along_mm = abs(a.lanes[0].mark_mm - b.lanes[0].mark_mm)
    assert abs(clearance_mm(a.lanes[0], b.lanes[0]) - (28.0**2 + along_mm**2) ** 0.5) < 1e-6


def test_edge_threads_of_one_weave_share_a_course() -> None:
    """Two players interlock on one course, with their hands apart; two figures that are no weave cannot."""
    threads = [figure(name, Technique.FINGER_PLUCK, (30,), 0.0, 4.0, times=4) for name in "AB"]
    woven = [replace(one, weave="A", thread=number, threads=2) for number, one in enumerate(threads, start=1)]
    casting = solved(world(*woven, players=toy_players(2)), depth=1)
    assert not casting.uncast
    (a,), (b,) = (cast.contacts for cast in casting.cast)
    assert abs((a.from_near_end_mm or 0.0) - (b.from_near_end_mm or 0.0)) >= OWN_HANDS_CLEARANCE_MM - 1e-3
    assert [entry.rule for entry in solved(world(*threads, players=toy_players(2)), depth=1).uncast] == ["H7"]
