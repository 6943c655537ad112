"""A casting as the table that `castings/*.json` holds (format 1), and back.

Lengths are written to 0.001 mm and times to 0.000001 s. What has been written and read once comes back unchanged.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeVar

from rimside.casting.pin import Pin
from rimside.casting.result import (
    FORMAT,
    HELD_KEYS,
    MEND_KINDS,
    CastChore,
    CastFigure,
    Casting,
    CastPlayer,
    Change,
    Contact,
    Mend,
    PedalAction,
    Proof,
    Uncast,
)
from rimside.errors import BadInput
from rimside.kit import Implement, Times
from rimside.piano.model import Place, Point
from rimside.pitch import Key, is_course
from rimside.score.model import Figure, Mute, Pedal, Stroke, Technique, Touch
from rimside.units import FIRST_KEY, LAST_KEY

MM_DECIMALS = 3
S_DECIMALS = 6
LEVEL_NAMES = ("1 uncast", "2 risk", "3 moves", "4 returns", "5 memory", "6 load")
"""What the proof calls the six levels of the objective, the weightiest first."""
REFIT_LEVEL_NAMES = ("1 uncast", "2 changed", "3 risk", "4 moves", "5 returns", "6 memory", "7 load")
"""What the proof of a refit calls its levels."""
HANDS = ("left", "right")
ROLES = ("play", "touch", "mute", "chore")

Table = dict[str, Any]
_T = TypeVar("_T")
_E = TypeVar("_E", bound=StrEnum)


def to_json(casting: Casting) -> Table:
    """The table of a casting, ready for `json.dumps`.

    Raises
    ------
    BadInput : a number of the casting is not finite.
    """
    return {
        "format": FORMAT,
        "made_from": dict(casting.made_from),
        "piano": casting.piano,
        "a4_hz": _rounded(casting.a4_hz, S_DECIMALS),
        "players": [_player_out(player) for player in casting.players],
        "places": [_place_out(place) for place in casting.places],
        "rim_length_mm": _mm(casting.rim_length_mm),
        "figures": [_figure_out(figure) for figure in casting.figures],
        "implements": [_implement_out(implement) for implement in casting.implements],
        "cast": [_cast_out(cast) for cast in casting.cast],
        "chores": [_chore_out(chore) for chore in casting.chores],
        "pedals": [_pedal_out(action) for action in casting.pedals],
        "uncast": [_uncast_out(uncast) for uncast in casting.uncast],
        "times": _times_out(casting.times),
        "proof": [_proof_out(proof) for proof in casting.proof],
        "seconds": _s(casting.seconds),
        "like": casting.like,
        "changes": [_change_out(change) for change in casting.changes],
        "pins": [_pin_out(pin) for pin in casting.pins],
    }


def from_json(table: Mapping[str, Any], where: str) -> Casting:
    """Read a casting back from its table.

    Parameters
    ----------
    table : what `json.loads` gave.
    where : the file, for error messages.

    Raises
    ------
    BadInput : another format, a newer version, a field that is missing or cannot be what it says.
    """
    top = _Fields(table=_as_table(table, where), where=where)
    _check_format(top)
    return Casting(
        made_from=top.mapping("made_from", _text),
        piano=top.text("piano"),
        a4_hz=top.number("a4_hz"),
        players=top.rows("players", _player_in),
        places=top.rows("places", _place_in),
        rim_length_mm=top.number("rim_length_mm"),
        figures=top.rows("figures", _figure_in),
        implements=top.rows("implements", _implement_in),
        cast=top.rows("cast", _cast_in),
        chores=top.rows("chores", _chore_in),
        pedals=top.rows("pedals", _pedal_in),
        uncast=top.rows("uncast", _uncast_in),
        times=_times_in(top.fields("times")),
        proof=top.rows("proof", _proof_in),
        seconds=top.number("seconds"),
        like=top.since("like", top.text, ""),
        changes=top.since("changes", lambda name: top.rows(name, _change_in), ()),
        pins=top.since("pins", lambda name: top.rows(name, _pin_in), ()),
    )


def _check_format(top: _Fields) -> None:
    name, _, version = top.text("format").partition("/")
    ours, _, newest = FORMAT.partition("/")
    if name != ours or not version.isdecimal():
        raise top.wrong("this is not a casting", "format", FORMAT)
    if int(version) > int(newest):
        raise top.wrong("this casting was written by a newer version of Rimside", "format", FORMAT, "update Rimside")
    if int(version) < int(newest):
        raise top.wrong("no such version of a casting was ever written", "format", FORMAT)


# Writing.


def _rounded(value: float, decimals: int) -> float:
    if not math.isfinite(value):
        raise BadInput("a casting holds a number that is not finite", value=value)
    return round(float(value), decimals) + 0.0  # adding zero turns -0.0 into 0.0


def _mm(value: float) -> float:
    return _rounded(value, MM_DECIMALS)


def _s(value: float) -> float:
    return _rounded(value, S_DECIMALS)


def _player_out(player: CastPlayer) -> Table:
    return {
        "id": player.id,
        "name": player.name,
        "stature_mm": _mm(player.stature_mm),
        "reach_mm": _mm(player.reach_mm),
        "comfortable_reach_mm": _mm(player.comfortable_reach_mm),
        "shoulder_height_mm": _mm(player.shoulder_height_mm),
        "shoulder_breadth_mm": _mm(player.shoulder_breadth_mm),
    }


def _place_out(place: Place) -> Table:
    return {
        "id": place.id,
        "x_mm": _mm(place.at.x_mm),
        "y_mm": _mm(place.at.y_mm),
        "heading_deg": _rounded(place.heading_deg, S_DECIMALS),
        "along_rim_mm": _mm(place.along_rim_mm),
        "at_keyboard": place.at_keyboard,
    }


def _figure_out(figure: Figure) -> Table:
    sounds: Table = {"spot": figure.spot} if figure.spot is not None else {"keys": [int(key) for key in figure.keys]}
    return {
        "id": figure.id,
        "part": figure.part,
        "section": figure.section,
        "bar": figure.bar,
        "beat": str(figure.beat),
        "start_s": _s(figure.start_s),
        "end_s": _s(figure.end_s),
        "technique": figure.technique.value,
        **sounds,
        "onsets_s": _onsets_out(figure),
        "strokes": [_stroke_out(stroke) for stroke in figure.strokes],
        "touch": None if figure.touch is None else _touch_out(figure.touch),
        "mute": figure.mute.value,
        "tremolo": figure.tremolo,
        "dynamic": figure.dynamic,
        "cycles": figure.cycles,
        "motif": figure.motif,
        "essential": figure.essential,
        "dry": figure.dry,
        "weave": figure.weave,
        "thread": figure.thread,
        "threads": figure.threads,
        "written": None if figure.written is None else figure.written.value,
        "words": list(figure.words),
    }


def _onsets_out(figure: Figure) -> list[float]:
    return sorted({_s(stroke.onset_s) for stroke in figure.strokes})


def _touch_out(touch: Touch) -> Table:
    return {"k": touch.k, "n": touch.n, **({"loose": True} if touch.loose else {})}


def _stroke_out(stroke: Stroke) -> Table:
    key = None if stroke.key is None else int(stroke.key)
    return {"onset_s": _s(stroke.onset_s), "until_s": _s(stroke.until_s), "key": key}


def _implement_out(implement: Implement) -> Table:
    return {
        "id": implement.id,
        "kind": implement.kind,
        "rest_x_mm": _mm(implement.rest_x_mm),
        "rest_y_mm": _mm(implement.rest_y_mm),
        "key": None if implement.key is None else int(implement.key),
        "from_near_end_mm": None if implement.from_near_end_mm is None else _mm(implement.from_near_end_mm),
    }


def _cast_out(cast: CastFigure) -> Table:
    return {
        "figure": cast.figure,
        "player": cast.player,
        "place": cast.place,
        "hands": list(cast.hands),
        "implements": list(cast.implements),
        "contacts": [_contact_out(contact) for contact in cast.contacts],
    }


def _contact_out(contact: Contact) -> Table:
    met: Table = {"spot": contact.spot} if contact.key is None else {"key": int(contact.key)}
    return {
        **met,
        "x_mm": _mm(contact.x_mm),
        "y_mm": _mm(contact.y_mm),
        "from_near_end_mm": None if contact.from_near_end_mm is None else _mm(contact.from_near_end_mm),
        "role": contact.role,
    }


def _chore_out(chore: CastChore) -> Table:
    return {
        "id": chore.id,
        "kind": chore.kind,
        "start_s": _s(chore.start_s),
        "end_s": _s(chore.end_s),
        "player": chore.player,
        "place": chore.place,
        "hands": list(chore.hands),
        "target": chore.target,
        "feet": chore.feet,
        "implements": list(chore.implements),
        "contacts": [_contact_out(contact) for contact in chore.contacts],
        "needed_by": list(chore.needed_by),
        "reason": chore.reason,
    }


def _pedal_out(action: PedalAction) -> Table:
    return {
        "pedal": str(action.pedal),
        "down_s": _s(action.down_s),
        "up_s": _s(action.up_s),
        "by": action.by,
        "keys": [int(key) for key in action.keys],
    }


def _uncast_out(uncast: Uncast) -> Table:
    return {
        "figure": uncast.figure,
        "rule": uncast.rule,
        "reason": uncast.reason,
        "competing": list(uncast.competing),
        "rules": list(uncast.rules),
        "proved": uncast.proved,
        "mends": [_mend_out(mend) for mend in uncast.mends],
    }


def _mend_out(mend: Mend) -> Table:
    told: Table = {"kind": mend.kind, "text": mend.text, "of_music": _s(mend.of_music)}
    return {**told, "change": list(mend.change)} if mend.change else told


def _change_out(change: Change) -> Table:
    told = {"figure": change.figure, "what": change.what, "before": change.before, "after": change.after}
    return {**told, "forced": change.forced, "stay": change.stay}


def _pin_out(pin: Pin) -> Table:
    return {"figure": pin.figure, **pin.named, "forbid": pin.forbid}


def _times_out(times: Times) -> Table:
    return {
        "walk_mm_per_s": _mm(times.walk_mm_per_s),
        "turn_s": _s(times.turn_s),
        "pick_s": {kind: _s(time_s) for kind, time_s in sorted(times.pick_s.items())},
        "put_s": {kind: _s(time_s) for kind, time_s in sorted(times.put_s.items())},
        "settle_s": _s(times.settle_s),
        "measured": sorted(times.measured),
    }


def _proof_out(proof: Proof) -> Table:
    return {"level": proof.level, "value": proof.value, "bound": proof.bound, "proved": proof.proved}


# Reading.


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fields:
    """One table with its place in the file; every reader names the field it could not use."""

    table: Mapping[str, Any]
    where: str

    def wrong(self, what: str, name: str, allowed: str = "", hint: str = "") -> BadInput:
        return BadInput(what, where=_joined(self.where, name), value=self.table[name], allowed=allowed, hint=hint)

    def has(self, name: str) -> bool:
        return name in self.table

    def value(self, name: str) -> Any:
        if name not in self.table:
            raise BadInput(f"the field {name!r} is missing", where=self.where)
        return self.table[name]

    def read(self, name: str, reader: Callable[[Any, str], _T]) -> _T:
        return reader(self.value(name), _joined(self.where, name))

    def maybe(self, name: str, reader: Callable[[Any, str], _T]) -> _T | None:
        return None if self.value(name) is None else self.read(name, reader)

    def text(self, name: str) -> str:
        return self.read(name, _text)

    def number(self, name: str) -> float:
        return self.read(name, _number)

    def whole(self, name: str) -> int:
        return self.read(name, _whole)

    def since(self, name: str, reader: Callable[[str], _T], default: _T) -> _T:
        """A field that castings of an earlier day do not have."""
        return reader(name) if self.has(name) else default

    def flag(self, name: str) -> bool:
        value = self.value(name)
        if not isinstance(value, bool):
            raise self.wrong("this must be true or false", name)
        return value

    def each(self, name: str, reader: Callable[[Any, str], _T]) -> tuple[_T, ...]:
        values = self.value(name)
        if not isinstance(values, list | tuple):
            raise self.wrong("this must be a list", name)
        where = _joined(self.where, name)
        return tuple(reader(value, f"{where}[{index}]") for index, value in enumerate(values))

    def rows(self, name: str, reader: Callable[[_Fields], _T]) -> tuple[_T, ...]:
        return self.each(name, lambda value, where: _row(value, where, reader))

    def fields(self, name: str) -> _Fields:
        where = _joined(self.where, name)
        return _Fields(table=_as_table(self.value(name), where), where=where)

    def mapping(self, name: str, reader: Callable[[Any, str], _T]) -> dict[str, _T]:
        inner = self.fields(name)
        return {key: inner.read(key, reader) for key in inner.table}


def _joined(where: str, name: str) -> str:
    return f"{where}, {name}" if where else name


def _row(value: Any, where: str, reader: Callable[[_Fields], _T]) -> _T:
    """One row, named by its id where it has one, because people look for ids and not for numbers in a list."""
    table = _as_table(value, where)
    name = next((f" ({table[key]})" for key in ("id", "figure") if isinstance(table.get(key), str)), "")
    return reader(_Fields(table=table, where=where + name))


def _as_table(value: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping) or not all(isinstance(key, str) for key in value):
        raise BadInput("this must be a table of named fields", where=where, value=type(value).__name__)
    return value


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str):
        raise BadInput("this must be text", where=where, value=value)
    return value


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput("this must be a number", where=where, value=value)
    return float(value)


def _whole(value: Any, where: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise BadInput("this must be a whole number", where=where, value=value)
    return value


def _key(value: Any, where: str) -> Key:
    number = _whole(value, where)
    if not is_course(number):
        raise BadInput("no such key", where=where, value=value, allowed=f"{FIRST_KEY} to {LAST_KEY}, 100 more a choir")
    return Key(number)


def _one_of(allowed: Iterable[str]) -> Callable[[Any, str], str]:
    words = tuple(allowed)

    def reader(value: Any, where: str) -> str:
        if value not in words:
            raise BadInput("not a word that is known here", where=where, value=value, allowed=", ".join(words))
        return str(value)

    return reader


def _enum(kind: type[_E]) -> Callable[[Any, str], _E]:
    reader = _one_of(member.value for member in kind)
    return lambda value, where: kind(reader(value, where))


def _fraction(value: Any, where: str) -> Fraction:
    if not isinstance(value, str) or re.fullmatch(r"-?\d+(/0*[1-9]\d*)?", value) is None:
        raise BadInput("this must be a fraction written as text", where=where, value=value, allowed='"1" or "5/2"')
    return Fraction(value)


def _player_in(row: _Fields) -> CastPlayer:
    return CastPlayer(
        id=row.text("id"),
        name=row.text("name"),
        stature_mm=row.number("stature_mm"),
        reach_mm=row.number("reach_mm"),
        comfortable_reach_mm=row.number("comfortable_reach_mm"),
        shoulder_height_mm=row.number("shoulder_height_mm"),
        shoulder_breadth_mm=row.number("shoulder_breadth_mm"),
    )


def _place_in(row: _Fields) -> Place:
    return Place(
        id=row.text("id"),
        at=Point(x_mm=row.number("x_mm"), y_mm=row.number("y_mm")),
        heading_deg=row.number("heading_deg"),
        along_rim_mm=row.number("along_rim_mm"),
        at_keyboard=row.flag("at_keyboard"),
    )


def _figure_in(row: _Fields) -> Figure:
    strokes = row.rows("strokes", _stroke_in)
    _check_onsets(row, strokes)
    spot = row.text("spot") if row.has("spot") else None
    try:
        return Figure(
            id=row.text("id"),
            part=row.text("part"),
            section=row.text("section"),
            bar=row.text("bar"),
            beat=row.read("beat", _fraction),
            start_s=row.number("start_s"),
            end_s=row.number("end_s"),
            technique=row.read("technique", _enum(Technique)),
            keys=row.each("keys", _key) if spot is None or row.has("keys") else (),
            spot=spot,
            strokes=strokes,
            touch=row.maybe("touch", _touch_in),
            mute=row.read("mute", _enum(Mute)),
            tremolo=row.flag("tremolo"),
            dynamic=row.text("dynamic"),
            cycles=row.whole("cycles"),
            motif=row.text("motif"),
            essential=row.flag("essential"),
            dry=row.since("dry", row.flag, False),
            weave=row.since("weave", row.text, ""),
            thread=row.since("thread", row.whole, 0),
            threads=row.since("threads", row.whole, 0),
            written=row.since("written", lambda name: row.maybe(name, _enum(Technique)), None),
            words=row.each("words", _text),
        )
    except BadInput as wrong:
        raise wrong if wrong.where.startswith(row.where) else wrong.at(row.where) from None


def _check_onsets(row: _Fields, strokes: tuple[Stroke, ...]) -> None:
    """The onsets are written for other readers; here the strokes say the same, or a hand has changed only one."""
    if sorted(set(row.each("onsets_s", _number))) != sorted({stroke.onset_s for stroke in strokes}):
        raise row.wrong("the onsets are not those of the strokes", "onsets_s", hint="change both or neither")


def _stroke_in(row: _Fields) -> Stroke:
    return Stroke(onset_s=row.number("onset_s"), until_s=row.number("until_s"), key=row.maybe("key", _key))


def _touch_in(value: Any, where: str) -> Touch:
    row = _Fields(table=_as_table(value, where), where=where)
    touch = Touch(k=row.whole("k"), n=row.whole("n"), loose=row.since("loose", row.flag, False))
    if not 0 < touch.k < touch.n or math.gcd(touch.k, touch.n) != 1:
        raise BadInput("not a node", where=where, value=f"{touch.k}/{touch.n}", allowed="k/n in lowest terms below 1")
    return touch


def _implement_in(row: _Fields) -> Implement:
    return Implement(
        id=row.text("id"),
        kind=row.text("kind"),
        rest_x_mm=row.number("rest_x_mm"),
        rest_y_mm=row.number("rest_y_mm"),
        key=row.maybe("key", _key),
        from_near_end_mm=row.maybe("from_near_end_mm", _number),
    )


def _cast_in(row: _Fields) -> CastFigure:
    return CastFigure(
        figure=row.text("figure"),
        player=row.text("player"),
        place=row.text("place"),
        hands=row.each("hands", _one_of(HANDS)),
        implements=row.each("implements", _text),
        contacts=row.rows("contacts", _contact_in),
    )


def _contact_in(row: _Fields) -> Contact:
    if row.has("key") == row.has("spot"):
        raise BadInput("a contact meets a key or a spot, and only one of them", where=row.where)
    return Contact(
        key=row.read("key", _key) if row.has("key") else None,
        spot=row.text("spot") if row.has("spot") else None,
        x_mm=row.number("x_mm"),
        y_mm=row.number("y_mm"),
        from_near_end_mm=row.maybe("from_near_end_mm", _number),
        role=row.read("role", _one_of(ROLES)),
    )


def _chore_in(row: _Fields) -> CastChore:
    return CastChore(
        id=row.text("id"),
        kind=row.text("kind"),
        start_s=row.number("start_s"),
        end_s=row.number("end_s"),
        player=row.maybe("player", _text),
        place=row.maybe("place", _text),
        hands=row.each("hands", _one_of(HANDS)),
        target=row.text("target"),
        feet=row.since("feet", row.whole, 0),
        implements=row.since("implements", lambda name: row.each(name, _text), ()),
        contacts=row.since("contacts", lambda name: row.rows(name, _contact_in), ()),
        needed_by=row.since("needed_by", lambda name: row.each(name, _text), ()),
        reason=row.since("reason", row.text, ""),
    )


def _pedal_in(row: _Fields) -> PedalAction:
    return PedalAction(
        pedal=row.read("pedal", _one_of((*(pedal.value for pedal in Pedal), HELD_KEYS))),
        down_s=row.number("down_s"),
        up_s=row.number("up_s"),
        by=row.text("by"),
        keys=row.since("keys", lambda name: row.each(name, _key), ()),
    )


def _uncast_in(row: _Fields) -> Uncast:
    return Uncast(
        figure=row.text("figure"),
        rule=row.text("rule"),
        reason=row.text("reason"),
        competing=row.each("competing", _text),
        rules=row.since("rules", lambda name: row.each(name, _text), ()),
        proved=row.since("proved", row.flag, False),
        mends=row.since("mends", lambda name: row.rows(name, _mend_in), ()),
    )


def _mend_in(row: _Fields) -> Mend:
    return Mend(
        kind=row.read("kind", _one_of(MEND_KINDS)),
        text=row.text("text"),
        of_music=row.number("of_music"),
        change=row.since("change", lambda name: row.each(name, _text), ()),
    )


def _change_in(row: _Fields) -> Change:
    return Change(
        figure=row.text("figure"),
        what=row.read("what", _one_of(("player", "place", "implement", "uncast", "cast"))),
        before=row.text("before"),
        after=row.text("after"),
        forced=row.since("forced", row.flag, False),
        stay=row.since("stay", row.text, ""),
    )


def _pin_in(row: _Fields) -> Pin:
    return Pin(
        figure=row.text("figure"),
        player=row.since("player", row.text, ""),
        place=row.since("place", row.text, ""),
        hand=row.since("hand", row.text, ""),
        implement=row.since("implement", row.text, ""),
        contact_mm=row.since("contact_mm", lambda name: row.maybe(name, _number), None),
        forbid=row.flag("forbid"),
    )


def _times_in(row: _Fields) -> Times:
    return Times(
        walk_mm_per_s=row.number("walk_mm_per_s"),
        turn_s=row.number("turn_s"),
        settle_s=row.number("settle_s"),
        pick_s=row.mapping("pick_s", _number),
        put_s=row.mapping("put_s", _number),
        measured=frozenset(row.each("measured", _text)),
    )


def _proof_in(row: _Fields) -> Proof:
    level = row.read("level", _one_of((*LEVEL_NAMES, *REFIT_LEVEL_NAMES)))
    proof = Proof(level=level, value=row.whole("value"), bound=row.whole("bound"))
    if row.flag("proved") != proof.proved:
        raise row.wrong("value and bound say otherwise", "proved")
    return proof
