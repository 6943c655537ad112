"""H1 whole: each figure has exactly one player for its whole length, one place, one lane, or is uncast; a chore is done
once at most."""

from __future__ import annotations

from rimside.casting.draft import Draft

RULE, NAME = "H1", "whole figures"


def add(draft: Draft) -> None:
    """One player, one place and one lane for each cast figure; none of them for an uncast one."""
    for task in draft.tasks:
        uncast = draft.u[task.index]
        for family in (draft.x, draft.y, draft.v):
            draft.model.equal([(1, literal) for literal in family[task.index].values()] + [(1, uncast)], 1)
    for unit in draft.units():
        if len(unit) > 1:
            draft.model.at_most([(-1, draft.u[index]) for index in unit], 1 - len(unit))
