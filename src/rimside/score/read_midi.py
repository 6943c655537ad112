"""Standard MIDI Files to a score. Source: Standard MIDI Files 1.0 (MIDI Manufacturers Association, 1996).

A track is a part (its channels, when one track holds all). Text events are words, markers are rehearsal marks, cue
points are cues. Controllers 64, 66 and 67 are the damper, sostenuto and una-corda pedals. The tenth channel is
percussion: its notes are unpitched and named "percussion 36" by their number, for the vocabulary's spots to rename.
"""

from __future__ import annotations

import io
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from rimside.errors import BadInput
from rimside.score.model import NotUnderstood, Pedal, Score
from rimside.score.musicxml_notes import HIGHEST_MIDI, LOWEST_MIDI
from rimside.score.playing import play
from rimside.score.repeats import MOST_BARS
from rimside.score.words import Vocabulary
from rimside.score.written import (
    Page,
    Spot,
    WrittenBar,
    WrittenDynamic,
    WrittenNote,
    WrittenPart,
    WrittenPedal,
    WrittenSection,
    WrittenTempo,
    WrittenWords,
)

PEDAL_CONTROLLERS: Mapping[int, Pedal] = {64: Pedal.DAMPER, 66: Pedal.SOSTENUTO, 67: Pedal.UNA_CORDA}
PEDAL_DOWN_FROM = 64
"""Controller values of a switch: 0 to 63 off, 64 to 127 on. Source: MIDI 1.0 Detailed Specification, table 3."""
SHORTEST_BEAT = 64
"""The lower number of a time signature; the format could say 2 to the power of 255. Our assumption."""
PERCUSSION_CHANNEL = 9
"""Channel 10 counted from 1. Source: General MIDI System Level 1."""
DYNAMIC_OF_VELOCITY: tuple[tuple[int, str], ...] = (
    (16, "ppp"),
    (33, "pp"),
    (49, "p"),
    (64, "mp"),
    (80, "mf"),
    (96, "f"),
    (112, "ff"),
    (127, "fff"),
)
"""Highest velocity of each dynamic. Source: from memory, a usual mapping in eight equal steps."""
LONGEST_QUARTERS = 100_000
"""About 14 hours at 120 quarters a minute; more is damage. Our assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Event:
    """One message with its moment in quarters from the start."""

    at: Fraction
    track: int
    message: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class _Meter:
    """A time signature from a moment on, in quarters."""

    at: Fraction
    length: Fraction
    unit: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """Where the bars start, in quarters from the start."""

    starts: tuple[Fraction, ...]

    def spot(self, at: Fraction) -> Spot:
        index = max(bisect_right(self.starts, at) - 1, 0)
        return index, at - self.starts[index]


def read_midi(data: bytes, filename: str, vocabulary: Vocabulary) -> Score:
    """Read a Standard MIDI File of format 0 or 1.

    Parameters
    ----------
    data : the bytes of the file.
    filename : its name, for messages.
    vocabulary : what the words in text events mean.

    Raises
    ------
    BadInput : damaged, format 2, SMPTE time division, or a note off the piano.
    """
    events, names, title = _events(data, filename)
    bars, grid = _bars(_meters(events, filename), _end(events, filename), filename)
    problems: list[NotUnderstood] = []
    parts = [_part(names[part], rows, grid, bars, filename, problems) for part, rows in _by_part(events).items()]
    page = Page(
        title=title,
        parts=_with_common_words(parts),
        bars=bars,
        tempos=tuple(
            WrittenTempo(at=grid.spot(event.at), quarters_per_minute=60e6 / event.message.tempo)
            for event in events
            if event.message.type == "set_tempo" and event.message.tempo > 0
        ),
        pedals=tuple(_pedals(events, grid)),
        sections=tuple(
            WrittenSection(at=grid.spot(event.at), name=_text(event.message))
            for event in events
            if event.message.type == "marker" and _text(event.message)
        ),
        not_understood=tuple(problems),
    )
    return play(page, vocabulary)


def _end(events: Iterable[_Event], filename: str) -> Fraction:
    end = max((event.at for event in events), default=Fraction(0))
    if end > LONGEST_QUARTERS:
        raise BadInput(
            "the file is too long",
            where=filename,
            value=f"{float(end):g} quarters",
            allowed=f"{LONGEST_QUARTERS} quarters",
            hint="is a delta time damaged?",
        )
    return end


def _with_common_words(parts: Sequence[WrittenPart]) -> tuple[WrittenPart, ...]:
    """Words in a track without notes hold for every part with notes; cues among them come once, with the first."""
    sounding = [part for part in parts if part.notes]
    common = [words for part in parts if not part.notes for words in part.words]
    if not sounding:
        return tuple(part for part in parts if part.words)
    for_others = [words for words in common if not words.text.casefold().startswith("cue:")]
    return tuple(
        replace(part, words=(*part.words, *(for_others if number else common))) for number, part in enumerate(sounding)
    )


_PartKey = tuple[int, int | None]


class _Names(dict[_PartKey, str]):
    """Part names; a part without one is called by its track or channel, counted from 1."""

    def __missing__(self, key: _PartKey) -> str:
        return f"Track {key[0] + 1}" if key[1] is None else f"Channel {key[1] + 1}"


def _events(data: bytes, filename: str) -> tuple[list[_Event], _Names, str]:
    _check_header(data, filename)
    import mido

    try:
        midi = mido.MidiFile(file=io.BytesIO(data), clip=False)
    except (EOFError, OSError, ValueError, KeyError, IndexError, LookupError, TypeError) as error:
        raise BadInput(
            "the MIDI file is damaged",
            where=filename,
            value=str(error) or "it ends too early",
            allowed="complete track chunks",
            hint="was it cut short while copying?",
        ) from error
    names = _Names()
    events: list[_Event] = []
    for number, track in enumerate(midi.tracks):
        ticks = 0
        for message in track:
            ticks += message.time
            events.append(_Event(at=Fraction(ticks, midi.ticks_per_beat), track=number, message=message))
            if message.type == "track_name" and _decoded(message.name):
                names.setdefault((number, None), _decoded(message.name))
    # The first track's name is the piece's when that track is no part of its own.
    title = names.pop((0, None), "") if _split_by_channel(events) or not _has_notes(events, 0) else ""
    return events, _unique(names), title


def _split_by_channel(events: Sequence[_Event]) -> bool:
    """One track that plays on several channels: the channels are the parts."""
    channels = {event.message.channel for event in events if event.message.type == "note_on"}
    return len(channels) > 1 and not any(event.track for event in events)


def _has_notes(events: Iterable[_Event], track: int) -> bool:
    return any(event.track == track and event.message.type == "note_on" for event in events)


def _unique(names: _Names) -> _Names:
    seen: set[str] = set()
    for key, name in names.items():
        names[key] = f"{name} (track {key[0] + 1})" if name in seen else name
        seen.add(name)
    return names


def _check_header(data: bytes, filename: str) -> None:
    """What the library lets pass or does not name: the header chunk's length, format and time division."""
    if not data.startswith(b"MThd") or len(data) < 14:
        raise BadInput(
            "not a Standard MIDI File",
            where=f"{filename}, byte 0",
            value=data[:4],
            allowed="a header chunk MThd of 14 bytes",
        )
    kind, division = int.from_bytes(data[8:10], "big"), int.from_bytes(data[12:14], "big")
    if kind > 1:
        raise BadInput(
            "MIDI format is not read",
            where=f"{filename}, byte 8",
            value=kind,
            allowed="format 0 (one track) or 1 (tracks together)",
        )
    if division & 0x8000:
        raise BadInput(
            "time is divided by SMPTE frames",
            where=f"{filename}, byte 12",
            value=f"0x{division:04X}",
            allowed="ticks per quarter (first bit 0)",
            hint="export with musical time?",
        )
    if division == 0:
        raise BadInput("no ticks in a quarter", where=f"{filename}, byte 12", value=0, allowed="1 to 32767")


