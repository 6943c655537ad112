"""H7 clear strings: hands keep their clearance, and one course carries one technique at a time."""

from __future__ import annotations

from rimside.casting.draft import Draft
from rimside.casting.problem import Task
from rimside.casting.scale import TIE_MM
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM
from rimside.score.model import Figure

RULE, NAME = "H7", "clear strings"


def share_string(a: Task, b: Task) -> bool:
    """Whether two figures or chores want the same course or the same spot; threads of one weave may share a course."""
    if isinstance(a.work, Figure) and isinstance(b.work, Figure) and a.work.weave and a.work.weave == b.work.weave:
        return a.spot is not None
    return not set(a.work.keys).isdisjoint(b.work.keys) or (a.spot is not None and a.spot == b.spot)


def add(draft: Draft) -> None:
    """Of two overlapping figures on one string at most one is cast; lanes of others keep apart."""
    for a, b in draft.overlapping():
        if share_string(a, b):
            draft.model.clause([draft.u[a.index], draft.u[b.index]])
        else:
            _keep_clear(draft, a, b)


def _keep_clear(draft: Draft, a: Task, b: Task) -> None:
    for lane, laid in draft.v[a.index].items():
        for other, other_laid in draft.v[b.index].items():
            clear = draft.clearance_mm(a, lane, b, other)
            if clear < OWN_HANDS_CLEARANCE_MM - TIE_MM:
                draft.model.clause([~laid, ~other_laid])
            elif clear < HAND_CLEARANCE_MM - TIE_MM:
                same = [draft.same(a, b)] if draft.can_share_player(a, b) else []
                draft.model.clause([*same, ~laid, ~other_laid])
