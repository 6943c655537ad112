"""H7 as the judge reads it: hands keep clear of each other."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from rimside.casting.judge.plan import TIE_MM, Breach, Plan, Stay, Task, figure_stays, overlap, point_of, task_pairs
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM
from rimside.pitch import label


def breaches(plan: Plan) -> Iterator[Breach]:
    """Hands in the way of each other."""
    for a, b in task_pairs(plan.tasks):
        yield from _one_at_a_course(a, b)
    for one, other in combinations(plan.stays, 2):
        if overlap(one, other):
            yield from _apart(one, other)


def _apart(a: Stay, b: Stay) -> Iterator[Breach]:
    """Contacts of two figures or chores at the same time keep their distance."""
    one = a.player.id == b.player.id
    need_mm = OWN_HANDS_CLEARANCE_MM if one else HAND_CLEARANCE_MM
    apart_mm = min((point_of(p).distance_mm(point_of(q)) for p in a.contacts for q in b.contacts), default=math.inf)
    if apart_mm < need_mm - TIE_MM:
        whose = f"{a.player.name}'s own hands" if one else f"{a.player.name}'s and {b.player.name}'s hands"
        yield _h7(f"{whose} need {need_mm:g} mm between them and have {apart_mm:.1f} mm", a, b)


def _one_at_a_course(a: Task, b: Task) -> Iterator[Breach]:
    woven = bool(a.figure.weave) and a.figure.weave == b.figure.weave
    if not woven and (shared := sorted(set(a.figure.keys) & set(b.figure.keys))):
        yield _h7(f"{' '.join(label(key) for key in shared)} would be played twice at once", *figure_stays((a, b)))
    if a.figure.spot is not None and a.figure.spot == b.figure.spot:
        yield _h7(f"{a.figure.spot} would be played twice at once", *figure_stays((a, b)))


def _h7(what: str, a: Stay, b: Stay) -> Breach:
    return Breach(rule="H7", message=f"{what}: {a.name} and {b.name}.", figures=(*a.figures, *b.figures))
