"""H4 as the judge reads it: there is time to change."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from rimside.casting.judge.plan import (
    TIE_S,
    Breach,
    Plan,
    Stay,
    along_rim_mm,
    by_player,
    ceil_s,
    floor_s,
    in_words,
    overlap,
    tool_said,
)
from rimside.casting.result import Casting
from rimside.kit import Implement


def breaches(plan: Plan) -> Iterator[Breach]:
    """Changes without enough time."""
    for group in by_player(plan.stays):
        for f, g in combinations(group, 2):
            gap_s = g.start_s - f.end_s
            need_s = change_s(plan.casting, f, g)
            if not overlap(f, g) and need_s > gap_s + TIE_S:
                deeds = in_words(_deeds(f, g))
                message = f"{f.player.name} needs {ceil_s(need_s)} to {deeds}; {g.bar} leaves {floor_s(gap_s)}."
                yield Breach(rule="H4", message=message, figures=(*f.figures, *g.figures))


def change_s(casting: Casting, f: Stay, g: Stay) -> float:
    """Time from the end of one stay to the start of the next of one player."""
    times = casting.times
    need_s = times.settle_s
    if f.place.id != g.place.id:
        need_s += times.turn_s + along_rim_mm(casting, f.place, g.place) / times.walk_mm_per_s
    return need_s if _kept(f, g) else need_s + _longest_s(times.put_s, f.handled) + _longest_s(times.pick_s, g.handled)


def _kept(f: Stay, g: Stay) -> bool:
    """Whether both use implements and use the same."""
    return bool(f.handled) and {tool.id for tool in f.handled} == {tool.id for tool in g.handled}


def _longest_s(by_kind: Mapping[str, float], tools: Sequence[Implement]) -> float:
    return max((by_kind.get(tool.kind, 0.0) for tool in tools), default=0.0)


def _deeds(f: Stay, g: Stay) -> list[str]:
    deeds = [] if _kept(f, g) else [f"put down {tool_said(tool)}" for tool in f.handled]
    if f.place.id != g.place.id:
        deeds.append(f"walk to {g.place.id}")
    if not _kept(f, g):
        deeds += [f"pick up {tool_said(tool)}" for tool in g.handled]
    return [*deeds, "settle"]
