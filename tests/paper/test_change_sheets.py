"""The sheets of a refit: each player finds exactly what changed, as it was and as it is."""

from __future__ import annotations

from dataclasses import replace

from rimside.casting.result import Change
from rimside.paper.book import make_book
from rimside.paper.change_sheets import change_sheets
from rimside.paper.material import BookInput
from tests.paper import fixture, pdf_reading

CHANGES = (
    Change(figure="f001", what="player", before="zoe", after="ada", forced=True),
    Change(figure="f003", what="place", before="B9", after="B2", stay="B1"),
    Change(figure="f003", what="implement", before="stick bow", after="line bow"),
    Change(figure="f004", what="player", before="ada", after="di"),
)


def refitted() -> BookInput:
    """The fixture's book as a refit; Zoe is away."""
    zoe = replace(fixture.players()[0], id="zoe", name="Zoe Away", sign="Z")
    casting = replace(fixture.casting(), like="grand_210", changes=CHANGES)
    return replace(fixture.book(), casting=casting, absent=(zoe,))


def rows(book: BookInput) -> dict[str, list[dict[str, object]]]:
    return {str(sheet["name"]): sheet["rows"] for sheet in change_sheets(book)}  # type: ignore[misc]


def test_every_change_stands_on_the_sheets_it_concerns_and_nothing_else() -> None:
    """A change of player on two sheets, of place and implement on one; nobody else has a row."""
    sheets = rows(refitted())
    assert len(sheets) == len(fixture.players())
    told = {name: [row["kind"] for row in listed] for name, listed in sheets.items() if listed}
    assert told == {"Ada Lindqvist": ["new", "gone"], "Cy Marchetti": ["same"], "Di Halloran": ["new"]}


def test_rows_say_what_was_and_what_is() -> None:
    """Somebody absent by name, a place with what it would have been here, an implement with its rest."""
    sheets = rows(refitted())
    new, gone = sheets["Ada Lindqvist"]
    assert new["was"] == ["Zoe Away"]
    assert str(new["now"]).startswith("['you, at S3, ")
    assert "friction strip" in str(new["now"])
    assert (gone["was"], gone["now"]) == (["you"], ["Di Halloran"])
    (same,) = sheets["Cy Marchetti"]
    assert same["was"] == ["at B9 (here B1)", "stick bow"]
    assert same["now"] == ["at B2", "line bow, on its course"]


def test_what_is_played_no_more_or_only_now_stands_on_the_sheets_of_its_players() -> None:
    """Who played it before is told that nobody does now; who plays it now, that nobody did."""
    book = refitted()
    one = book.casting.cast[0]
    lost = book.casting.cast[1]
    changes = (
        Change(figure=one.figure, what="cast", before="", after=one.player),
        Change(figure=lost.figure, what="uncast", before=lost.player, after=""),
    )
    rest = tuple(row for row in book.casting.cast if row.figure != lost.figure)
    sheets = rows(replace(book, casting=replace(book.casting, cast=rest, changes=changes)))
    told = [(row["kind"], row["was"]) for listed in sheets.values() for row in listed]
    assert sorted(told) == [("gone", ["you"]), ("new", ["nobody"])]


def test_a_casting_that_is_no_refit_has_no_sheets() -> None:
    """Nothing about changes in an ordinary book."""
    assert change_sheets(fixture.book()) == []


def test_the_printed_sheets_say_it() -> None:
    """One sheet for each player, in the book, and words for those who have nothing to relearn."""
    texts = [pdf_reading.words(text) for text in pdf_reading.page_texts(make_book(refitted()))]
    sheets = [text for text in texts if "What changes:" in text and "Contents" not in text]
    assert len(sheets) == len(fixture.players())
    assert sum("Nothing changes for you." in text for text in sheets) == len(fixture.players()) - 3
    assert "Zoe Away" in sheets[0]
    assert all("grand_210" in text for text in sheets)


def test_more_changes_than_a_page_holds_run_on() -> None:
    """Every figure of a player changed: all bars stand on the sheets, on more than one page."""
    casting = fixture.casting()
    mine = [row.figure for row in casting.cast]
    changes = tuple(Change(figure=name, what="player", before="zoe", after="ada") for name in mine)
    rows_ = tuple(replace(row, player="ada") for row in casting.cast)
    book = replace(refitted(), casting=replace(casting, cast=rows_, like="x", changes=changes))
    texts = [pdf_reading.words(text) for text in pdf_reading.page_texts(make_book(book))]
    pages = [text for text in texts if "what changes from x" in text]
    assert len(pages) > len(fixture.players())
    assert sum(text.count("new") for text in pages) >= len(mine)
