"""H1: a figure has one player, one place and one lane, or is uncast."""

from __future__ import annotations

from rimside.casting.draft import Draft
from rimside.casting.rules import h01_whole
from rimside.casting.solve import Status, solve
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import figure

PLUCK = figure("A", Technique.FINGER_PLUCK, (40,), 0.0, 2.0)


def ruled() -> Draft:
    """A draft of one figure under this rule alone."""
    draft = Draft(question(world(PLUCK)), [0])
    h01_whole.add(draft)
    return draft


def status(draft: Draft) -> Status:
    """What the solver says about the draft as it stands."""
    return solve(draft.model, effort=1.0, seconds=5.0).status


def test_holds_each_figure_has_one_row() -> None:
    """Three figures get one row each and nothing is uncast."""
    figures = [
        figure(name, Technique.FINGER_PLUCK, (key,), 0.0, 2.0) for name, key in (("A", 30), ("B", 40), ("C", 50))
    ]
    casting = solved(world(*figures), depth=1)
    assert sorted(row.figure for row in casting.cast) == ["A", "B", "C"]
    assert casting.uncast == ()


def test_broken_two_players_for_one_figure_are_impossible() -> None:
    """A draft that gives one figure to both players has no answer."""
    draft = ruled()
    for literal in draft.x[0].values():
        draft.model.fix(literal, 1)
    assert status(draft) is Status.IMPOSSIBLE


def test_edge_an_uncast_figure_has_nobody() -> None:
    """Uncast alone is an answer; uncast and a player, a place or a lane is none."""
    draft = ruled()
    draft.model.fix(draft.u[0], 1)
    assert status(draft) is Status.BEST
    for family in (draft.x, draft.y, draft.v):
        again = ruled()
        again.model.fix(again.u[0], 1)
        again.model.fix(next(iter(family[0].values())), 1)
        assert status(again) is Status.IMPOSSIBLE
