"""A figure sheet, one row a figure, to figures. The columns are a table that drives reader, template and tests."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from fractions import Fraction

from rimside.errors import BadInput
from rimside.pitch import Key, LabelScheme, choir_of, midi_of_key, parse
from rimside.score.figures import pace_of
from rimside.score.harmonics import partial_sounding
from rimside.score.model import Figure, Mute, Note, Score, Stroke, Technique, Touch
from rimside.score.motifs import cycles, motif
from rimside.score.result import Reading
from rimside.score.sheet_clock import Clock, clock_from
from rimside.score.weaving import with_ids, woven
from rimside.score.words import Vocabulary, normal

COLUMNS: Mapping[str, tuple[bool, str]] = {
    "section": (False, "rehearsal mark; may stay empty"),
    "start": (True, "12:3 (bar 12, beat 3; 12:2.5 is half-way through beat 2) or 83.5s (seconds)"),
    "length": (True, "of one time through: 4 beats, 2 bars, or 3.5s"),
    "technique": (True, "line bow, col legno, pizz. ...: any technique, or word of techniques.toml"),
    "pitches": (False, "C4 E4 G4 one after the other; C4+E4 together; empty at a spot"),
    "spot": (False, "frame, case ...: instead of pitches"),
    "rhythm": (True, "x strikes, . rests, each an equal share of the length (x..x..x.); or sustained; or tremolo"),
    "times": (False, "how often the length is played in a row; 1 when empty"),
    "dynamic": (False, "pp, mf ..."),
    "essential": (False, "yes or no; no when empty"),
    "part": (False, "who it belongs to; the technique when empty"),
    "touch": (
        False,
        "1/3: a finger at that node; partial 3: at any node of it; sounds G5: of what sounds so",
    ),
    "mute": (False, "finger mute or moulded mute"),
    "dry": (False, "yes: the sound is cut off at the row's end; no when empty"),
}
"""Each column: whether it must be filled, and what stands in it."""
_YES, _NO = frozenset({"yes", "y", "true", "1", "x", "essential"}), frozenset({"", "no", "n", "false", "0"})
_SOUNDS = "sounds "
_DELIMITERS = ",;\t"
MOST_TIMES = 10_000
"""Rounds of one row. Our assumption."""
_LENGTH = re.compile(r"(\d+(?:\.\d+)?(?:/\d+)?)\s*(s|sec|beats?|bars?)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One row as written, with its place."""

    where: str
    cells: Mapping[str, str]
    clock: Clock
    scheme: LabelScheme
    vocabulary: Vocabulary

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")

    def bad(self, column: str, what: str, allowed: str = "", hint: str = "") -> BadInput:
        return BadInput(
            what, where=f"{self.where}, {column}", value=self[column], allowed=allowed or COLUMNS[column][1], hint=hint
        )


@dataclass(slots=True, kw_only=True)
class _Sheet:
    """A sheet being read."""

    settings: list[tuple[str, tuple[str, ...], str]] = field(default_factory=list)
    header: tuple[str, ...] = ()
    rows: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)


def read_sheet(data: bytes, filename: str, vocabulary: Vocabulary, scheme: LabelScheme) -> Reading:
    """Read a figure sheet (CSV with comma, semicolon or tab; UTF-8).

    Parameters
    ----------
    data : the bytes of the file.
    filename : its name, for messages.
    vocabulary : what the words in the technique column mean.
    scheme : how pitch labels name octaves, unless the sheet's #labels row says it.

    Raises
    ------
    BadInput : a cell that cannot be read, with file, line, column, value and what is allowed.
    """
    sheet = _split(data, filename)
    clock, title, sheet_scheme = clock_from(sheet.settings, scheme)
    rows = [
        _Row(
            where=where,
            cells=_cells(sheet.header, cells, where),
            clock=clock,
            scheme=sheet_scheme,
            vocabulary=vocabulary,
        )
        for where, cells in sheet.rows
    ]
    figures = with_ids([_woven(_figure(row), clock) for row in rows])
    return Reading(score=_score(title, figures, clock), figures=figures)


