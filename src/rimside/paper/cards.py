"""One player's cards: the lines in order of time, and how they fall on cards of one exact size.

A line is one thing to do. Figures, chores, pedals and cues are in order of their start; a change of place and a new
section stand as lines between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rimside.casting.chore import ChoreKind
from rimside.casting.result import HELD_KEYS
from rimside.paper.aside import asides
from rimside.paper.changes import Part, parts_of, walk
from rimside.paper.ink import letters_on
from rimside.paper.material import BookInput
from rimside.paper.rests import landmark, rest_of
from rimside.paper.sections import bar_of, section_at
from rimside.paper.tag_rows import tag_rows
from rimside.paper.turning import paginated
from rimside.paper.wording import (
    HOLDS,
    beat,
    deed,
    hands,
    held,
    holder,
    how,
    pass_at,
    short_values,
    tags,
    times,
)
from rimside.people import Player
from rimside.piano.model import Place

CARD_WIDTH_MM, CARD_HEIGHT_MM = 148.0, 210.0
"""A5 upright (ISO 216): two on a sheet of A4 with one straight cut. Reasons: docs/paper.md."""
LABEL_CAP_MM = 4.05
"""Height of a capital in the large pitch label: just under 22 minutes of arc at 650 mm (ISO 9241-3 prefers 20 to 22),
and still 20 when two cards are printed on a sheet of US letter paper, at 94 %."""
HEAD_MM, FOOT_MM, EDGE_MM = 27.0, 11.0, 3.0
BODY_MM = CARD_HEIGHT_MM - HEAD_MM - FOOT_MM - EDGE_MM
"""Room for lines."""

Line = dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doing:
    """One thing to do: from when, how long it keeps hands busy, from where, its lines, and a figure's `part`."""

    start_s: float
    until_s: float
    place: Place | None
    lines: tuple[Line, ...]
    part: Part | None = None


def card_deck(book: BookInput, player: Player, number: int) -> dict[str, object] | None:
    """All cards of one player as plain values for the template; None for a player without anything to do."""
    todo = doings(book, player)
    stand = first_stand(todo)
    lines = list(_lines(book, todo, stand))
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
        "pages": _placed(paginated(lines, BODY_MM), stand.id if stand else ""),
    }


def doings(book: BookInput, player: Player) -> tuple[Doing, ...]:
    """Everything that a player does, and the cues for it, in order of time; at one moment cues go first."""
    parts = parts_of(player.id, book.casting, book.piano, book.kit)
    found = [Doing(start_s=at, until_s=at, place=None, lines=(line,)) for at, line in _cues(book, parts)]
    found += [
        Doing(start_s=at, until_s=until, place=place, lines=(line,))
        for at, until, place, line in (*_chores(book, player), *_pedals(book, player))
    ]
    found += [
        Doing(
            start_s=part.figure.start_s, until_s=part.figure.end_s, place=part.place, part=part,
            lines=tuple(_figure_lines(book, part)),
        )
        for part in parts
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda doing: doing.start_s))


def first_stand(todo: Sequence[Doing]) -> Place | None:
    """Where a player stands first: for the load-in, else for the first figure or chore."""
    return next((doing.place for doing in todo if doing.place is not None), None)


def _lines(book: BookInput, todo: Sequence[Doing], stand: Place | None) -> Iterator[Line]:
    """Every line of a player who begins at `stand`, in order of time, with heads and moves between.

    The first line of each thing to do carries `free_s`: how long both hands are free before it.
    """
    section, busy_until_s = None, 0.0
    for doing in todo:
        here, free_s = section_at(book, doing.start_s), max(0.0, doing.start_s - busy_until_s)
        lines = list(doing.lines)
        if doing.place is not None and stand is not None and doing.place.id != stand.id:
            lines = [_move(book, stand, doing.place), *lines]
        if here and here != section:
            section = here
            lines = [{"kind": "section", "name": here.name, "bar": here.bar, "pass": here.nth}, *lines]
        yield from ({**line, "free_s": free_s if number == 0 else 0.0} for number, line in enumerate(lines))
        busy_until_s, stand = max(busy_until_s, doing.until_s), doing.place or stand


