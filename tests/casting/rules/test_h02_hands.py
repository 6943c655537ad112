"""H2: no more than two hands a player, all from one place."""

from __future__ import annotations

from typing import Any

import pytest

from rimside.casting.rules.h02_hands import base_hands, sounding_at_start
from rimside.score.model import Figure, Mute, Technique, Touch
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import figure, toy_kit, toy_players

ALONE = toy_players(1)


def pluck(name: str, key: int, start_s: float = 0.0, end_s: float = 2.0, **changes: Any) -> Figure:
    """A pluck with one hand."""
    return figure(name, Technique.FINGER_PLUCK, (key,), start_s, end_s, **changes)


@pytest.mark.parametrize(
    ("changes", "hands"),
    [({}, 1), ({"touch": Touch(k=1, n=2)}, 2), ({"mute": Mute.FINGER}, 2), ({"mute": Mute.MOULDED}, 1)],
)
def test_fingers_at_nodes_and_on_strings_cost_a_hand(changes: dict[str, Any], hands: int) -> None:
    """A touch or a finger mute adds one hand to a pluck; a moulded mute none."""
    what, kit = pluck("A", 40, **changes), toy_kit()
    assert base_hands(what, kit.rows[what.technique], kit) == hands


def test_holds_one_player_has_two_hands() -> None:
    """Two plucks at once 56 mm apart are played by the only player, from one place, with different hands."""
    first, second = solved(world(pluck("A", 40), pluck("B", 44), players=ALONE), depth=1).cast
    assert first.place == second.place
    assert {*first.hands, *second.hands} == {"left", "right"}


def test_broken_a_third_hand_is_not_there() -> None:
    """Of a line bow with two hands and a pluck at one moment, one is uncast, and H2 says why."""
    bow = figure("A", Technique.LINE_BOW, (40,), 0.0, 2.0)
    casting = solved(world(bow, pluck("B", 48), players=ALONE), depth=1)
    assert [entry.rule for entry in casting.uncast] == ["H2"]


def test_edge_three_plucks_where_only_two_meet() -> None:
    """The third hand is lacking when all three overlap, and not when the first ends as the third begins."""
    keys = (("A", 40, 0.0, 2.0), ("B", 44, 1.0, 5.0))
    two = [pluck(*row) for row in keys]
    assert len(solved(world(*two, pluck("C", 48, 1.9, 5.0), players=ALONE), depth=1).uncast) == 1
    later = question(world(*two, pluck("C", 48, 2.0, 5.0), players=ALONE))
    assert [t.work.id for t in sounding_at_start(later.tasks[2], list(later.tasks))] == ["B", "C"]


def test_edge_one_hand_on_a_line_makes_room_for_two_lines() -> None:
    """Where a line is drawn with one hand, one player bows two at once; with two hands one of them is uncast."""
    bows = [figure(name, Technique.LINE_BOW, (key,), 0.0, 2.0) for name, key in (("A", 40), ("B", 46))]
    assert not solved(world(*bows, players=ALONE, kit=toy_kit(line_bow_hands=1)), depth=1).uncast
    assert len(solved(world(*bows, players=ALONE), depth=1).uncast) == 1
