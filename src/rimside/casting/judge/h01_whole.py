"""H1 as the judge reads it: every figure is played whole, once, or listed with a reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rimside.casting.judge.plan import Breach, Plan, named
from rimside.score.model import Figure


def breaches(plan: Plan) -> Iterator[Breach]:
    """Figures that are missing, double, or left out without a reason."""
    cast = Counter(row.figure for row in plan.casting.cast)
    uncast = Counter(row.figure for row in plan.casting.uncast)
    for figure in plan.casting.figures:
        given, left = cast[figure.id], uncast[figure.id]
        if given + left == 0:
            yield _h1(figure, "nobody plays it, and it is not listed as uncast")
        elif given > 1:
            yield _h1(figure, f"it is given {given} times")
        elif given and left:
            yield _h1(figure, "it is given to a player and listed as uncast")
        elif left > 1:
            yield _h1(figure, f"it is listed as uncast {left} times")
    for row in plan.casting.uncast:
        if not (row.rule.strip() and row.reason.strip()):
            yield Breach(rule="H1", message=f"{row.figure} is uncast without a reason.", figures=(row.figure,))


def _h1(figure: Figure, what: str) -> Breach:
    return Breach(rule="H1", message=f"{named(figure)}: {what}.", figures=(figure.id,))