def _figure_lines(book: BookInput, part: Part) -> list[Line]:
    figure, words = part.figure, how(part.figure)
    shown = tag_rows(tags(figure, book.scheme, book.pitch_colours), words)
    line: Line = {
        "kind": "figure", "bar": figure.bar, "pass": pass_at(book.score, figure.bar, figure.start_s),
        "beat": beat(figure), "hand": hands(part.cast.hands), "tags": [tag for row in shown for tag in row],
        "tag_rows": shown, "rows": len(shown), "how": words, "times": times(figure.cycles), "hurried": part.hurried,
        **tool_of(book, part),
    }  # fmt: skip
    return [*asides(book, figure), line]


def _move(book: BookInput, start: Place, goal: Place) -> Line:
    walk_mm, to_left = walk(start, goal, book.casting, book.piano)
    side = "left" if to_left else "right"
    return {"kind": "move", "place": goal.id, "side": side, "metres": f"{walk_mm / 1000.0:.1f} m"}


def tool_of(book: BookInput, part: Part) -> dict[str, str]:
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


def _chores(book: BookInput, player: Player) -> Iterator[tuple[float, float, Place | None, Line]]:
    places = {place.id: place for place in book.casting.places}
    for chore in book.casting.chores:
        if chore.player == player.id and chore.kind not in HOLDS:
            shown, words = deed(chore, book.casting, book.scheme, book.pitch_colours)
            line = _chore(book, chore.start_s, words, hands(chore.hands), shown)
            if chore.kind == ChoreKind.TURN:
                line["turns"] = True
            yield chore.start_s, chore.end_s, places.get(chore.place or ""), line


def _pedals(book: BookInput, player: Player) -> Iterator[tuple[float, float, Place | None, Line]]:
    """Both ends of each pedal and group of keys that a player holds; keys keep a hand busy until then."""
    places = {place.id: place for place in book.casting.places}
    for action in book.casting.pedals:
        if action.by == player.id:
            what, chore = held(action, book.scheme), holder(action, book.casting)
            hand = hands(chore.hands) if chore is not None else ""
            place = places.get(chore.place or "") if chore is not None else None
            busy_until_s = action.up_s if action.pedal == HELD_KEYS else action.down_s
            yield action.down_s, busy_until_s, place, _chore(book, action.down_s, f"{what} ↓ down", hand)
            yield action.up_s, action.up_s, place, _chore(book, action.up_s, f"{what} ↑ up", hand)


def _chore(book: BookInput, at_s: float, words: str, hand: str = "", shown: Sequence[Mapping[str, str]] = ()) -> Line:
    bar = bar_of(book, at_s)
    nth = pass_at(book.score, bar, at_s)
    return {"kind": "chore", "bar": bar, "pass": nth, "hand": hand, "text": words, "tags": list(shown)}


def _cues(book: BookInput, parts: Sequence[Part]) -> Iterator[tuple[float, Line]]:
    """Cues for everybody, and those of the score's parts that this player plays."""
    mine = {part.figure.part for part in parts}
    for cue in book.score.cues:
        if not cue.part or cue.part in mine:
            nth = pass_at(book.score, cue.bar, cue.onset_s)
            yield cue.onset_s, {"kind": "cue", "bar": cue.bar, "pass": nth, "text": cue.text}


def _placed(pages: Sequence[list[Line]], start: str) -> list[dict[str, object]]:
    """Each card with the place where its player stands when it begins, and the time there is to turn to the next."""
    placed: list[dict[str, object]] = []
    place = start
    for number, lines in enumerate(pages):
        following = pages[number + 1][0] if number + 1 < len(pages) else None
        turn = "" if following is None else f"{float(str(following['free_s'])):.0f} s"
        placed.append({"place": place, "lines": lines, "turn": turn})
        place = next((str(line["place"]) for line in reversed(lines) if line["kind"] == "move"), place)
    return placed
