"""A casting's question as its inputs, and the single changes of it that may let one more figure be played."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from rimside.casting.options import build_problem
from rimside.casting.pedals.plan import PedalPlan
from rimside.casting.pin import Pin
from rimside.casting.pins import apply, asked_kinds
from rimside.casting.problem import Problem, Task
from rimside.casting.result import CastPlayer
from rimside.casting.rules import h11_permission
from rimside.casting.scale import TIE_S
from rimside.casting.surroundings import Surroundings
from rimside.errors import BadInput
from rimside.kit import PERMISSIONS, Kit, Stock
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.pitch import Key, label
from rimside.score.model import Figure, PedalSpan, Stroke, Technique

ANOTHER = "another"
"""Id of a player who is not there yet."""
FAMILIES: tuple[tuple[Technique, ...], ...] = (
    (Technique.LINE_BOW, Technique.STICK_BOW, Technique.FRICTION_STRIP, Technique.MAGNET_DRIVE),
    (Technique.FELT_HAMMER, Technique.WOOD_HAMMER, Technique.BEATER),
    (Technique.FINGER_PLUCK, Technique.PLECTRUM, Technique.HANDLED_PLECTRUM),
    (Technique.KEYS,),
)
"""Techniques that sound most alike. Common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What a problem is built from; `pins` are what is fixed.

    What is done around the figures follows from them through `surroundings`; without these the `pedals` are as given.
    """

    figures: tuple[Figure, ...]
    piano: Piano
    players: tuple[Player, ...]
    kit: Kit
    pedals: tuple[PedalSpan, ...] = ()
    surroundings: Surroundings | None = None
    pins: tuple[Pin, ...] = ()

    def problem(self, known: Mapping[Figure, Task] | None = None) -> Problem:
        """The problem, built anew; `known` tasks of a problem that differs in figures alone are taken over."""
        plain = self.plain(known)
        return apply(plain, self.pins) if self.pins else plain

    def plain(self, known: Mapping[Figure, Task] | None = None) -> Problem:
        """The same without its pins, but with the kinds of implement that they ask for."""
        pedals, extra = self._around()
        kinds = asked_kinds(self.pins, (stock.kind for stock in self.kit.stock))
        more = {**extra, "kinds": kinds, "known": known}
        return build_problem(self.figures, self.piano, self.players, self.kit, pedals, **more)

    def _around(self) -> tuple[tuple[PedalSpan, ...], dict[str, Any]]:
        if self.surroundings is None:
            return self.pedals, {}
        return self.surroundings.inputs(self.figures, self.piano, self.kit)

    def pedal_plan(self) -> PedalPlan | None:
        """Who and what keeps dampers up; None without surroundings."""
        return None if self.surroundings is None else self.surroundings.pedals(self.figures, self.piano, self.kit)

    def alike(self, other: Question) -> bool:
        """Whether two questions differ in figures alone, and dampers are the same for both."""
        if self != replace(other, figures=self.figures):
            return False
        if self.surroundings is None:
            return True
        mine, others = (self.surroundings.pedals(one.figures, one.piano, one.kit) for one in (self, other))
        return (mine.spans, mine.held_keys) == (others.spans, others.held_keys)

    def with_figure(self, figure: Figure) -> Question:
        """The same with another form of one figure, told by its id."""
        return replace(self, figures=tuple(figure if other.id == figure.id else other for other in self.figures))


Change = tuple[str, ...]
"""A single change in words for the machine: what is done, and to what. `with_change` makes it."""
Way = tuple[str, Change]
"""What a change is called, and the change."""
SPOT = "spot "
"""Stands before the name of a spot among what an owner is asked to allow."""


def allowed(question: Question, figure: Figure) -> Iterator[Way]:
    """All that the owner has not allowed and the figure asks for."""
    permissions = question.piano.permissions
    names = h11_permission.wanted(figure, question.kit.rows[figure.technique])
    missing = tuple(name for name in names if name not in permissions.allowed)
    spots = sorted(filter(None, {figure.spot} & permissions.forbidden_spots))
    if missing or spots:
        words = [PERMISSIONS[name] for name in missing] + [f"the spot {spot}" for spot in spots]
        change = ("allow", *missing, *(f"{SPOT}{spot}" for spot in spots))
        yield f"Ask the owner to allow {' and '.join(words)}", change


def more_implements(kit: Kit, figure: Figure) -> Iterator[Way]:
    """One more of a kind that plays the technique, or two; the pitch it lacks; a stick with two sides; a new kind."""
    if not kit.rows[figure.technique].implement:
        return
    at = f" for {label(figure.keys[0])}" if figure.keys else ""
    for stock in kit.serving(figure.technique):
        lacks = stock.pitches is not None and not set(figure.keys) <= stock.pitches
        keys = tuple(str(int(key)) for key in figure.keys) if stock.pitches is not None else ()
        if lacks and stock.count:
            yield f"A {stock.kind}{at}", ("own", stock.kind, str(stock.count), *keys)
        for more in (1, 2):
            yield _called(stock, more, at), ("own", stock.kind, str(stock.count + more), *keys)
        if stock.sides == 1 and figure.technique is Technique.STICK_BOW:
            yield f"A {stock.kind} with two sides", ("sides", stock.kind, "2")
    if not kit.serving(figure.technique):
        own_pitch = figure.technique is Technique.LINE_BOW
        yield f"A {figure.technique.value}{at if own_pitch else ''}", ("new", figure.technique.value)


def _called(stock: Stock, more: int, at: str) -> str:
    number = "One more" if more == 1 else "Two more"
    if stock.per_pitch:
        article = {(0, 1): "A", (1, 1): "A second"}.get((stock.count, more), number)
        return f"{article} {stock.kind}{at}"
    return f"{number} {stock.kind} (the kit holds {stock.count})"


def more_people(question: Question, figure: Figure) -> Iterator[Way]:
    """Somebody learns the technique, else one more player with the body that the others have on average."""
    for player in question.players:
        if not player.plays(figure.technique):
            yield f"{player.name} learns {figure.technique.value}", ("learn", player.id, figure.technique.value)
    yield "One more player, of average build", ("player",)


def other_techniques(figure: Figure) -> Iterator[Way]:
    """The other techniques, those that sound most alike first."""
    own = next((family for family in FAMILIES if figure.technique in family), ())
    for technique in (*own, *(one for family in FAMILIES if family is not own for one in family)):
        if technique is not figure.technique:
            text = f"Play {figure.id} with {technique.value} in place of {figure.technique.value}"
            yield text, ("play", figure.id, technique.value)


def with_change(question: Question, change: Change, bodies: Sequence[CastPlayer]) -> Question:
    """The question with one thing changed.

    Parameters
    ----------
    bodies : of the players, as they reach at this piano; one more player is their mean.

    Raises
    ------
    BadInput : the question no longer has what is to be changed, or it is no change of the question ("practise").
    """
    done = _MADE.get(change[0]) if change else None
    made = done(question, change[1:], bodies) if done is not None else None
    if made is None:
        hint = "cast again, and look at what is proposed then"
        raise BadInput("this change cannot be made any more", value=" ".join(change), hint=hint)
    return made


def _allow(question: Question, names: Change, bodies: Sequence[CastPlayer]) -> Question:
    permissions = question.piano.permissions
    spots = {name.removeprefix(SPOT) for name in names if name.startswith(SPOT)}
    wider = replace(
        permissions,
        allowed=permissions.allowed | {name for name in names if not name.startswith(SPOT)},
        forbidden_spots=permissions.forbidden_spots - spots,
    )
    return replace(question, piano=replace(question.piano, permissions=wider))


def _own(question: Question, what: Change, bodies: Sequence[CastPlayer]) -> Question | None:
    kind, count, *keys = what
    pitches = frozenset(Key(int(key)) for key in keys)
    return _restocked(
        question,
        kind,
        lambda one: replace(
            one, count=int(count), pitches=one.pitches if one.pitches is None else one.pitches | pitches
        ),
    )


def _sides(question: Question, what: Change, bodies: Sequence[CastPlayer]) -> Question | None:
    return _restocked(question, what[0], lambda one: replace(one, sides=int(what[1])))


def _restocked(question: Question, kind: str, change: Callable[[Stock], Stock]) -> Question | None:
    if kind not in {stock.kind for stock in question.kit.stock}:
        return None
    stock = tuple(change(one) if one.kind == kind else one for one in question.kit.stock)
    return replace(question, kit=replace(question.kit, stock=stock))


def _new(question: Question, what: Change, bodies: Sequence[CastPlayer]) -> Question:
    return replace(question, kit=replace(question.kit, stock=(*question.kit.stock, new_stock(Technique(what[0])))))


def new_stock(technique: Technique) -> Stock:
    """A kind of implement that the kit lacks altogether: one of it, for each pitch when it is a line bow."""
    return Stock(
        kind=technique.value, serves=frozenset({technique}), count=1, per_pitch=technique is Technique.LINE_BOW
    )


def _learn(question: Question, what: Change, bodies: Sequence[CastPlayer]) -> Question | None:
    name, technique = what[0], Technique(what[1])
    if name not in {player.id for player in question.players}:
        return None
    return replace(
        question,
        players=tuple(
            replace(player, skills=(player.skills or frozenset()) | {technique}) if player.id == name else player
            for player in question.players
        ),
    )


def _player(question: Question, what: Change, bodies: Sequence[CastPlayer]) -> Question:
    return replace(question, players=(*question.players, _average(question, bodies)))


def _play(question: Question, what: Change, bodies: Sequence[CastPlayer]) -> Question | None:
    figure = next((figure for figure in question.figures if figure.id == what[0]), None)
    return None if figure is None else question.with_figure(replace(figure, technique=Technique(what[1])))


def _shorten(question: Question, what: Change, bodies: Sequence[CastPlayer]) -> Question | None:
    name, end, by_s = what
    figure = next((figure for figure in question.figures if figure.id == name), None)
    shorter = None if figure is None else shortened(figure, float(by_s), at_end=end == "end")
    return None if shorter is None else question.with_figure(shorter)


_MADE: Mapping[str, Callable[[Question, Change, Sequence[CastPlayer]], Question | None]] = {
    "allow": _allow, "own": _own, "sides": _sides, "new": _new, "learn": _learn, "player": _player, "play": _play,
    "shorten": _shorten,
}  # fmt: skip


def _average(question: Question, bodies: Sequence[CastPlayer]) -> Player:
    """The mean of the players' bodies, as they reach at this piano."""
    count = len(bodies)
    return Player(
        id=ANOTHER,
        name="Another player",
        stature_mm=sum(body.stature_mm for body in bodies) / count,
        measured_reach_mm=(
            sum(body.comfortable_reach_mm for body in bodies) / count,
            sum(body.reach_mm for body in bodies) / count,
        ),
        measured_breadth_mm=sum(body.shoulder_breadth_mm for body in bodies) / count,
        colour=question.players[0].colour,
        colour_name=question.players[0].colour_name,
        sign="+",
    )


def shortened(figure: Figure, by_s: float, *, at_end: bool) -> Figure | None:
    """A figure that ends earlier or starts later and keeps all its strokes, or None when it cannot.

    One that starts later has its first attack later; one that ends earlier lets the last sound go.
    """
    onsets = figure.onsets_s
    if at_end:
        end_s = round(figure.end_s - by_s, 6)
        if onsets[-1] >= end_s - TIE_S:
            return None
        cut = tuple(replace(stroke, until_s=min(stroke.until_s, end_s)) for stroke in figure.strokes)
        return replace(figure, end_s=end_s, strokes=cut)
    start_s = round(figure.start_s + by_s, 6)
    if start_s >= min([figure.end_s, *onsets[1:]]) - TIE_S:
        return None
    late = tuple(_from(stroke, start_s) for stroke in figure.strokes)
    return replace(figure, start_s=start_s, strokes=late) if all(s.until_s > s.onset_s for s in late) else None


def _from(stroke: Stroke, start_s: float) -> Stroke:
    return replace(stroke, onset_s=max(stroke.onset_s, start_s))