def _split(data: bytes, filename: str) -> _Sheet:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(
            "the sheet is not UTF-8 text",
            where=f"{filename}, byte {error.start}",
            value=data[error.start : error.start + 4],
            allowed="UTF-8",
            hint="save it as 'CSV UTF-8'?",
        ) from error
    sheet = _Sheet()
    delimiter = _delimiter(text)
    try:
        for line, cells in enumerate(csv.reader(io.StringIO(text), delimiter=delimiter, strict=True), start=1):
            _take_line(sheet, f"{filename}, line {line}", tuple(cell.strip() for cell in cells))
    except csv.Error as error:
        raise BadInput("the sheet is not readable as CSV", where=filename, value=str(error)) from error
    if not sheet.header:
        raise BadInput("the sheet has no row of column names", where=filename, allowed=", ".join(COLUMNS))
    return sheet


def _delimiter(text: str) -> str:
    """The one that the row of column names uses most."""
    lines = (line for line in text.splitlines() if line.strip() and not line.startswith(("#", '"#')))
    header = next(lines, "")
    return max(_DELIMITERS, key=header.count)


def _take_line(sheet: _Sheet, where: str, cells: tuple[str, ...]) -> None:
    if not any(cells):
        return
    if cells[0].startswith("#"):
        name = cells[0][1:].strip()
        if name and not cells[0].startswith("# "):
            # A row of settings uses the sheet's own delimiter or, at its head, commas.
            values = cells if len(cells) > 1 else tuple(one.strip() for one in cells[0].split(","))
            sheet.settings.append((values[0][1:].strip().lower(), tuple(one for one in values[1:] if one), where))
    elif not sheet.header:
        sheet.header = _header(cells, where)
    else:
        sheet.rows.append((where, cells))


def _header(cells: Sequence[str], where: str) -> tuple[str, ...]:
    names = tuple(cell.lower() for cell in cells)
    for name in names:
        if name and name not in COLUMNS:
            raise BadInput("unknown column", where=where, value=name, allowed=", ".join(COLUMNS))
    missing = [name for name, (needed, _) in COLUMNS.items() if needed and name not in names]
    if missing:
        raise BadInput("columns are missing", where=where, value=", ".join(missing), allowed=", ".join(COLUMNS))
    return names


def _cells(header: Sequence[str], cells: Sequence[str], where: str) -> dict[str, str]:
    if len(cells) > len(header) and any(cells[len(header) :]):
        raise BadInput(
            "the row has more cells than there are columns",
            where=where,
            value=len(cells),
            allowed=f"{len(header)}",
            hint="is a comma inside a cell? put the cell in quotes",
        )
    found = {name: cell for name, cell in zip(header, cells, strict=False) if name}
    for name, (needed, meaning) in COLUMNS.items():
        if needed and not found.get(name):
            raise BadInput("the cell is empty", where=f"{where}, {name}", allowed=meaning)
    return found


def _figure(row: _Row) -> Figure:
    technique = _technique(row)
    steps = _steps(row, technique)
    start_s, one_s = _start_and_length(row)
    times = _times(row)
    strokes = tuple(_strokes(row, steps, start_s, one_s, times))
    bar, beat = row.clock.bar_and_beat(start_s)
    touch, mute, tremolo = _touch(row, steps), _mute(row), normal(row["rhythm"]) == "tremolo"
    return Figure(
        id="unnamed",
        part=row["part"] or technique.value,
        section=row["section"],
        bar=bar,
        beat=beat,
        start_s=start_s,
        end_s=start_s + times * one_s,
        technique=technique,
        keys=tuple(dict.fromkeys(key for step in steps for key in step)),
        spot=row["spot"] or None,
        strokes=strokes,
        touch=touch,
        mute=mute,
        tremolo=tremolo,
        dynamic=row["dynamic"],
        cycles=cycles(strokes) if len(strokes) > 1 else 1,
        motif=motif(technique, strokes, row["spot"] or None, touch, mute, tremolo),
        essential=_flag(row, "essential"),
        dry=_dry(row),
    )


def _woven(figure: Figure, clock: Clock) -> tuple[Figure, ...]:
    pace = pace_of(figure)
    return woven(figure, pace, clock.bar_and_beat) if pace else (figure,)


def _technique(row: _Row) -> Technique:
    word = row["technique"]
    meaning = row.vocabulary.meaning(word)
    if meaning is None or meaning.technique is None:
        raise row.bad(
            "technique",
            "unknown technique",
            ", ".join(one.value for one in Technique),
            "add the word to techniques.toml?",
        )
    return meaning.technique