def _meters(events: Iterable[_Event], filename: str) -> list[_Meter]:
    found = [_Meter(at=Fraction(0), length=Fraction(4), unit=Fraction(1))]
    signatures = [event for event in events if event.message.type == "time_signature" and event.message.numerator > 0]
    for event in sorted(signatures, key=lambda one: one.at):
        if event.message.denominator > SHORTEST_BEAT:
            raise BadInput(
                "time signature is out of range",
                where=f"{filename}, track {event.track + 1}",
                value=f"{event.message.numerator}/{event.message.denominator}",
                allowed=f"a lower number of 1 to {SHORTEST_BEAT}",
            )
        unit = Fraction(4, event.message.denominator)
        found = [meter for meter in found if meter.at < event.at]
        found.append(_Meter(at=event.at, length=unit * event.message.numerator, unit=unit))
    return found


def _bars(meters: Sequence[_Meter], end: Fraction, filename: str) -> tuple[tuple[WrittenBar, ...], _Grid]:
    """Bars from the time signatures; one that comes inside a bar cuts it short."""
    bars: list[WrittenBar] = []
    starts: list[Fraction] = []
    for meter, until in pairwise([*meters, _Meter(at=end, length=Fraction(4), unit=Fraction(1))]):
        at = meter.at
        while at < until.at or not bars:
            if len(bars) >= MOST_BARS:
                raise BadInput(
                    "the file has too many bars",
                    where=filename,
                    value=f"more than {MOST_BARS}",
                    allowed=f"{MOST_BARS}",
                    hint="is a time signature damaged?",
                )
            length = min(meter.length, until.at - at) if until.at < end else meter.length
            bars.append(
                WrittenBar(name=str(len(bars) + 1), length=length, full_length=meter.length, beat_unit=meter.unit)
            )
            starts.append(at)
            at += length
    return tuple(bars), _Grid(starts=tuple(starts))


