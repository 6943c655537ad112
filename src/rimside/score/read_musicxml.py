"""MusicXML 4.0 to a score: the parts of the file laid on one grid of bars, then played."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from rimside.errors import BadInput
from rimside.score.model import NotUnderstood, Score
from rimside.score.musicxml_measures import RawBar, RawPart, read_part
from rimside.score.musicxml_safe import root_of
from rimside.score.musicxml_values import text_of
from rimside.score.playing import play
from rimside.score.words import Vocabulary
from rimside.score.written import JumpKind, Page, WrittenBar, WrittenJump, WrittenPart

if TYPE_CHECKING:
    from lxml.etree import _Element

_WITHOUT_METER = Fraction(4)
"""An empty bar before any time signature, quarters. Our assumption."""


def read_musicxml(data: bytes, filename: str, vocabulary: Vocabulary) -> Score:
    """Read a MusicXML file (.musicxml, .xml, .mxl) and play out its repeats.

    Parameters
    ----------
    data : the bytes of the file.
    filename : its name, for messages.
    vocabulary : what the words mean.

    Raises
    ------
    BadInput : damaged, unsafe or unusable; the message names file, part and bar.
    """
    page = read_page(data, filename)
    try:
        return play(page, vocabulary)
    except BadInput as error:
        raise error.at(filename) from None


def read_page(data: bytes, filename: str) -> Page:
    """The page of a MusicXML file as written. Raises BadInput."""
    root = root_of(data, filename)
    parts = _parts(root, filename)
    bars, problems = _grid(parts)
    jumps = _jumps(parts, bars)
    problems += [
        NotUnderstood(bar=part.bars[index].name, part=part.name, text=text)
        for part in parts
        for index, text in part.marks.listed
    ]
    problems += _cuts(jumps, bars)
    return Page(
        title=text_of(root, "work/work-title") or text_of(root, "movement-title"),
        parts=tuple(
            WrittenPart(
                name=part.name,
                notes=tuple(part.notes),
                words=tuple(part.marks.words),
                dynamics=tuple(part.marks.dynamics),
            )
            for part in parts
        ),
        bars=bars,
        tempos=tuple(tempo for part in parts for tempo in part.marks.tempos),
        pedals=tuple(dict.fromkeys(pedal for part in parts for pedal in part.marks.pedals)),
        sections=tuple(dict.fromkeys(section for part in parts for section in part.marks.sections)),
        jumps=jumps,
        not_understood=tuple(dict.fromkeys(problems)),
    )


def _parts(root: _Element, filename: str) -> list[RawPart]:
    declared = {part.get("id", ""): part for part in root.iterfind("part-list/score-part")}
    parts: list[RawPart] = []
    for part_id, measures in _measures(root):
        part = _raw_part(part_id, declared.get(part_id))
        read_part(part, measures, filename)
        if not part.bars:
            raise BadInput(
                "the part is empty",
                where=f"{filename}, part {part.name}",
                value="no <measure>",
                allowed="at least one bar",
            )
        parts.append(part)
    if not parts:
        raise BadInput("the score has no part", where=filename, value="no <part>", allowed="at least one part")
    return parts


def _measures(root: _Element) -> Iterator[tuple[str, list[tuple[_Element, _Element]]]]:
    """Each part's bars as (header, content), whichever way round the file holds them."""
    if root.tag == "score-partwise":
        for part in root.iterfind("part"):
            yield part.get("id", ""), [(measure, measure) for measure in part.iterfind("measure")]
        return
    columns: dict[str, list[tuple[_Element, _Element]]] = {}
    for measure in root.iterfind("measure"):
        for part in measure.iterfind("part"):
            columns.setdefault(part.get("id", ""), []).append((measure, part))
    yield from columns.items()


def _raw_part(part_id: str, declared: _Element | None) -> RawPart:
    name, instruments = "", {}
    if declared is not None:
        name = text_of(declared, "part-name") or text_of(declared, "part-name-display")
        instruments = {
            one.get("id", ""): text_of(one, "instrument-name") for one in declared.iterfind("score-instrument")
        }
        same = Counter(text_of(one, "part-name") for one in declared.itersiblings("score-part", preceding=True))
        name += f" ({part_id})" if same[name] and name else ""
    return RawPart(id=part_id, name=name or part_id, instruments=instruments)


