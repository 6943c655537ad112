"""The papers of a casting as values for the page: which sheets there are, and their pages with words for each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rimside.errors import BadInput
from rimside.files import project
from rimside.files.project import Production
from rimside.paper.book import SHEETS, book_pictures, make_book
from rimside.paper.cards import card_deck
from rimside.paper.material import BookInput
from rimside.web import parts
from rimside.web.parts import Head

WORDS: Mapping[str, str] = {
    "cover": "cover", "plan": "plan", "running": "running order", "kit": "kit list and cautions", "cards": "cards",
    "changes": "what changes",
}  # fmt: skip
"""The sheets of `paper.book.SHEETS` in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What is looked at: a sheet, and whose (None: everybody's)."""

    sheet: str
    player: Head | None

    @property
    def words(self) -> str:
        """Its name in a sentence and in a file's name."""
        return f"{WORDS[self.sheet]} of {self.player.name}" if self.player else WORDS[self.sheet]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page: its number from 1, its size in dots, and what stands on it for those who cannot see it."""

    number: int
    width: int
    height: int
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OnDisc:
    """The book that lies on the disc, if any: what is to be said of it, and whether it should be written."""

    words: str
    stale: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """The sheets that a casting has, who has cards, and who there is."""

    sheets: tuple[str, ...]
    with_cards: tuple[Head, ...]
    everybody: tuple[Head, ...]


def contents(book: BookInput) -> Contents:
    """What there is to print: changes for a refit only, cards when anybody has anything to do."""
    everybody = parts.heads(book)
    decks = (card_deck(book, player, number) for number, player in enumerate(book.players, start=1))
    cards = tuple(head for head, deck in zip(everybody, decks, strict=True) if deck is not None)
    wanted = {"changes": bool(book.casting.like), "cards": bool(cards)}
    sheets = tuple(sheet for sheet in SHEETS if wanted.get(sheet, True))
    return Contents(sheets=sheets, with_cards=cards, everybody=everybody)


def choice(there: Contents, sheet: str, player: str) -> Choice:
    """What was asked for; of cards, the first player's when nobody is named.

    Raises
    ------
    BadInput : no such sheet or player, or nothing on it.
    """
    if sheet not in there.sheets:
        raise BadInput("there is no such sheet", where="sheet", value=sheet, allowed=", ".join(there.sheets))
    if sheet not in ("cards", "changes"):
        return Choice(sheet=sheet, player=None)
    heads = there.with_cards if sheet == "cards" else there.everybody
    found = next((head for head in heads if head.id == player), None) if player else heads[0]
    if found is None:
        allowed = ", ".join(head.id for head in heads)
        raise BadInput("has nothing on these sheets", where="player", value=player, allowed=allowed)
    return Choice(sheet=sheet, player=found)


def pictures(book: BookInput, sheet: str, player: str | None) -> tuple[bytes, ...]:
    """The pages of one sheet as PNG, by the templates that print them."""
    return book_pictures(book, (sheet,), player)


def pages(book: BookInput, chosen: Choice, drawn: Sequence[bytes]) -> tuple[Page, ...]:
    """Size and words of each page that was drawn."""
    count = len(drawn)
    alts = _card_words(book, chosen) if chosen.sheet == "cards" else []
    plain = [f"{chosen.words}, page {number} of {count}" for number in range(1, count + 1)]
    told = alts if len(alts) == count else plain
    sizes = [_size(png) for png in drawn]
    return tuple(
        Page(number=number, width=size[0], height=size[1], alt=alt)
        for number, (size, alt) in enumerate(zip(sizes, told, strict=True), start=1)
    )


def _size(png: bytes) -> tuple[int, int]:
    """Breadth and height in dots, as the head of a PNG says them."""
    return int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")


def _card_words(book: BookInput, chosen: Choice) -> list[str]:
    """What stands on each card, so far as one sentence goes: its bars, and where it begins."""
    number = next(n for n, player in enumerate(book.players) if chosen.player and player.id == chosen.player.id)
    deck = card_deck(book, book.players[number], number + 1)
    cards: list[dict[str, object]] = deck["pages"] if deck else []  # type: ignore[assignment]
    told = []
    for nth, card in enumerate(cards, start=1):
        lines: list[dict[str, object]] = card["lines"]  # type: ignore[assignment]
        bars = [str(line["bar"]) for line in lines if line.get("bar")]
        span = f", bars {bars[0]} to {bars[-1]}" if bars else ", before the piece"
        count = sum(line["kind"] == "figure" for line in lines)
        told.append(f"Card {nth} of {len(cards)} of {deck and deck['name']}{span}, {count} figures")
    return told


def pdf(book: BookInput, chosen: Choice | None) -> bytes:
    """One sheet as PDF, the whole book when none is named."""
    if chosen is None:
        return make_book(book)
    return make_book(book, (chosen.sheet,), chosen.player.id if chosen.player else None)


def on_disc(production: Production, name: str) -> OnDisc:
    """What is to be said of the book on the disc."""
    path = project.book_path(production, name)
    if not path.is_file():
        return OnDisc(words="No book of this casting has been written to the disc yet.", stale=True)
    where = f"{project.BOOK}/{path.name}"
    if any(words.split()[1] == name for words in project.books_out_of_date(production)):
        return OnDisc(words=f"{where} on the disc is out of date: it shows an earlier casting.", stale=True)
    return OnDisc(words=f"{where} on the disc is up to date.", stale=False)
