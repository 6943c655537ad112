"""H4 change: between two things there is time to put down, walk along the rim, pick up and settle."""

from __future__ import annotations

from rimside.casting.draft import Draft
from rimside.casting.problem import Problem, Task, gap_s
from rimside.casting.scale import fits

RULE, NAME = "H4", "time to change"


def handling_s(earlier: Task, later: Task, kept: bool) -> float:
    """Putting down and picking up between two figures, s."""
    return 0.0 if kept else earlier.put_s + later.pick_s


def need_s(problem: Problem, earlier: Task, later: Task, kept: bool, from_place: int, to_place: int) -> float:
    """The whole change, s."""
    counted_s = problem.settle_s + problem.walk_s[from_place][to_place] + handling_s(earlier, later, kept)
    return counted_s - problem.saved_s.get((earlier.index, later.index), 0.0)


def add(draft: Draft) -> None:
    """If one player has both figures, the second place is one that the gap allows."""
    for earlier, later in draft.in_sequence():
        if not draft.can_share_player(earlier, later):
            continue
        for kept in (False, True):
            _forbid_hurried(draft, earlier, later, kept)


def _forbid_hurried(draft: Draft, earlier: Task, later: Task, kept: bool) -> None:
    problem, gap = draft.problem, gap_s(earlier, later)
    if kept and not draft.may_keep(earlier, later):
        return
    longest = max(max(row) for row in problem.walk_s)
    if fits(gap, problem.settle_s + longest + handling_s(earlier, later, kept)):
        return
    excuse = draft.unless(earlier, later, kept)
    for place, literal in draft.y[earlier.index].items():
        near = [q for q in draft.y[later.index] if fits(gap, need_s(problem, earlier, later, kept, place, q))]
        if len(near) < len(draft.y[later.index]):
            draft.model.clause([*excuse, ~literal, *draft.y_in(later, near)])
