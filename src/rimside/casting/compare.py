"""One piano beside another: what a piece needs, and what it finds there. No search: each figure by itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from rimside.casting.problem import Problem, Task
from rimside.casting.question import Question
from rimside.casting.rules import h11_permission
from rimside.kit import COMMON_PRACTICE, PERMISSIONS
from rimside.piano.model import Course, Piano
from rimside.piano.resting import nearest_hang
from rimside.pitch import Key, label
from rimside.score.model import Figure, Mute

FEW = 2
"""Fewer people than this for a figure, or fewer by half than here, are worth a word."""


class Weight(StrEnum):
    """How much a difference matters, weightiest first."""

    CANNOT = "cannot be played there"
    ONLY_THERE = "cannot be played here, but there"
    OTHERWISE = "has to be done otherwise"
    STILL = "differs, and still works"


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One way in which the other piano differs for this piece: in words, and for which figures.

    `here` and `there` are how the two pianos are, `source` is where that is known from.
    """

    weight: Weight
    what: str
    here: str
    there: str
    figures: tuple[str, ...] = ()
    source: str = "the two surveys"


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A piece on two pianos: the differences, weightiest first, and the keys and spots that the piece uses."""

    here: Piano
    there: Piano
    differences: tuple[Difference, ...]
    keys: tuple[Key, ...]
    spots: tuple[str, ...]

    @property
    def cannot(self) -> bool:
        """Whether something that can be played here cannot be played there."""
        return any(one.weight is Weight.CANNOT for one in self.differences)

    def of(self, weight: Weight) -> tuple[Difference, ...]:
        """The differences of one weight."""
        return tuple(one for one in self.differences if one.weight is weight)


def compare(here: Question, there: Question) -> Comparison:
    """Set one piano beside another for the same piece, people and kit.

    A figure that "cannot be played" has no single option by itself: whatever else is left out, nobody can do it.
    """
    pair = _Pair(here=here, there=there, problem=here.plain(), other=there.plain())
    rows = [row for look in _LOOKS for row in look(pair)]
    order = {weight: number for number, weight in enumerate(Weight)}
    figures = [*here.figures, *there.figures]
    return Comparison(
        here=here.piano,
        there=there.piano,
        differences=tuple(sorted(rows, key=lambda row: order[row.weight])),
        keys=tuple(sorted({key for figure in figures for key in figure.keys})),
        spots=tuple(sorted({figure.spot for figure in figures if figure.spot is not None})),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    here: Question
    there: Question
    problem: Problem
    other: Problem

    def both(self) -> Iterator[tuple[Task, Task]]:
        """Each figure on both pianos, by its id."""
        there = {task.work.id: task for task in self.other.tasks if task.figure is not None}
        for task in self.problem.tasks:
            if task.figure is not None and task.work.id in there:
                yield task, there[task.work.id]

    def figures_on(self, keys: Mapping[Key, object]) -> tuple[str, ...]:
        """The figures that use one of these courses."""
        return tuple(figure.id for figure in self.here.figures if not keys.keys().isdisjoint(figure.keys))

    def played_keys(self) -> list[Key]:
        """The courses that both pianos have and the piece uses, ascending."""
        used = {key for figure in self.here.figures for key in figure.keys}
        there = {course.key for course in self.there.piano.courses}
        return sorted(used & there & {course.key for course in self.here.piano.courses})


def _barred(pair: _Pair) -> Iterator[Difference]:
    """Figures that have no option on one of the two."""
    for weight, turned in ((Weight.CANNOT, False), (Weight.ONLY_THERE, True)):
        groups: dict[str, list[str]] = defaultdict(list)
        for a, b in pair.both():
            free, stuck = (b, a) if turned else (a, b)
            if stuck.barred is not None and free.barred is None:
                groups[f"{stuck.barred[0]}: {stuck.barred[1]}"].append(stuck.work.id)
        for reason, figures in groups.items():
            here, there = ("not at all", "possible") if turned else ("possible", "not at all")
            yield Difference(weight=weight, what=reason, here=here, there=there, figures=tuple(figures),
                             source="every option of the figure by itself")  # fmt: skip


def _other_tools(pair: _Pair) -> Iterator[Difference]:
    """Techniques that stand in on one piano, and nodes that move."""
    there = {figure.id: figure for figure in pair.there.figures}
    for figure in pair.here.figures:
        other = there.get(figure.id, figure)
        if other.technique is not figure.technique:
            yield Difference(
                weight=Weight.OTHERWISE, what="another technique stands in", here=figure.technique.value,
                there=other.technique.value, figures=(figure.id,), source="techniques.toml, instead",
            )  # fmt: skip
        if figure.touch is not None and other.touch is not None and other.touch != figure.touch:
            yield Difference(
                weight=Weight.OTHERWISE, what="the partial is touched at another node", here=_node(figure),
                there=_node(other), figures=(figure.id,),
            )  # fmt: skip


def _node(figure: Figure) -> str:
    return "" if figure.touch is None else f"{figure.touch.k}/{figure.touch.n}"


def _pedals(pair: _Pair) -> Iterator[Difference]:
    """Pedals that one has and the other has not; whether this piece uses them tells the pedal plan."""
    a, b = pair.here.piano, pair.there.piano
    used = {span.pedal for span in pair.problem.pedals}
    for pedal in sorted(a.pedals ^ b.pedals):
        mine = pedal in a.pedals
        weight = Weight.OTHERWISE if mine and pedal in used else Weight.STILL
        yield Difference(weight=weight, what=f"{pedal.value} pedal", here="there" if mine else "none",
                         there="none" if mine else "there", source="the two surveys, and the pedal plan")  # fmt: skip


def _permissions(pair: _Pair) -> Iterator[Difference]:
    """What one owner allows and the other does not, as far as the piece asks for it."""
    a, b = pair.here.piano.permissions.allowed, pair.there.piano.permissions.allowed
    rows = pair.here.kit.rows
    for name in sorted(a ^ b):
        asked = (f.id for f in pair.here.figures if name in h11_permission.wanted(f, rows[f.technique]))
        if figures := tuple(asked):
            yield Difference(
                weight=Weight.STILL, what=f"permission for {name} ({PERMISSIONS[name]})", figures=figures,
                here="allowed" if name in a else "not allowed", there="allowed" if name in b else "not allowed",
            )  # fmt: skip


def _hangs(pair: _Pair) -> Iterator[Difference]:
    """Where the handles of line bows hang: what hangs on a strut here may find none there."""
    for a, b in pair.both():
        if a.bow_key is None or not a.lanes or not b.lanes or b.bow_key is None:
            continue
        mine, other = (
            {hang.strut: hang for lane in task.lanes if (hang := nearest_hang(piano, piano.course(key), lane.mark_mm))}
            for task, piano, key in ((a, pair.here.piano, a.bow_key), (b, pair.there.piano, b.bow_key))
        )
        if bool(mine) != bool(other):
            yield Difference(
                weight=Weight.OTHERWISE if mine else Weight.STILL, what=f"where the line of {label(a.bow_key)} hangs",
                here=_struts(mine), there=_struts(other), figures=(a.work.id,),
                source=f"struts of both surveys; {COMMON_PRACTICE}",
            )  # fmt: skip


def _struts(hangs: Mapping[str, object]) -> str:
    return " or ".join(sorted(hangs)) or "no strut near"


def _courses(pair: _Pair) -> Iterator[Difference]:
    """Wound or plain, damped or not, and how many strings, for the courses that the piece uses."""
    a, b = pair.here.piano, pair.there.piano
    muted = {key for figure in pair.here.figures if figure.mute is Mute.MOULDED for key in figure.keys}
    played = pair.played_keys()
    looks: tuple[tuple[str, Weight, list[Key], Callable[[Course], str]], ...] = (
        ("strings", Weight.STILL, played, lambda course: "wound" if course.wound else "plain"),
        ("dampers", Weight.STILL, played, lambda course: "damped" if course.damper else "no damper"),
        ("mutes", Weight.OTHERWISE, [k for k in played if k in muted], lambda course: f"{course.strings} strings"),
    )
    for what, weight, keys, look in looks:
        groups: dict[tuple[str, str], dict[Key, object]] = defaultdict(dict)
        for key in keys:
            if (mine := look(a.course(key))) != (other := look(b.course(key))):
                groups[mine, other][key] = None
        for (mine, other), group in groups.items():
            yield Difference(weight=weight, what=f"{what} of {' '.join(map(label, group))}", here=mine, there=other,
                             figures=pair.figures_on(group))  # fmt: skip


def _people(pair: _Pair) -> Iterator[Difference]:
    """Figures that fewer people can reach there."""
    groups: dict[tuple[int, int], list[str]] = defaultdict(list)
    for a, b in pair.both():
        if a.barred is None and b.barred is None:
            here, there = len(a.players), len(b.players)
            if there < here and (there < FEW or 2 * there <= here):
                groups[here, there].append(a.work.id)
    for (here, there), figures in groups.items():
        yield Difference(weight=Weight.OTHERWISE, what="people in reach", here=str(here), there=str(there),
                         figures=tuple(figures), source="reach from every place, by stature or measured")  # fmt: skip


def _spots(pair: _Pair) -> Iterator[Difference]:
    """Spots that only one of them names, and that the piece does not use (used ones are barred figures)."""
    names = [{spot.name for spot in piano.spots} for piano in (pair.here.piano, pair.there.piano)]
    for name in sorted(names[0] ^ names[1]):
        mine = name in names[0]
        yield Difference(weight=Weight.STILL, what=f"spot {name}", here="there" if mine else "none",
                         there="none" if mine else "there")  # fmt: skip


_LOOKS: tuple[Callable[[_Pair], Iterator[Difference]], ...] = (
    _barred, _other_tools, _pedals, _hangs, _people, _courses, _permissions, _spots,
)  # fmt: skip
