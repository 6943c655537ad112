"""Paper strips at true size that are laid beside strings: every node of the first partials, k/n from the near end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rimside.errors import BadInput
from rimside.paper.lettering import FAMILIES, settable
from rimside.paper.papers import PAPERS_MM
from rimside.paper.typeset import typeset
from rimside.paper.wording import SCHEME_WORDS
from rimside.piano.access import cuts
from rimside.piano.model import Course, Piano
from rimside.piano.nodes import PARTIALS, Node, best_node, nodes_table
from rimside.pitch import Key, LabelScheme, label, plain_key

MARGIN_MM, HEAD_MM, STRIP_MM = 12.0, 24.0, 34.0
OVERLAP_MM = 20.0
"""What two sheets of one strip show alike, so that they can be laid over each other at the seam in its middle."""
CHECK_MM = 100.0
RULER_STEP_MM = 10.0
Line = dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One sheet's part of a strip: from where to where along the string, mm, and how many sheets before and in all."""

    from_mm: float
    to_mm: float
    number: int
    count: int


def tiles(length_mm: float, width_mm: float) -> tuple[Tile, ...]:
    """The parts of a strip on sheets that show `width_mm` each, every two with `OVERLAP_MM` in common."""
    step_mm = width_mm - OVERLAP_MM
    count = 1 if length_mm <= width_mm else 1 + math.ceil((length_mm - width_mm) / step_mm)
    return tuple(
        Tile(from_mm=n * step_mm, to_mm=min(length_mm, n * step_mm + width_mm), number=n + 1, count=count)
        for n in range(count)
    )


def make_strips(
    piano: Piano, keys: Sequence[Key], scheme: LabelScheme = LabelScheme.SCIENTIFIC, sheet: str = "a4"
) -> bytes:
    """The strips of some courses as PDF at true size, several courses a sheet, long ones over several sheets.

    Each partial has a row, a shape and labels of its own; a node that is covered is hollow, the best of its partial has
    a ring. Every sheet carries an edge of 100 mm to check the printer by.

    Raises
    ------
    BadInput : no key, or an unknown sheet.
    """
    if not keys:
        raise BadInput("a strip is for one course or more", allowed="keys of this piano")
    if sheet not in PAPERS_MM:
        raise BadInput("unknown sheet", value=sheet, allowed=", ".join(PAPERS_MM))
    height_mm, width_mm = PAPERS_MM[sheet]  # strips lie across
    run_mm, fit = width_mm - 2 * MARGIN_MM, int((height_mm - HEAD_MM - MARGIN_MM) // STRIP_MM)
    courses = [piano.course(key) for key in sorted(set(keys))]
    groups = [courses[at : at + fit] for at in range(0, len(courses), fit)]
    values: dict[str, object] = {
        "piano": settable(piano.title),
        "scheme": SCHEME_WORDS[scheme],
        "sheet": [width_mm, height_mm],
        "margin": MARGIN_MM,
        "head": HEAD_MM,
        "strip": STRIP_MM,
        "check": CHECK_MM,
        "partials": list(PARTIALS),
        "pages": [page for group in groups for page in _pages(piano, group, scheme, run_mm)],
        "fonts": list(FAMILIES),
    }
    return typeset("strips.typ", values, {})


def _pages(piano: Piano, group: Sequence[Course], scheme: LabelScheme, run_mm: float) -> list[list[Line]]:
    """The sheets of some courses: the first parts of all, the second parts of those that are longer, and so on."""
    cut = [(course, tiles(course.length_mm, run_mm)) for course in group]
    tables = {course.key: nodes_table(piano, course.key) for course in group}
    return [
        [
            _strip(piano, course, parts[number], tables[course.key], scheme)
            for course, parts in cut
            if number < len(parts)
        ]
        for number in range(max(len(parts) for _, parts in cut))
    ]


def _strip(piano: Piano, course: Course, tile: Tile, nodes: Sequence[Node], scheme: LabelScheme) -> Line:
    best = [best_node(nodes, partial) for partial in PARTIALS]
    from_mm, to_mm = tile.from_mm, tile.to_mm
    return {
        "name": f"{label(course.key, scheme)} · key {int(plain_key(course.key))}",
        "length": f"{course.length_mm:.1f}",
        "part": f"sheet {tile.number} of {tile.count}" if tile.count > 1 else "",
        "run": to_mm - from_mm,
        "near": tile.number == 1,
        "far": tile.number == tile.count,
        "seams": _seams(tile),
        "ticks": _ticks(tile),
        "covered": [
            {
                "name": settable(cut.words),
                "from": max(cut.stretch.from_mm, from_mm) - from_mm,
                "to": min(cut.stretch.to_mm, to_mm) - from_mm,
            }
            for cut in cuts(piano, course)
            if cut.stretch.to_mm > from_mm and cut.stretch.from_mm < to_mm
        ],
        "nodes": [
            {
                "at": node.from_near_mm - from_mm,
                "n": node.touch.n,
                "node": node.touch.node,
                "usable": node.usable,
                "best": node in best,
            }
            for node in nodes
            if from_mm <= node.from_near_mm <= to_mm
        ],
    }


def _seams(tile: Tile) -> list[Line]:
    """Where the sheet before and the sheet after are laid over: mm from the sheet's first, and how many mm that is."""
    half_mm = OVERLAP_MM / 2.0
    found: list[Line] = []
    if tile.number > 1:
        found.append({"at": half_mm, "mm": round(tile.from_mm + half_mm, 1), "other": tile.number - 1})
    if tile.number < tile.count:
        at_mm = tile.to_mm - tile.from_mm - half_mm
        found.append({"at": at_mm, "mm": round(tile.to_mm - half_mm, 1), "other": tile.number + 1})
    return found


def _ticks(tile: Tile) -> list[Line]:
    """A ruler: every 10 mm, longer and with its number every 50."""
    first = math.ceil(tile.from_mm / RULER_STEP_MM - 1e-9)
    last = math.floor(tile.to_mm / RULER_STEP_MM + 1e-9)
    return [
        {"at": n * RULER_STEP_MM - tile.from_mm, "label": f"{n * RULER_STEP_MM:.0f}" if n % 5 == 0 else ""}
        for n in range(first, last + 1)
    ]
