"""H3 reach: every contact is in reach from the place, in the technique's window, under no strut or damper."""

from __future__ import annotations

from rimside.casting.draft import Draft

RULE, NAME = "H3", "reach"


def add(draft: Draft) -> None:
    """A player and a lane ask for a place in reach."""
    problem = draft.problem
    for task in draft.tasks:
        for player, given in draft.x[task.index].items():
            for lane, laid in draft.v[task.index].items():
                near = [place for place in draft.y[task.index] if problem.allows(task, player, lane, place)]
                if len(near) < len(draft.y[task.index]):
                    draft.model.clause([~given, ~laid, *draft.y_in(task, near)])
