"""From the page as written to the piece as played: repeats unrolled, ties merged, everything timed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from rimside.score.governing import GovernedNote, GovernedPart, govern
from rimside.score.model import BarStart, Cue, Note, NotUnderstood, Pedal, PedalSpan, Score
from rimside.score.repeats import PlayedBar, unmet_leaps
from rimside.score.timeline import DEFAULT_QUARTERS_PER_MINUTE, Timeline, timeline
from rimside.score.words import Vocabulary
from rimside.score.written import Page, Spot, WrittenPedal


@dataclass(slots=True, kw_only=True)
class _Sounding:
    """A note as played; ties move its end."""

    governed: GovernedNote
    bar: PlayedBar
    onset: Fraction
    end: Fraction


def play(page: Page, vocabulary: Vocabulary) -> Score:
    """Turn a page into a score: notes in order of onset, part and pitch, the highest first."""
    line = timeline(page)
    governed = [govern(page, part, vocabulary) for part in page.parts]
    order = {part.name: number for number, part in enumerate(page.parts)}
    notes = [note for part in governed for note in _notes(page, part, line)]
    notes.sort(key=lambda one: (one.onset_quarters, order[one.part], not one.grace, -(one.midi or 0.0), one.voice))
    end = max([line.end_quarters, *(note.onset_quarters + note.duration_quarters for note in notes)])
    pedals = [mark for part in governed for mark in part.pedals]
    return Score(
        title=page.title,
        parts=tuple(order),
        notes=tuple(notes),
        bars=_bar_starts(page, line),
        pedals=_pedal_spans([*page.pedals, *pedals], line),
        cues=_cues(page, governed, line),
        not_understood=_not_understood(page, governed),
        end_s=line.tempo.seconds(end),
    )


def _notes(page: Page, part: GovernedPart, line: Timeline) -> Iterable[Note]:
    by_bar: dict[int, list[GovernedNote]] = defaultdict(list)
    for one in part.notes:
        by_bar[one.note.at[0]].append(one)
    sounding: list[_Sounding] = []
    for bar, start in zip(line.played, line.starts_quarters, strict=True):
        sounding += [_sounding(one, bar, start) for one in by_bar[bar.index] if _is_played(one, bar)]
    return [_note(page, part.name, one, line) for one in _merge_ties(sounding)]


def _is_played(one: GovernedNote, bar: PlayedBar) -> bool:
    offset = one.note.at[1]
    # A grace note at the end of a bar is still part of it.
    at_end = one.note.grace and offset == bar.to_quarters
    inside = bar.from_quarters <= offset and (offset < bar.to_quarters or at_end)
    return inside and (not one.note.only_passes or bar.repeat_pass in one.note.only_passes)


def _sounding(one: GovernedNote, bar: PlayedBar, start: Fraction) -> _Sounding:
    onset = start + one.note.at[1] - bar.from_quarters
    return _Sounding(governed=one, bar=bar, onset=onset, end=onset + one.note.length)


def _merge_ties(sounding: Sequence[_Sounding]) -> list[_Sounding]:
    """Join each tied note to the one that it continues: same pitch, no gap, its own voice first."""
    waiting: dict[tuple[object, ...], list[_Sounding]] = defaultdict(list)
    merged: list[_Sounding] = []
    for one in sorted(sounding, key=lambda each: (each.onset, not each.governed.note.grace)):
        note = one.governed.note
        pitch = (note.midi, one.governed.spot)
        before = _tied_before(waiting[pitch], one) if note.tie_stop else None
        if before is None:
            merged.append(one)
            before = one
        else:
            before.end = one.end
        if note.tie_start:
            waiting[pitch].append(before)
    return merged


def _tied_before(waiting: list[_Sounding], one: _Sounding) -> _Sounding | None:
    fitting = [each for each in waiting if each.end == one.onset]
    fitting.sort(key=lambda each: each.governed.note.voice != one.governed.note.voice)
    if not fitting:
        return None
    waiting.remove(fitting[0])
    return fitting[0]


def _note(page: Page, part: str, one: _Sounding, line: Timeline) -> Note:
    note, state, bar = one.governed.note, one.governed.state, page.bars[one.bar.index]
    onset_s = line.tempo.seconds(one.onset)
    return Note(
        part=part,
        voice=note.voice,
        midi=note.midi,
        spot=one.governed.spot,
        onset_quarters=one.onset,
        duration_quarters=one.end - one.onset,
        onset_s=onset_s,
        duration_s=line.tempo.seconds(one.end) - onset_s,
        bar=bar.name,
        beat=bar.beat(note.at[1]),
        pass_number=one.bar.pass_number,
        grace=note.grace,
        dynamic=state.dynamic,
        technique=state.technique,
        touch=state.touch,
        choir=state.choir,
        mute=state.mute,
        tremolo_strokes=note.tremolo_strokes,
        section=one.governed.section,
        essential=state.essential,
        dry=state.dry,
    )


def _bar_starts(page: Page, line: Timeline) -> tuple[BarStart, ...]:
    marks = sorted((mark.at, mark.name) for mark in page.sections)
    return tuple(
        BarStart(
            bar=page.bars[bar.index].name,
            pass_number=bar.pass_number,
            start_quarters=start,
            start_s=line.tempo.seconds(start),
            section=next((name for at, name in reversed(marks) if at <= (bar.index, bar.from_quarters)), ""),
        )
        for bar, start in zip(line.played, line.starts_quarters, strict=True)
    )


def _moments(at: Spot, line: Timeline) -> list[float]:
    """When a place on the page is passed, s: once for each time that its bar is played."""
    times = [(line.played[number], line.starts_quarters[number]) for number in line.plays_of.get(at[0], ())]
    return [
        line.tempo.seconds(start + at[1] - bar.from_quarters)
        for bar, start in times
        if bar.from_quarters <= at[1] <= bar.to_quarters
    ]


def _cues(page: Page, governed: Sequence[GovernedPart], line: Timeline) -> tuple[Cue, ...]:
    cues = [
        Cue(onset_s=moment, bar=page.bars[cue.at[0]].name, part=part.name, text=cue.text)
        for part in governed
        for cue in part.cues
        for moment in _moments(cue.at, line)
    ]
    return tuple(sorted(cues, key=lambda cue: cue.onset_s))


def _pedal_spans(marks: Sequence[WrittenPedal], line: Timeline) -> tuple[PedalSpan, ...]:
    """Pedals as held in the piece as played; a pedal that is never let up is held to the end."""
    end_s = line.tempo.seconds(line.end_quarters)
    spans: list[PedalSpan] = []
    for pedal in Pedal:
        events = sorted(
            (moment, mark.down) for mark in marks if mark.pedal is pedal for moment in _moments(mark.at, line)
        )
        spans += _held(pedal, events, end_s)
    return tuple(sorted(spans, key=lambda span: (span.down_s, span.pedal)))


def _held(pedal: Pedal, events: Sequence[tuple[float, bool]], end_s: float) -> list[PedalSpan]:
    """Up comes before down at one moment, so that a change of pedal lifts first."""
    spans: list[PedalSpan] = []
    down_s: float | None = None
    for moment, down in [*events, (end_s, False)]:
        if down_s is not None and moment > down_s:
            spans.append(PedalSpan(pedal=pedal, down_s=down_s, up_s=moment))
        down_s = moment if down else None
    return spans


def _not_understood(page: Page, governed: Sequence[GovernedPart]) -> tuple[NotUnderstood, ...]:
    found = [*page.not_understood, *(one for part in governed for one in part.not_understood)]
    if not any(mark.at == (0, Fraction(0)) for mark in page.tempos):
        first = page.bars[0].name if page.bars else ""
        text = f"no tempo at the start: {DEFAULT_QUARTERS_PER_MINUTE:g} quarters a minute taken"
        found.append(NotUnderstood(bar=first, part="", text=text))
    for jump, missing in unmet_leaps(page.jumps):
        found.append(
            NotUnderstood(bar=page.bars[jump.at[0]].name, part="", text=f"{jump.kind.value} without a {missing} sign")
        )
    return tuple(dict.fromkeys(found))


def with_problems(score: Score, problems: Iterable[NotUnderstood]) -> Score:
    """The score with more things listed that it could not use."""
    return replace(score, not_understood=tuple(dict.fromkeys([*score.not_understood, *problems])))
