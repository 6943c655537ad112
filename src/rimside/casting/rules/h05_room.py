"""H5 room: two players never stand closer than their shoulders allow."""

from __future__ import annotations

from rimside.casting.draft import Draft
from rimside.casting.problem import Problem, Task
from rimside.casting.scale import TIE_MM, TIE_S

RULE, NAME = "H5", "room to stand"


def stand_together(a: Task, b: Task, settle_s: float) -> bool:
    """Whether the two figures' players stand at the rim at one time: from settling to the end."""
    return a.start_s - settle_s < b.end_s - TIE_S and b.start_s - settle_s < a.end_s - TIE_S


def too_close(problem: Problem, player: int, other: int, place: int, other_place: int) -> bool:
    """Whether two players cannot stand at two places at once."""
    half = (problem.breadth_mm[player] + problem.breadth_mm[other]) / 2
    return problem.apart_mm[place][other_place] < half - TIE_MM


def add(draft: Draft) -> None:
    """Figures whose players stand at one time are given to one player or to places far enough apart."""
    problem = draft.problem
    breadths = sorted(problem.breadth_mm)
    surely = sum(breadths[:2]) / 2 - TIE_MM
    maybe = sum(breadths[-2:]) / 2 - TIE_MM
    for a, b in draft.neighbours():
        if stand_together(a, b, problem.settle_s):
            _keep_apart(draft, a, b, surely, maybe)


def _keep_apart(draft: Draft, a: Task, b: Task, surely: float, maybe: float) -> None:
    apart = draft.problem.apart_mm
    same = [draft.same(a, b)] if draft.can_share_player(a, b) else []
    for place, literal in draft.y[a.index].items():
        for other, other_literal in draft.y[b.index].items():
            if apart[place][other] < surely:
                draft.model.clause([*same, ~literal, ~other_literal])
            elif apart[place][other] < maybe:
                _keep_broad_apart(draft, a, b, place, other, same)


def _keep_broad_apart(draft: Draft, a: Task, b: Task, place: int, other: int, same: list[int]) -> None:
    """Some pairs of players fit at these places and some do not: tell them by breadth."""
    problem = draft.problem
    for player, given in draft.x[a.index].items():
        limit = 2 * (problem.apart_mm[place][other] + TIE_MM) - problem.breadth_mm[player]
        broad = draft.broader_than(b, limit)
        if broad is not None:
            draft.model.clause([*same, ~draft.y[a.index][place], ~draft.y[b.index][other], ~given, ~broad])
