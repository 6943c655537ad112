"""What the figures ask of the dampers: courses that must ring, courses that must be damped, and when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from rimside.casting.allowances import DRY_S
from rimside.casting.scale import TIE_S, written_s
from rimside.kit import Kit
from rimside.piano.dampers import HeldKey, Span, course_is_damped, course_is_free
from rimside.piano.model import Course, Piano
from rimside.pitch import Key, label
from rimside.score.model import Figure, PedalSpan


@dataclass(frozen=True, slots=True, kw_only=True)
class Want:
    """A damped course that must be free (`ring`) or damped all through [start_s, end_s), for one figure."""

    figure: str
    key: Key
    ring: bool
    start_s: float
    end_s: float

    def meets(self, start_s: float, end_s: float) -> bool:
        """Whether it asks for anything between two moments."""
        return self.start_s < end_s and start_s < self.end_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """All that is asked of the dampers of one piano.

    `strokes` are keys played by figures on the keyboard; they lift their own dampers, and a sostenuto pedal pressed
    meanwhile catches them. `impossible` gives the reason for each figure that no pedal can serve.
    """

    wants: tuple[Want, ...]
    strokes: tuple[HeldKey, ...]
    essential: frozenset[str]
    impossible: Mapping[str, str]

    @property
    def dry(self) -> tuple[Want, ...]:
        """What must be damped."""
        return tuple(want for want in self.wants if not want.ring)

    @property
    def figures(self) -> tuple[str, ...]:
        """The figures that ask for something, each once, in order."""
        return tuple(dict.fromkeys(want.figure for want in self.wants))


def wants_of(figures: Iterable[Figure], piano: Piano, kit: Kit) -> Wants:
    """What figures ask of the dampers; figures on courses that this piano lacks ask for nothing."""
    courses = {course.key: course for course in piano.courses}
    there = [figure for figure in figures if figure.keys and all(key in courses for key in figure.keys)]
    starts: dict[Key, list[float]] = {}
    for figure in there:
        for key in figure.keys:
            starts.setdefault(key, []).append(written_s(figure.start_s))
    bare = {figure.id: _undamped(figure, courses) for figure in there if figure.dry}
    impossible = {name: _NO_DAMPER.format(" and ".join(keys)) for name, keys in bare.items() if keys}
    asking = [figure for figure in there if figure.id not in impossible]
    return Wants(
        wants=tuple(want for figure in asking for want in _wants(figure, courses, starts, kit)),
        strokes=tuple(stroke for figure in there for stroke in _strokes(figure, kit)),
        essential=frozenset(figure.id for figure in there if figure.essential),
        impossible=impossible,
    )


_NO_DAMPER = "{} must be damped when the figure ends, and has no damper on this piano: a hand would have to damp it"


def _undamped(figure: Figure, courses: Mapping[Key, Course]) -> list[str]:
    return [label(key) for key in figure.keys if courses[key].damper is None]


def _wants(
    figure: Figure, courses: Mapping[Key, Course], starts: Mapping[Key, list[float]], kit: Kit
) -> Iterator[Want]:
    start_s, end_s = written_s(figure.start_s), written_s(figure.end_s)
    for key in figure.keys:
        if courses[key].damper is None:
            continue
        if kit.rows[figure.technique].damper_up:
            yield Want(figure=figure.id, key=key, ring=True, start_s=start_s, end_s=end_s)
        if figure.dry:
            later = [moment for moment in starts[key] if moment >= end_s - TIE_S]
            silent_until_s = min([written_s(end_s + DRY_S), *later])
            if silent_until_s > end_s:
                yield Want(figure=figure.id, key=key, ring=False, start_s=end_s, end_s=silent_until_s)


def _strokes(figure: Figure, kit: Kit) -> Iterator[HeldKey]:
    if not kit.rows[figure.technique].at_keyboard:
        return
    for stroke in figure.strokes:
        if stroke.key is not None:
            down_s, up_s = written_s(stroke.onset_s), written_s(max(stroke.until_s, stroke.onset_s))
            yield HeldKey(key=stroke.key, down_s=down_s, up_s=up_s)


def playing(figures: Iterable[Figure], kit: Kit) -> list[tuple[str, Span]]:
    """The figures on the keyboard and when they sound."""
    return [(one.id, (one.start_s, one.end_s)) for one in figures if kit.rows[one.technique].at_keyboard]


def broken_wants(
    wants: Wants, piano: Piano, pedals: tuple[PedalSpan, ...], held: tuple[HeldKey, ...] = ()
) -> tuple[Want, ...]:
    """What the pedals and keys do not give, in order.

    Keys that figures play are not counted on to be caught by a sostenuto (the figure may stay uncast), but what must be
    damped must not be caught by them either.
    """
    courses = {course.key: course for course in piano.courses}
    return tuple(want for want in wants.wants if not _given(want, courses[want.key], pedals, held, wants.strokes))


def _given(
    want: Want, course: Course, pedals: tuple[PedalSpan, ...], held: tuple[HeldKey, ...], strokes: tuple[HeldKey, ...]
) -> bool:
    if want.ring:
        return course_is_free(course, pedals, want.start_s, want.end_s, held)
    played = tuple(stroke for stroke in strokes if not want.meets(stroke.down_s, stroke.up_s))
    return course_is_damped(course, pedals, want.start_s, want.end_s, held + played)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A time in which the same things are asked; `wants` are their numbers, `played` the keys in play.

    `dry` tells that something must be damped. The first and the last stretch of a piece are as long as one likes.
    """

    start_s: float
    end_s: float
    wants: frozenset[int]
    played: frozenset[Key]
    dry: bool


def stretches(wants: Wants, start_s: float, end_s: float, *, merged: bool) -> tuple[Stretch, ...]:
    """The piece from `start_s` to `end_s` cut wherever the demands change, with nothing asked outside.

    `merged` puts the demands between two moments of silence together, but for the first and the last stretch: with
    nothing to be damped and a damper pedal, what serves one of them can serve all.
    """
    edges = {moment for want in wants.wants for moment in (want.start_s, want.end_s)}
    edges |= {moment for stroke in wants.strokes for moment in (stroke.down_s, stroke.up_s)}
    cut = [_stretch(wants, a, b) for a, b in pairwise(sorted(edges | {start_s, end_s}))]
    kept: list[Stretch] = []
    run: list[Stretch] = []
    for one in cut:
        if one.dry or not merged:
            kept += [*_merged(run), one]
            run = []
        else:
            run.append(one)
    return (*kept, *_merged(run))


def _stretch(wants: Wants, start_s: float, end_s: float) -> Stretch:
    inside = frozenset(number for number, want in enumerate(wants.wants) if want.meets(start_s, end_s))
    return Stretch(
        start_s=start_s,
        end_s=end_s,
        wants=inside,
        played=frozenset(one.key for one in wants.strokes if one.down_s < end_s and start_s < one.up_s),
        dry=any(not wants.wants[number].ring for number in inside),
    )


def _merged(run: list[Stretch]) -> list[Stretch]:
    if len(run) <= 3:
        return run
    middle = run[1:-1]
    whole = Stretch(
        start_s=middle[0].start_s,
        end_s=middle[-1].end_s,
        wants=frozenset().union(*(one.wants for one in middle)),
        played=frozenset().union(*(one.played for one in middle)),
        dry=False,
    )
    return [run[0], whole, run[-1]]
