"""The running order for the director: everything that happens, in order of time, and what the casting is worth."""

from __future__ import annotations

from collections.abc import Iterator

from rimside.casting.result import bare_level
from rimside.paper.aside import instead_words, node_words, weave_words
from rimside.paper.changes import Part, parts_of
from rimside.paper.ink import letters_on
from rimside.paper.material import BookInput
from rimside.paper.sections import bar_of, section_at
from rimside.paper.wording import (
    HOLDS,
    IN_MILLISECONDS,
    LEVELS,
    bar_at,
    beat,
    clock,
    deed,
    hands,
    held,
    holder,
    how,
    pass_at,
    tags,
    times,
)
from rimside.people import Player

Row = dict[str, object]


def running_order(book: BookInput) -> dict[str, object]:
    """The sheet's rows, uncast figures and proof as plain values for the template."""
    timed = sorted(_rows(book), key=lambda pair: (pair[0], str(pair[1]["kind"]) == "figure"))
    return {
        "rows": list(_with_sections(book, timed)),
        "uncast": [_uncast(book, number) for number in range(len(book.casting.uncast))],
        "proof": [_proof(level, value, bound) for level, value, bound in _levels(book)],
        "seconds": f"{book.casting.seconds:.0f} s",
        "cast": len(book.casting.cast),
        "figures": len(book.casting.figures),
        "hurried": sum(1 for _, row in timed if row.get("hurried")),
    }


def _with_sections(book: BookInput, timed: list[tuple[float, Row]]) -> Iterator[Row]:
    section = None
    for at, row in timed:
        here = section_at(book, at)
        if here and here != section:
            section = here
            yield {"kind": "section", "name": here.name, "bar": here.bar, "pass": here.nth}
        yield row


def who(player: Player) -> dict[str, str]:
    """A player as a sheet shows one: sign on the field, name, colour."""
    return {
        "sign": player.sign, "name": player.name, "colour": player.colour, "letters": letters_on(player.colour),
        "colour_name": player.colour_name,
    }  # fmt: skip


def _rows(book: BookInput) -> Iterator[tuple[float, Row]]:
    for player in book.players:
        for part in parts_of(player.id, book.casting, book.piano, book.kit):
            yield part.figure.start_s, _figure(book, player, part)
    yield from _chores(book)
    yield from _pedals(book)
    for cue in book.score.cues:
        words = f"{cue.part}: {cue.text}" if cue.part else cue.text
        yield cue.onset_s, {"kind": "cue", **_when(book, cue.onset_s, cue.bar), "text": words}


def _when(book: BookInput, at_s: float, bar: str) -> Row:
    """The bar, which time round it is, and the time from the beginning."""
    return {"bar": bar, "pass": pass_at(book.score, bar, at_s), "time": clock(at_s)}


def _figure(book: BookInput, player: Player, part: Part) -> Row:
    figure = part.figure
    move = f"{'←' if part.to_left else '→'} {part.walk_mm / 1000.0:.1f} m" if part.walk_mm else ""
    return {
        "kind": "figure", **_when(book, figure.start_s, figure.bar), "beat": beat(figure), "who": who(player),
        "tags": tags(figure, book.scheme, book.pitch_colours), "how": how(figure), "times": times(figure.cycles),
        "place": part.place.id, "move": move, "hand": hands(part.cast.hands), "tool": ", ".join(part.cast.implements),
        "hurried": part.hurried, "slack": "" if part.slack_s is None else f"{part.slack_s:.1f} s",
        "essential": figure.essential,
        "aside": "; ".join(filter(None, (weave_words(figure), instead_words(book, figure), node_words(figure)))),
    }  # fmt: skip


def _chores(book: BookInput) -> Iterator[tuple[float, Row]]:
    people = {player.id: player for player in book.players}
    for chore in book.casting.chores:
        if chore.kind in HOLDS and chore.player is not None:
            continue
        player = people.get(chore.player or "")
        shown, words = deed(chore, book.casting, book.scheme, book.pitch_colours)
        yield chore.start_s, {
            "kind": "chore", **_when(book, chore.start_s, bar_of(book, chore.start_s)),
            "who": who(player) if player else None, "hand": hands(chore.hands), "place": chore.place or "",
            "text": f"{words}: {chore.reason}" if player is None and chore.reason else words, "tags": shown,
        }  # fmt: skip


def _pedals(book: BookInput) -> Iterator[tuple[float, Row]]:
    people = {player.id: player for player in book.players}
    for action in book.casting.pedals:
        player, chore = people.get(action.by), holder(action, book.casting)
        for at, sign, verb in ((action.down_s, "↓", "down"), (action.up_s, "↑", "up")):
            words = f"{held(action, book.scheme)} {sign} {verb}" + ("" if player else f" ({action.by})")
            yield at, {
                "kind": "chore", **_when(book, at, bar_at(book.score, at)), "hand": hands(chore.hands) if chore else "",
                "place": (chore.place or "") if chore else "",
                "who": who(player) if player else None, "text": words, "tags": [],
            }  # fmt: skip


def _uncast(book: BookInput, number: int) -> dict[str, object]:
    uncast = book.casting.uncast[number]
    figure = next((figure for figure in book.casting.figures if figure.id == uncast.figure), None)
    return {
        "figure": uncast.figure, "rule": uncast.rule, "reason": uncast.reason,
        "competing": ", ".join(uncast.competing), "mends": [mend.text for mend in uncast.mends],
        "part": figure.part if figure else "",
        **(_when(book, figure.start_s, figure.bar) if figure else {"bar": "", "pass": "", "time": ""}),
        "how": how(figure) if figure else "",
        "tags": tags(figure, book.scheme, book.pitch_colours) if figure else [],
        "essential": bool(figure and figure.essential),
    }  # fmt: skip


def _levels(book: BookInput) -> Iterator[tuple[str, int, int]]:
    for proof in book.casting.proof:
        yield proof.level, proof.value, proof.bound


def _proof(level: str, value: int, bound: int) -> dict[str, object]:
    bare = bare_level(level)
    return {
        "level": level, "words": LEVELS.get(bare, ""), "value": amount(bare, value), "bound": amount(bare, bound),
        "proved": value == bound,
    }  # fmt: skip


def amount(level: str, value: int) -> str:
    """A value of a level as sheets show it: spans of time in s, all else plain."""
    return f"{value / 1000.0:.3f} s" if level in IN_MILLISECONDS else f"{value}"