def _grid(parts: Sequence[RawPart]) -> tuple[tuple[WrittenBar, ...], list[NotUnderstood]]:
    """One row of bars for all parts: as long as the longest part's bar, with the signs of every part."""
    bars: list[WrittenBar] = []
    problems: list[NotUnderstood] = []
    for index in range(max(len(part.bars) for part in parts)):
        column = [(part, part.bars[index]) for part in parts if index < len(part.bars)]
        lengths = [bar.length for _, bar in column if bar.length is not None]
        bar = _merged([raw for _, raw in column], max(lengths, default=None), index)
        bars.append(bar)
        problems += [
            NotUnderstood(
                bar=bar.name, part=part.name, text=f"the bar holds {raw.length} quarters here, {bar.length} elsewhere"
            )
            for part, raw in column
            if raw.length not in (None, bar.length) and not raw.implicit
        ]
    return _with_endings(bars, parts), problems


def _merged(column: Sequence[RawBar], length: Fraction | None, index: int) -> WrittenBar:
    full = next((raw.full_length for raw in column if raw.full_length), None)
    length = length or full or _WITHOUT_METER
    implicit = any(raw.implicit for raw in column)
    return WrittenBar(
        name=column[0].name,
        length=length,
        full_length=full,
        beat_unit=column[0].beat_unit,
        pickup=implicit or (index == 0 and full is not None and length < full),
        forward=any(raw.forward for raw in column),
        backward=max(raw.backward for raw in column),
        after_jump=any(raw.after_jump for raw in column),
    )


def _with_endings(bars: Sequence[WrittenBar], parts: Sequence[RawPart]) -> tuple[WrittenBar, ...]:
    """Lay each ending bracket over its bars: from its start to its stop, or to an end-repeat when none is given."""
    done: list[WrittenBar] = []
    current: frozenset[int] = frozenset()
    for index, bar in enumerate(bars):
        column = [part.bars[index] for part in parts if index < len(part.bars)]
        starting = next((raw.ending for raw in column if raw.ending is not None), None)
        if starting is not None:
            current = starting or frozenset({max(current, default=0) + 1})
        done.append(replace(bar, ending=current, ending_starts=starting is not None))
        if bar.backward or any(raw.ending_stops for raw in column):
            current = frozenset()
    return tuple(done)


def _jumps(parts: Sequence[RawPart], bars: Sequence[WrittenBar]) -> tuple[WrittenJump, ...]:
    """The leaps and goals of all parts, once each: a leap in one part holds for all, playback's word first."""
    found: dict[tuple[int, JumpKind], WrittenJump] = {}
    for jump in (jump for part in parts for jump in part.marks.jumps):
        key = (jump.at[0], jump.kind)
        if jump.at[0] < len(bars) and (key not in found or (jump.target and not found[key].target)):
            found[key] = jump
    return _first_coda_leads_away(sorted(found.values(), key=lambda jump: jump.at))


def _first_coda_leads_away(jumps: Iterable[WrittenJump]) -> tuple[WrittenJump, ...]:
    """Of two bare coda signs the first is where to leave, the second where to go."""
    jumps = list(jumps)
    codas = [number for number, jump in enumerate(jumps) if jump.kind is JumpKind.CODA]
    if len(codas) > 1 and not any(jump.kind is JumpKind.TO_CODA for jump in jumps):
        jumps[codas[0]] = replace(jumps[codas[0]], kind=JumpKind.TO_CODA)
    return tuple(jumps)


def _cuts(jumps: Iterable[WrittenJump], bars: Sequence[WrittenBar]) -> list[NotUnderstood]:
    """Leaps inside a bar cut it: taken as written, but named, because some programs only place them loosely."""
    goals = (JumpKind.SEGNO, JumpKind.CODA)
    return [
        NotUnderstood(
            bar=bars[jump.at[0]].name,
            part="",
            text=f"{jump.kind.value} inside the bar: the rest of the bar is not played after it",
        )
        for jump in jumps
        if jump.kind not in goals and 0 < jump.at[1] < bars[jump.at[0]].length
    ]
