"""H3: contacts in reach from the place; a full lean not for long."""

from __future__ import annotations

from rimside.casting.draft import Draft
from rimside.casting.rules import h01_whole, h03_reach
from rimside.casting.solve import Status, solve
from rimside.people import LEAN_LIMIT_S
from rimside.score.model import Figure, Technique
from tests.casting.judging import world
from tests.casting.solving import question, solved, uncast_rules
from tests.casting.worlds import figure, toy_players


def pluck(length_s: float = 2.0) -> Figure:
    """A pluck in the middle of the piano."""
    return figure("A", Technique.FINGER_PLUCK, (50,), 0.0, length_s)


def nearest_mm() -> int:
    """How far the nearest place of the toy piano is from the nearest lane of the pluck."""
    task = question(world(pluck(), players=toy_players(1, measured_reach_mm=(5000.0, 5000.0)))).tasks[0]
    return min(distance for lane in task.lanes for distance in lane.distance_mm)


def uncast(comfortable_mm: float, full_mm: float, length_s: float = 2.0) -> list[tuple[str, str]]:
    """What one player of this reach leaves uncast of the pluck."""
    players = toy_players(1, measured_reach_mm=(comfortable_mm, full_mm))
    return list(uncast_rules(solved(world(pluck(length_s), players=players), depth=1)))


def test_holds_in_comfortable_reach() -> None:
    """A player of 1700 mm reaches the middle of the piano."""
    assert not solved(world(pluck()), depth=1).uncast


def test_broken_out_of_reach() -> None:
    """With arms of 100 mm nothing is in reach, and H3 says so."""
    assert uncast(100.0, 100.0) == [("A", "H3")]


def test_edge_the_last_mm() -> None:
    """Reach as long as the distance from the nearest place is enough, 1 mm less is not."""
    limit = float(nearest_mm())
    assert uncast(limit, limit) == []
    assert uncast(limit - 1.0, limit - 1.0) == [("A", "H3")]


def test_edge_a_full_lean_lasts_a_minute_at_most() -> None:
    """What is only in full reach is cast for `LEAN_LIMIT_S`, and not for a moment longer."""
    limit = float(nearest_mm())
    assert uncast(limit - 1.0, limit, LEAN_LIMIT_S) == []
    assert uncast(limit - 1.0, limit, LEAN_LIMIT_S + 0.01) == [("A", "H3")]


def test_broken_the_model_forbids_a_place_that_one_of_two_players_cannot_use() -> None:
    """The short-armed of two players at a place that only the other reaches from: no answer."""
    problem = question(world(pluck()))
    short = question(world(pluck(), players=(toy_players(1, measured_reach_mm=(800.0, 800.0)) + toy_players(2)[1:])))
    far = next(q for q in short.tasks[0].places if all(lane.distance_mm[q] > 800 for lane in problem.tasks[0].lanes))
    draft = Draft(short, [0])
    for rule in (h01_whole, h03_reach):
        rule.add(draft)
    draft.model.fix(draft.y[0][far], 1)
    assert 0 in draft.x[0], "the short player reaches it from some place"
    draft.model.fix(draft.x[0][0], 1)
    assert solve(draft.model, effort=1.0, seconds=5.0).status is Status.IMPOSSIBLE
