"""One player's cards: the lines in order of time, and how they fall on cards of one exact size.

A line is one thing to do. Figures, chores, pedals and cues are in order of their start; a change of place and a new
section stand as lines between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from rimside.paper.changes import Part, parts_of
from rimside.paper.ink import letters_on
from rimside.paper.rests import landmark, rest_of
from rimside.paper.wording import bar_at, beat, hands, how, short_values, tags, target_tags, times
from rimside.people import Player

if TYPE_CHECKING:
    from rimside.paper.book import BookInput

CARD_WIDTH_MM, CARD_HEIGHT_MM = 148.0, 210.0
"""A5 upright (ISO 216): two on a sheet of A4 with one straight cut. Reasons: docs/paper.md."""
LABEL_CAP_MM = 4.05
"""Height of a capital in the large pitch label: just under 22 minutes of arc at 650 mm (ISO 9241-3 prefers 20 to 22),
and still 20 when two cards are printed on a sheet of US letter paper, at 94 %."""
HEAD_MM, FOOT_MM, EDGE_MM = 27.0, 11.0, 3.0
LINE_MM: Mapping[str, float] = {"figure": 9.6, "section": 9.0, "move": 8.4, "cue": 8.4, "chore": 9.6}
"""Height of each kind of line."""
BODY_MM = CARD_HEIGHT_MM - HEAD_MM - FOOT_MM - EDGE_MM

Line = dict[str, object]


def card_deck(book: BookInput, player: Player, number: int) -> dict[str, object] | None:
    """All cards of one player as plain values for the template; None for a player without anything to do."""
    parts = parts_of(player.id, book.casting, book.piano, book.kit)
    lines = list(_lines(book, player, parts))
    if not lines:
        return None
    return {
        "id": player.id,
        "number": number,
        "of": len(book.players),
        "name": player.name.strip() or player.id,
        "sign": player.sign,
        "colour": player.colour,
        "colour_name": player.colour_name,
        "letters": letters_on(player.colour),
        "values": short_values(book.casting, book.piano, book.kit, player),
        "pages": _placed(paginated(lines), parts[0].place.id if parts else ""),
    }


def _lines(book: BookInput, player: Player, parts: Sequence[Part]) -> Iterator[Line]:
    """Every line of a player in order of time, with heads and moves between."""
    timed = [(part.figure.start_s, 3, _figure_lines(book, part, parts[0] is part)) for part in parts]
    timed += [(at, 1, [line]) for at, line in (*_chores(book, player), *_pedals(book, player))]
    timed += [(at, 0, [line]) for at, line in _cues(book, parts)]
    timed.sort(key=lambda row: (row[0], row[1]))
    section = ""
    for at, _, lines in timed:
        here = section_at(book, at)
        if here and here != section:
            section = here
            yield {"kind": "section", "name": here, "bar": section_bar(book, here)}
        yield from lines


def section_at(book: BookInput, seconds: float) -> str:
    """The rehearsal mark in force at a moment."""
    marks = [bar.section for bar in book.score.bars if bar.start_s <= seconds + 1e-6 and bar.section]
    if marks:
        return marks[-1]
    return next((figure.section for figure in book.casting.figures if figure.start_s >= seconds - 1e-6), "")


def section_bar(book: BookInput, name: str) -> str:
    """The printed bar where a rehearsal mark stands."""
    return next((bar.bar for bar in book.score.bars if bar.section == name), "")


def _figure_lines(book: BookInput, part: Part, first: bool) -> list[Line]:
    lines = [] if first or part.walk_mm == 0.0 else [_move(part)]
    figure = part.figure
    line: Line = {
        "kind": "figure", "bar": figure.bar, "beat": beat(figure), "hand": hands(part.cast.hands),
        "tags": tags(figure, book.scheme, book.pitch_colours), "how": how(figure), "times": times(figure.cycles),
        "hurried": part.hurried, **_tool(book, part),
    }  # fmt: skip
    return [*lines, line]


def _move(part: Part) -> Line:
    side = "left" if part.to_left else "right"
    return {"kind": "move", "place": part.place.id, "side": side, "metres": f"{part.walk_mm / 1000.0:.1f} m"}


def _tool(book: BookInput, part: Part) -> dict[str, str]:
    """Where the figure's implements rest, and whether they are in hand already."""
    named = rest_of(book.casting)
    implements = {implement.id: implement for implement in book.casting.implements}
    used = [implements[used] for used in part.cast.implements]
    if not used:
        return {"tool": "none", "rest": "", "where": ""}
    if all(implement.key is not None for implement in used):
        return {"tool": "course", "rest": "", "where": "on its course"}
    rests = dict.fromkeys(named[one.id].name for one in used if one.id in named)
    where = dict.fromkeys(landmark(book.piano, one) for one in used if one.key is None)
    return {"tool": "keep" if part.kept else "take", "rest": " ".join(rests), "where": ", ".join(where)}


def _chores(book: BookInput, player: Player) -> Iterator[tuple[float, Line]]:
    for chore in book.casting.chores:
        if chore.player == player.id:
            shown = target_tags(chore.target, book.scheme, book.pitch_colours)
            words = chore.kind if shown else f"{chore.kind} {chore.target}".strip()
            bar = bar_at(book.score, chore.start_s)
            yield chore.start_s, {"kind": "chore", "bar": bar, "hand": hands(chore.hands), "text": words, "tags": shown}


def _pedals(book: BookInput, player: Player) -> Iterator[tuple[float, Line]]:
    for action in book.casting.pedals:
        if action.by == player.id:
            for at, sign, verb in ((action.down_s, "↓", "down"), (action.up_s, "↑", "up")):
                bar = bar_at(book.score, at)
                yield (
                    at,
                    {
                        "kind": "chore",
                        "bar": bar,
                        "hand": "",
                        "text": f"{action.pedal} pedal {sign} {verb}",
                        "tags": [],
                    },
                )


def _cues(book: BookInput, parts: Sequence[Part]) -> Iterator[tuple[float, Line]]:
    """Cues for everybody, and those of the score's parts that this player plays."""
    mine = {part.figure.part for part in parts}
    for cue in book.score.cues:
        if not cue.part or cue.part in mine:
            yield cue.onset_s, {"kind": "cue", "bar": cue.bar, "text": cue.text}


def _placed(pages: Sequence[list[Line]], start: str) -> list[dict[str, object]]:
    """Each card with the place where its player stands when it begins."""
    placed: list[dict[str, object]] = []
    place = start
    for lines in pages:
        placed.append({"place": place, "lines": lines})
        place = next((str(line["place"]) for line in reversed(lines) if line["kind"] == "move"), place)
    return placed


def paginated(lines: Sequence[Line]) -> list[list[Line]]:
    """Lines on cards: none overfull, none ending with the head or move that belongs to the next line."""
    pages: list[list[Line]] = [[]]
    room_mm = BODY_MM
    for block in _blocks(lines):
        need_mm = sum(LINE_MM[str(line["kind"])] for line in block)
        if need_mm > room_mm and pages[-1]:
            pages.append([])
            room_mm = BODY_MM
        pages[-1].extend(block)
        room_mm -= need_mm
    return pages


def _blocks(lines: Sequence[Line]) -> Iterator[list[Line]]:
    """A head or move together with the line that follows it."""
    block: list[Line] = []
    for line in lines:
        block.append(line)
        if line["kind"] not in ("section", "move"):
            yield block
            block = []
    if block:
        yield block
