"""H12: a player is only given techniques that the player does."""

from __future__ import annotations

from rimside.casting.rules.h12_skill import able
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import solved, uncast_rules
from tests.casting.worlds import figure, toy_player

BOW = figure("A", Technique.LINE_BOW, (40,), 0.0, 2.0)
PLUCKER = toy_player(0, skills=frozenset({Technique.FINGER_PLUCK}))
BOWER = toy_player(1, skills=frozenset({Technique.LINE_BOW}))


def test_holds_whoever_does_it_gets_it() -> None:
    """Of a plucker and a bower the bower gets the bow."""
    assert [row.player for row in solved(world(BOW, players=(PLUCKER, BOWER)), depth=1).cast] == ["ben"]


def test_broken_nobody_does_it() -> None:
    """With the plucker alone the figure is barred by H12, and the reason names the technique."""
    casting = solved(world(BOW, players=(PLUCKER,)), depth=1)
    assert uncast_rules(casting) == [("A", "H12")]
    assert "line bow" in casting.uncast[0].reason


def test_edge_no_list_of_skills_means_all_and_an_empty_one_none() -> None:
    """`skills` None does everything, an empty set nothing."""
    assert able(BOW, (PLUCKER, toy_player(1), toy_player(2, skills=frozenset()))) == [1]
