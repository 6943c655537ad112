"""A reading as plain data for `rimside read --json`. The shape is in `docs/design.md` section 7."""

from __future__ import annotations

from typing import Any

from rimside.score.model import Figure, Note, Score
from rimside.score.reading import Reading


def reading_json(reading: Reading) -> dict[str, Any]:
    """Notes, figures and what was not understood, in types that JSON knows. Quarters and seconds are numbers."""
    score = reading.score
    return {
        "title": score.title,
        "parts": list(score.parts),
        "notes": [_note(note) for note in score.notes],
        "figures": [figure_json(figure) for figure in reading.figures],
        "not_understood": [{"bar": one.bar, "part": one.part, "text": one.text} for one in score.not_understood],
        **_signs(score),
        "end_s": score.end_s,
    }


def _number(value: float) -> float | int:
    return int(value) if value == int(value) else float(value)


def _note(note: Note) -> dict[str, Any]:
    return {
        "part": note.part,
        "voice": note.voice,
        "midi": None if note.midi is None else _number(note.midi),
        "spot": note.spot,
        "onset_quarters": float(note.onset_quarters),
        "duration_quarters": float(note.duration_quarters),
        "onset_s": note.onset_s,
        "duration_s": note.duration_s,
        "bar": note.bar,
        "beat": float(note.beat),
        "pass": note.pass_number,
        "grace": note.grace,
        "technique": note.technique.value if note.technique else None,
        "touch": note.touch.asked if note.touch else None,
        "choir": note.choir,
        "mute": note.mute.value,
        "dynamic": note.dynamic,
        "tremolo_strokes": note.tremolo_strokes,
        "section": note.section,
        "essential": note.essential,
        "dry": note.dry,
    }


def figure_json(figure: Figure) -> dict[str, Any]:
    """One figure, with `keys` or `spot`."""
    where: dict[str, Any] = {"spot": figure.spot} if figure.spot else {"keys": [int(key) for key in figure.keys]}
    return {
        "id": figure.id,
        "part": figure.part,
        "section": figure.section,
        "bar": figure.bar,
        "beat": float(figure.beat),
        "start_s": figure.start_s,
        "end_s": figure.end_s,
        "technique": figure.technique.value,
        **where,
        "onsets_s": list(figure.onsets_s),
        "touch": figure.touch.asked if figure.touch else None,
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
    }


def _signs(score: Score) -> dict[str, Any]:
    return {
        "bars": [
            {
                "bar": bar.bar,
                "pass": bar.pass_number,
                "start_quarters": float(bar.start_quarters),
                "start_s": bar.start_s,
                "section": bar.section,
            }
            for bar in score.bars
        ],
        "pedals": [{"pedal": span.pedal.value, "down_s": span.down_s, "up_s": span.up_s} for span in score.pedals],
        "cues": [{"onset_s": cue.onset_s, "bar": cue.bar, "part": cue.part, "text": cue.text} for cue in score.cues],
    }