def _steps(row: _Row, technique: Technique) -> tuple[tuple[Key, ...], ...]:
    """Keys by step, each step's keys struck together; none at a spot. Checks that the technique can have them."""
    steps = tuple(tuple(_key(row, label) for label in step.split("+")) for step in row["pitches"].split())
    count = len({key for step in steps for key in step})
    if bool(steps) == bool(row["spot"]):
        raise row.bad("pitches", "a row has pitches or a spot, not both and not neither")
    if (technique is Technique.BEATER) != bool(row["spot"]):
        raise row.bad(
            "technique",
            "beaters play spots, everything else plays strings",
            "beater with a spot, another technique with pitches",
        )
    most = _MOST_KEYS.get(technique)
    if most is not None and count > most:
        raise row.bad("pitches", f"{technique.value} takes at most {most} a row", hint="write a row for each pitch")
    if len(steps) > 1 and normal(row["rhythm"]) in ("sustained", "tremolo"):
        raise row.bad("pitches", "sustained pitches sound together", "C4+E4", "join them with +?")
    return steps


_MOST_KEYS: Mapping[Technique, int] = {
    Technique.LINE_BOW: 1,
    Technique.FRICTION_STRIP: 1,
    Technique.MAGNET_DRIVE: 1,
    Technique.STICK_BOW: 2,
}
"""Courses that one figure of a sustained technique can have: see the table of techniques in docs/design.md."""


def _key(row: _Row, label: str) -> Key:
    try:
        return parse(label, row.scheme)
    except BadInput as error:
        raise error.at(f"{row.where}, pitches") from None


def _start_and_length(row: _Row) -> tuple[float, float]:
    """When the row starts and how long one time through lasts, s."""
    start_s = row.clock.start_s(row["start"], f"{row.where}, start")
    form = _LENGTH.fullmatch(row["length"].strip().lower())
    if form is None or (amount := _amount(form[1])) <= 0:
        raise row.bad("length", "not a length")
    if not form[2]:
        raise row.bad("length", "the length has no unit", hint=f"{form[1]} beats, or {form[1]}s?")
    if form[2].startswith("s"):
        return start_s, float(amount)
    return start_s, row.clock.length_s(start_s, amount, "bars" if form[2].startswith("bar") else "beats")


def _amount(text: str) -> Fraction:
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        return Fraction(0)


def _times(row: _Row) -> int:
    text = row["times"] or "1"
    if not text.isdecimal() or not 1 <= int(text) <= MOST_TIMES:
        raise row.bad("times", "not a number of times", f"1 to {MOST_TIMES}")
    return int(text)


def _strokes(row: _Row, steps: Sequence[tuple[Key, ...]], start_s: float, one_s: float, times: int) -> Iterator[Stroke]:
    """Hits take the pitches in turn, starting over each time; each rings until the next hit or the end."""
    hits = _hits(row)
    moments = [start_s + one_s * (float(hit) + number) for number in range(times) for hit in hits]
    ends = [*moments[1:], start_s + one_s * times]
    for number, (onset_s, until_s) in enumerate(zip(moments, ends, strict=True)):
        keys: tuple[Key | None, ...] = steps[number % len(hits) % len(steps)] if steps else (None,)
        yield from (Stroke(onset_s=onset_s, until_s=until_s, key=key) for key in keys)


def _hits(row: _Row) -> tuple[Fraction, ...]:
    """Where the strokes fall in one time through, as fractions of it."""
    if normal(row["rhythm"]) in ("sustained", "tremolo"):
        return (Fraction(0),)
    signs = re.sub(r"[\s|]", "", row["rhythm"].lower())
    if not signs or set(signs) - {"x", "."}:
        raise row.bad("rhythm", "not a rhythm")
    hits = tuple(Fraction(place, len(signs)) for place, sign in enumerate(signs) if sign == "x")
    if not hits:
        raise row.bad("rhythm", "the rhythm has no stroke")
    return hits


def _touch(row: _Row, steps: Sequence[Sequence[Key]]) -> Touch | None:
    if not row["touch"]:
        return None
    if row["touch"].casefold().startswith(_SOUNDS):
        return _sounding(row, {key for step in steps for key in step})
    meaning = row.vocabulary.meaning(f"touch {row['touch']}") or row.vocabulary.meaning(row["touch"])
    if meaning is None or meaning.touch is None:
        raise row.bad("touch", "not a node", "k/n in lowest terms, 1/2 to 15/16; partial 2 to partial 16; sounds G5")
    return meaning.touch