def _by_part(events: Sequence[_Event]) -> dict[_PartKey, list[_Event]]:
    """Events by track, or by channel when one track holds several."""
    by_channel = _split_by_channel(events)
    parts: dict[_PartKey, list[_Event]] = defaultdict(list)
    for event in events:
        channel = getattr(event.message, "channel", None)
        parts[(event.track, channel if by_channel else None)].append(event)
    return parts


def _part(
    name: str,
    events: Sequence[_Event],
    grid: _Grid,
    bars: Sequence[WrittenBar],
    filename: str,
    problems: list[NotUnderstood],
) -> WrittenPart:
    notes: list[WrittenNote] = []
    dynamics: list[WrittenDynamic] = []
    for start, end, message in _pairs(events, name, grid, bars, problems):
        at = grid.spot(start)
        notes.append(_note(message, at, end - start, f"{filename}, part {name}, bar {bars[at[0]].name}"))
        dynamics.append(WrittenDynamic(at=at, mark=_dynamic(message.velocity)))
    words = tuple(
        WrittenWords(at=grid.spot(event.at), text=_prefixed(event.message))
        for event in events
        if event.message.type in ("text", "lyrics", "cue_marker") and _text(event.message)
    )
    return WrittenPart(name=name, notes=tuple(notes), words=words, dynamics=tuple(dynamics))


def _text(message: Any) -> str:
    return _decoded(message.text)


def _decoded(text: str) -> str:
    """The format names no encoding and the library reads Latin-1; what is valid UTF-8 is taken as that."""
    try:
        return text.encode("latin-1").decode("utf-8").strip()
    except UnicodeDecodeError:
        return text.strip()


def _prefixed(message: Any) -> str:
    text = _text(message)
    return f"cue: {text}" if message.type == "cue_marker" and not text.casefold().startswith("cue:") else text


def _note(message: Any, at: Spot, length: Fraction, where: str) -> WrittenNote:
    if message.channel == PERCUSSION_CHANNEL:
        return WrittenNote(
            at=at, length=length, midi=None, names=(f"percussion {message.note}",), voice=str(message.channel + 1)
        )
    if not LOWEST_MIDI <= message.note <= HIGHEST_MIDI:
        raise BadInput(
            "pitch is outside the piano",
            where=where,
            value=f"MIDI note {message.note}",
            allowed=f"MIDI {LOWEST_MIDI} to {HIGHEST_MIDI} (A0 to C8)",
        )
    return WrittenNote(at=at, length=length, midi=float(message.note), voice=str(message.channel + 1))


def _pairs(
    events: Iterable[_Event], part: str, grid: _Grid, bars: Sequence[WrittenBar], problems: list[NotUnderstood]
) -> Iterator[tuple[Fraction, Fraction, Any]]:
    """Note-on with its note-off, first on first off. A note that never ends is listed and lasts to the part's end."""
    sounding: dict[tuple[int, int], list[_Event]] = defaultdict(list)
    last = Fraction(0)
    for event in events:
        message, last = event.message, max(last, event.at)
        if message.type == "note_on" and message.velocity > 0:
            sounding[message.channel, message.note].append(event)
        elif message.type in ("note_on", "note_off") and sounding[message.channel, message.note]:
            start = sounding[message.channel, message.note].pop(0)
            yield start.at, event.at, start.message
    for left in sounding.values():
        for event in left:
            problems.append(
                NotUnderstood(
                    bar=bars[grid.spot(event.at)[0]].name,
                    part=part,
                    text=f"MIDI note {event.message.note} is never let go",
                )
            )
            yield event.at, last, event.message


def _dynamic(velocity: int) -> str:
    return next(mark for highest, mark in DYNAMIC_OF_VELOCITY if velocity <= highest)


def _pedals(events: Iterable[_Event], grid: _Grid) -> Iterator[WrittenPedal]:
    """Changes of each pedal's state; a repeated value says nothing new."""
    down: dict[Pedal, bool] = defaultdict(bool)
    for event in sorted(events, key=lambda one: one.at):
        if event.message.type == "control_change" and event.message.control in PEDAL_CONTROLLERS:
            pedal, now = PEDAL_CONTROLLERS[event.message.control], event.message.value >= PEDAL_DOWN_FROM
            if down[pedal] != now:
                down[pedal] = now
                yield WrittenPedal(at=grid.spot(event.at), pedal=pedal, down=now)
