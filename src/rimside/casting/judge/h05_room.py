"""H5 as the judge reads it: there is room for every body."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from rimside.casting.judge.plan import TIE_MM, Breach, Plan, along_rim_mm, overlap


def breaches(plan: Plan) -> Iterator[Breach]:
    """Bodies too close to each other."""
    settle_s = plan.times.settle_s
    for a, b in combinations(plan.stays, 2):
        if a.player.id == b.player.id or not overlap(a, b, settle_s):
            continue
        need_mm = (a.player.shoulder_breadth_mm + b.player.shoulder_breadth_mm) / 2.0
        apart_mm = min(a.place.at.distance_mm(b.place.at), along_rim_mm(plan.casting, a.place, b.place))
        if apart_mm < need_mm - TIE_MM:
            yield Breach(
                rule="H5",
                message=f"{a.player.name} at {a.place.id} for {a.name} and {b.player.name} at {b.place.id} for {b.name}"
                f" have {apart_mm:.1f} mm between them; their shoulders need {need_mm:.1f} mm.",
                figures=(*a.figures, *b.figures),
            )
