"""From figures, piano, people and kit to the question."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.options import build_problem
from rimside.casting.problem import Task
from rimside.errors import BadInput
from rimside.kit import OWN_HANDS_CLEARANCE_MM
from rimside.piano.access import open_windows
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Technique, Touch
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.worlds import TOY_STOCK, World, figure, held, toy_kit, toy_piano, toy_players

PLUCK = Technique.FINGER_PLUCK


def task(what: Figure) -> Task:
    """The task of one figure in the toy world."""
    return question(world(what)).tasks[0]


@pytest.mark.parametrize("lacks", ["players", "places"])
def test_without_people_or_places_there_is_no_question(lacks: str) -> None:
    """An empty ensemble, or a piano with no place to stand, is bad input and says so."""
    piano = toy_piano(places=()) if lacks == "places" else toy_piano()
    players = () if lacks == "players" else toy_players(2)
    with pytest.raises(BadInput, match="nobody"):
        build_problem((), piano, players, toy_kit(), held())


def test_tasks_stand_in_order_of_start() -> None:
    """Tasks are numbered by start, then end, then id, however the figures come."""
    spans = {"A": (4.0, 5.0), "B": (0.0, 9.0), "C": (0.0, 2.0), "D": (4.0, 5.0)}
    asked = question(world(*(figure(name, PLUCK, (40,), *span) for name, span in spans.items())))
    assert [t.work.id for t in asked.tasks] == ["C", "B", "A", "D"]
    assert [t.index for t in asked.tasks] == [0, 1, 2, 3]


@pytest.mark.parametrize("technique", [PLUCK, Technique.FELT_HAMMER, Technique.LINE_BOW])
def test_lanes_lie_in_open_windows(technique: Technique) -> None:
    """Every contact is on its course, inside an open window of its technique; lanes differ."""
    piano, row = toy_piano(), toy_kit().rows[technique]
    lanes = task(figure("A", technique, (40,), 0.0, 2.0)).lanes
    marks = [lane.mark_mm for lane in lanes]
    assert len(set(marks)) == len(marks) >= 2
    for mark in marks:
        assert any(gap.from_mm - 0.001 <= mark <= gap.to_mm + 0.001 for gap in open_windows(piano, Key(40), row.window))


def test_distances_are_of_the_farthest_contact_rounded_up() -> None:
    """By hand, for every place and lane of a two-course pluck."""
    asked = question(world(figure("A", Technique.KEYS, (40, 50), 0.0, 2.0)))
    (only,) = asked.tasks
    (lane,) = only.lanes
    for place, far_mm in zip(asked.piano.places, lane.distance_mm, strict=True):
        true_mm = max(((c.x_mm - place.at.x_mm) ** 2 + (c.y_mm - place.at.y_mm) ** 2) ** 0.5 for c in lane.contacts)
        assert true_mm - 0.01 <= far_mm < true_mm + 1.0


def test_keys_are_played_at_the_keyboard_on_the_keys() -> None:
    """A figure on keys has only places at the keyboard and touches no string."""
    only = task(figure("A", Technique.KEYS, (40,), 0.0, 2.0))
    assert set(only.places) == {n for n, p in enumerate(toy_piano().places) if p.at_keyboard}
    assert [(c.y_mm, c.from_near_end_mm) for c in only.lanes[0].contacts] == [(50.0, None)]


@pytest.mark.parametrize("changes", [{"touch": Touch(k=1, n=2)}, {"mute": Mute.FINGER}])
def test_the_second_hand_keeps_clear_of_the_first(changes: dict[str, object]) -> None:
    """A finger at a node or on the string is at least `OWN_HANDS_CLEARANCE_MM` from where the string is plucked."""
    only = task(replace(figure("A", PLUCK, (30,), 0.0, 2.0), **changes))  # type: ignore[arg-type]
    assert only.hands == 2
    for lane in only.lanes:
        played, finger = (contact.from_near_end_mm or 0.0 for contact in lane.contacts)
        assert abs(played - finger) >= OWN_HANDS_CLEARANCE_MM
    if "touch" in changes:
        assert lane.contacts[1].from_near_end_mm == pytest.approx(toy_piano().course(Key(30)).length_mm / 2)


def test_the_kind_is_the_first_in_the_kit_that_serves() -> None:
    """Of two kinds that play a technique the first in stock counts, also when an earlier one has run out."""
    kinds = [replace(item, kind=f"stick {n}") for n in range(3) for item in TOY_STOCK if item.kind == "stick"]
    kinds[0] = replace(kinds[0], count=0)
    asked = question(world(figure("A", Technique.STICK_BOW, (40,), 0.0, 2.0), kit=toy_kit(tuple(kinds))))
    assert asked.tasks[0].kind == "stick 1"


def test_essential_figures_weigh_a_thousand() -> None:
    """Weight 1000 or 1."""
    assert [task(figure("A", PLUCK, (40,), 0.0, 1.0, essential=e)).weight for e in (True, False)] == [1000, 1]


def test_things_to_remember() -> None:
    """A bow of a pitch is a thing of its own, a hammer is its kind, bare hands are nothing; the motif always counts."""
    things = {
        t: task(figure("A", t, (40,), 0.0, 1.0, motif="m")).things
        for t in (Technique.LINE_BOW, Technique.FELT_HAMMER, PLUCK)
    }
    assert things[Technique.LINE_BOW] == {"tool line 40", "motif m"}
    assert things[Technique.FELT_HAMMER] == {"tool hammer", "motif m"}
    assert things[PLUCK] == {"motif m"}


def test_walks_are_turn_and_way() -> None:
    """450 mm at 1000 mm/s after half a second of turning; none from a place to itself; the same both ways."""
    asked: World = world(figure("A", PLUCK, (40,), 0.0, 1.0))
    walk_s = question(asked).walk_s
    assert walk_s[17][18] == pytest.approx(0.95)
    assert walk_s[17][17] == 0.0
    assert walk_s[3][17] == walk_s[17][3]