def _sounding(row: _Row, keys: Set[Key]) -> Touch:
    """The partial that sounds as written, of the one course of the row."""
    try:
        sounding = parse(row["touch"][len(_SOUNDS) :], row.scheme)
    except BadInput as error:
        raise error.at(f"{row.where}, touch") from None
    if len(keys) != 1:
        raise row.bad("touch", "a sounding pitch is for one course", hint="write a row for each pitch")
    (key,) = keys
    touch = partial_sounding(midi_of_key(key), midi_of_key(sounding))
    if touch is None:
        allowed = "octave, twelfth, two octaves ... above the course, up to four octaves"
        raise row.bad("touch", "no partial of the course sounds there", allowed)
    return touch


def _mute(row: _Row) -> Mute:
    if not row["mute"]:
        return Mute.NONE
    meaning = row.vocabulary.meaning(row["mute"])
    if meaning is None or meaning.mute is None:
        raise row.bad("mute", "unknown mute")
    return meaning.mute


def _flag(row: _Row, column: str) -> bool:
    word = row[column].lower()
    if word not in _YES | _NO:
        raise row.bad(column, "neither yes nor no")
    return word in _YES


def _dry(row: _Row) -> bool:
    """Yes, no, or a word of the vocabulary (secco, l.v.)."""
    meaning = row.vocabulary.meaning(row["dry"]) if row["dry"] else None
    return meaning.dry if meaning is not None and meaning.dry is not None else _flag(row, "dry")


def _score(title: str, figures: Sequence[Figure], clock: Clock) -> Score:
    """The sheet's strokes as notes, so that everything downstream finds them where a score has them."""
    end_s = max((figure.end_s for figure in figures), default=0.0)
    return Score(
        title=title,
        parts=tuple(dict.fromkeys(figure.part for figure in figures)),
        notes=tuple(
            sorted(
                (note for figure in figures for note in _notes(figure, clock)),
                key=lambda note: (note.onset_quarters, note.part, -(note.midi or 0)),
            )
        ),
        bars=clock.bars_until(end_s, [(figure.start_s, figure.section) for figure in figures if figure.section]),
        not_understood=(),
        end_s=end_s,
    )


def _notes(figure: Figure, clock: Clock) -> Iterator[Note]:
    for stroke in figure.strokes:
        bar, beat = clock.bar_and_beat(stroke.onset_s)
        onset = clock.quarters(stroke.onset_s)
        yield Note(
            part=figure.part,
            voice="1",
            midi=None if stroke.key is None else float(midi_of_key(stroke.key)),
            choir=1 if stroke.key is None else choir_of(stroke.key),
            spot=figure.spot,
            onset_quarters=onset,
            duration_quarters=clock.quarters(stroke.until_s) - onset,
            onset_s=stroke.onset_s,
            duration_s=stroke.until_s - stroke.onset_s,
            bar=bar,
            beat=beat,
            dynamic=figure.dynamic,
            technique=figure.technique,
            touch=figure.touch,
            mute=figure.mute,
            tremolo_strokes=int(figure.tremolo),
            section=figure.section,
            essential=figure.essential,
            dry=figure.dry,
        )


_TEMPLATE_HEAD = """\
# A figure sheet: one row is one figure, the smallest piece of music given whole to one player.
# Lines that begin with # and a space are comments. Lines that begin with # and a word are settings:
#title,Name of the piece
#labels,scientific
#tempo,96
#meter,4/4
#tempo,60,17
# The last line says: 60 quarters a minute from bar 17 on. #meter,3/4,17 works the same way.
# Rows that start in seconds need no tempo and no meter. The columns:
"""
_TEMPLATE_ROWS = """\
A,1:1,4 bars,line bow,C4,,sustained,1,p,yes,Line bow 1,,
A,1:1,2 bars,col legno,E3 G3,,x..x..x.,2,mf,no,Hammers,,
B,17:1,2 bars,pizz.,C5+E5,,x.x.,4,p,no,Plucks,,moulded mute
B,17:3,3.5s,line bow,A2,,sustained,1,pp,no,Line bow 2,1/3,
B,18:1,1 bars,beater,,frame,x.xx,8,f,no,Beaters,,
"""


def template_csv() -> str:
    """A commented figure sheet with five rows to write over; it can be read as it stands."""
    columns = "\n".join(
        f"#   {name}{'' if needed else ' (may be empty)'}: {meaning}" for name, (needed, meaning) in COLUMNS.items()
    )
    return f"{_TEMPLATE_HEAD}{columns}\n{','.join(COLUMNS)}\n{_TEMPLATE_ROWS}"
