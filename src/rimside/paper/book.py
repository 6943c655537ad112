"""The book: all printed matter of a production in one PDF."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rimside.errors import BadInput
from rimside.paper import cards, turning
from rimside.paper.cards import card_deck
from rimside.paper.change_sheets import change_sheets
from rimside.paper.ink import pitch_colour
from rimside.paper.kitlist import kit_list
from rimside.paper.lettering import FAMILIES, missing_glyphs, settable
from rimside.paper.material import BookInput
from rimside.paper.plan import make_plan_svg
from rimside.paper.plan_moment import busiest_moment
from rimside.paper.running import running_order, who
from rimside.paper.typeset import page_pictures, typeset
from rimside.paper.wording import SCHEME_WORDS, beat, clock, pass_at, value_line, value_words
from rimside.pitch import Key, label

SHEETS = ("cover", "plan", "running", "kit", "cards", "changes")
"""What a book is made of, in its order."""
SAMPLE_KEY = Key(52)
"""The pitch that the plan's legend shows, as an example."""


def make_book(book: BookInput, sheets: Sequence[str] = SHEETS, player: str | None = None) -> bytes:
    """The book as a tagged PDF/UA-1 with every face inside: cover, plan, running order, kit list and cards; for a
    refit what changes for each player, too.

    The same input gives the same bytes. Characters that no face can set are printed as their codes and named on the
    cover.

    Parameters
    ----------
    sheets : those of `SHEETS` that are wanted.
    player : whose cards and changes alone, by the player's id; everybody's when None.

    Raises
    ------
    BadInput : a colour is not written as #RRGGBB; there is nothing on the sheets that are wanted.
    TypesettingFailed : a fault in a template.
    """
    return typeset("book.typ", *_inputs(book, sheets, player))


def book_pictures(book: BookInput, sheets: Sequence[str] = SHEETS, player: str | None = None) -> tuple[bytes, ...]:
    """The very pages that `make_book` prints, each as a PNG.

    Raises
    ------
    BadInput, TypesettingFailed : as there.
    """
    return page_pictures("book.typ", *_inputs(book, sheets, player))


def _inputs(book: BookInput, sheets: Sequence[str], player: str | None) -> tuple[dict[str, object], dict[str, str]]:
    raw = {**book_values(book), "sheets": list(sheets)}
    for name in ("cards", "changes"):
        rows: Any = raw[name]
        raw[name] = [row for row in rows if player is None or row["id"] == player]
    if not any(sheet not in ("cards", "changes") or raw[sheet] for sheet in sheets):
        raise BadInput("there is nothing to print", where="sheet", value=", ".join(sheets), allowed=", ".join(SHEETS))
    lost = sorted(set().union(*(missing_glyphs(words) for words in _texts(raw))))
    values = {name: _map_texts(value) for name, value in raw.items()}
    values["lost"] = [f"U+{ord(char):04X}" for char in lost]
    plan = make_plan_svg(
        book.piano, casting=book.casting, players=book.players, scheme=book.scheme, pitch_colours=book.pitch_colours
    )
    return values, {"plan": plan}


def book_values(book: BookInput) -> dict[str, object]:
    """Everything the template sets, as plain JSON values."""
    decks = [card_deck(book, player, number) for number, player in enumerate(book.players, start=1)]
    return {
        "title": book.title.strip() or "Without a title",
        "ensemble": book.ensemble_name,
        "instrument": book.piano.instrument,
        "piano": book.piano.title,
        "scheme": SCHEME_WORDS[book.scheme],
        "scheme_name": book.scheme.value,
        "notes": list(book.notes),
        "values": value_words(book.casting, book.piano, book.kit, book.players),
        "value_line": value_line(value_words(book.casting, book.piano, book.kit, book.players)),
        "plan": plan_legend(book),
        "idle": [player.name for player, deck in zip(book.players, decks, strict=True) if deck is None],
        "cards": [deck for deck in decks if deck is not None],
        "like": book.casting.like,
        "changes": change_sheets(book),
        "running": running_order(book),
        "kit": kit_list(book),
        "sample": {"label": label(SAMPLE_KEY, book.scheme), "colour": pitch_colour(SAMPLE_KEY, book.pitch_colours)},
        "fonts": list(FAMILIES),
        "card": {
            "width": cards.CARD_WIDTH_MM, "height": cards.CARD_HEIGHT_MM, "head": cards.HEAD_MM, "foot": cards.FOOT_MM,
            "edge": cards.EDGE_MM, "cap": cards.LABEL_CAP_MM, "line": dict(turning.LINE_MM),
        },
    }  # fmt: skip


def plan_legend(book: BookInput) -> dict[str, object]:
    """The moment that the plan shows, and everybody with the reason why one is not drawn."""
    scene = busiest_moment(book.casting, book.players)
    figure = scene.figure
    return {
        "bar": figure.bar if figure else "",
        "pass": pass_at(book.score, figure.bar, scene.at_s) if figure else "",
        "beat": beat(figure) if figure else "",
        "time": clock(scene.at_s),
        "playing": sum(1 for stand in scene.standing if stand.plays),
        "people": [{**who(player), "note": scene.not_drawn.get(player.id, "")} for player in book.players],
    }


def _texts(value: object) -> Iterator[str]:
    """Every text inside nested plain values."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)


def _map_texts(value: object) -> object:
    """The same values with every text made settable."""
    if isinstance(value, str):
        return settable(value)
    if isinstance(value, dict):
        return {name: _map_texts(inner) for name, inner in value.items()}
    return [_map_texts(inner) for inner in value] if isinstance(value, list) else value
