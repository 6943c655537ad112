"""Small MusicXML files for tests, written out as the W3C elements they are."""

from __future__ import annotations

from collections.abc import Iterable

from rimside.pitch import key_of_midi
from rimside.score.model import Note, Score
from rimside.score.read_musicxml import read_musicxml
from rimside.score.words import default_vocabulary

VOCABULARY = default_vocabulary()
START = "<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
TEMPO_60 = '<sound tempo="60"/>'


def note(step: str = "C", octave: int = 4, duration: int = 16, inside: str = "", after: str = "") -> str:
    """One pitched note; 4 divisions are a quarter. `inside` goes before the pitch, `after` after the duration."""
    return (
        f"<note>{inside}<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
        f"<duration>{duration}</duration>{after}</note>"
    )


def rest(duration: int = 16) -> str:
    return f"<note><rest/><duration>{duration}</duration></note>"


def words(text: str, inside: str = "") -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type>{inside}</direction>"


def bars(*contents: str, first: str = START + TEMPO_60) -> str:
    """Measures 1, 2, ... with the given contents; the first begins with 4/4 at 60 quarters a minute."""
    numbered = enumerate([first + contents[0], *contents[1:]], start=1)
    return "".join(f'<measure number="{number}">{content}</measure>' for number, content in numbered)


def file_of(*parts: str, names: Iterable[str] = (), head: str = "", instruments: str = "") -> bytes:
    """A partwise score with the given measures in each part."""
    given = list(names) or [f"Part {number}" for number in range(1, len(parts) + 1)]
    listed = "".join(
        f'<score-part id="P{number}"><part-name>{name}</part-name>{instruments}</score-part>'
        for number, name in enumerate(given, start=1)
    )
    bodies = "".join(f'<part id="P{number}">{part}</part>' for number, part in enumerate(parts, start=1))
    return f'{head}<score-partwise version="4.0"><part-list>{listed}</part-list>{bodies}</score-partwise>'.encode()


def score_of(*parts: str, names: Iterable[str] = (), instruments: str = "") -> Score:
    return read_musicxml(file_of(*parts, names=names, instruments=instruments), "small.musicxml", VOCABULARY)


def played(score: Score) -> list[tuple[int | None, float, float]]:
    """Key, onset and length in quarters of every note."""
    return [(key(one), float(one.onset_quarters), float(one.duration_quarters)) for one in score.notes]


def key(one: Note) -> int | None:
    return None if one.midi is None else key_of_midi(one.midi)


def bar_order(score: Score) -> str:
    return " ".join(bar.bar for bar in score.bars)


def listed(score: Score) -> list[str]:
    return [one.text for one in score.not_understood]
