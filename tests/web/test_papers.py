"""The papers on the screen are those that are printed: the same templates, the same pages, words for each."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files import job, project
from rimside.paper.book import SHEETS, book_pictures, make_book
from rimside.paper.material import BookInput
from rimside.web import papers
from tests.files import productions
from tests.paper import fixture, pdf_reading


@pytest.fixture(scope="module")
def book() -> BookInput:
    """The invented production of the papers' tests."""
    return fixture.book()


def test_the_sheets_together_are_the_book(book: BookInput) -> None:
    """Each sheet by itself has the pages that it has in the book, and as many pictures."""
    whole = [pdf_reading.words(text) for text in pdf_reading.page_texts(make_book(book))]
    apart: list[str] = []
    for sheet in papers.contents(book).sheets:
        texts = [pdf_reading.words(text) for text in pdf_reading.page_texts(make_book(book, (sheet,)))]
        assert len(book_pictures(book, (sheet,))) == len(texts)
        apart += texts
    assert len(apart) == len(whole)
    cards = slice(-sum("card " in text for text in whole), None)
    assert apart[cards] == whole[cards]


def test_one_players_cards_are_that_players_alone(book: BookInput) -> None:
    """Every page names the player, none another; the pages together are all cards of the book."""
    heads = papers.contents(book).with_cards
    count = 0
    for head in heads:
        chosen = papers.choice(papers.contents(book), "cards", head.id)
        texts = [pdf_reading.words(text) for text in pdf_reading.page_texts(papers.pdf(book, chosen))]
        assert all(f"No. {1 + [one.id for one in heads].index(head.id)} of" in text for text in texts)
        count += len(texts)
    assert count == len(pdf_reading.page_texts(make_book(book, ("cards",))))


def test_each_page_has_its_size_and_words_of_its_own(book: BookInput) -> None:
    """A card is upright and is told by its number and bars; no two pages are told alike."""
    chosen = papers.choice(papers.contents(book), "cards", "")
    drawn = papers.pictures(book, "cards", chosen.player.id if chosen.player else None)
    told = papers.pages(book, chosen, drawn)
    assert len(told) == len(drawn) > 0
    assert len({one.alt for one in told}) == len(told)
    assert all(one.height > one.width > 500 for one in told)
    assert chosen.player is not None
    assert told[0].alt.startswith(f"Card 1 of {len(told)} of {chosen.player.name}, bars ")


def test_what_is_not_there_cannot_be_chosen(book: BookInput) -> None:
    """An unknown sheet, a stranger, the changes of a casting that is no refit, and cards of nobody."""
    for sheet, player in (("wallpaper", ""), ("cards", "nobody"), ("changes", "")):
        with pytest.raises(BadInput):
            papers.choice(papers.contents(book), sheet, player)
    idle = replace(
        book, casting=replace(book.casting, cast=(), chores=(), pedals=()), score=replace(book.score, cues=())
    )
    assert set(papers.contents(idle).sheets) == set(SHEETS) - {"cards", "changes"}
    with pytest.raises(BadInput, match="nothing to print"):
        make_book(idle, ("cards",))


def test_the_line_about_the_disc_says_what_is_so(production: Path, tmp_path: Path) -> None:
    """No book, a book up to date, and one that shows an earlier casting."""
    folder = Path(shutil.copytree(production, tmp_path / "production"))
    name = project.casting_names(folder)[0]
    assert papers.on_disc(project.load(folder), name).stale
    job.books(str(folder), name, False, lambda stage, share: None)
    assert not papers.on_disc(project.load(folder), name).stale
    productions.change(folder, "production.toml", "Four at the Rim", "Five at the Rim")
    found = papers.on_disc(project.load(folder), name)
    assert found.stale
    assert "out of date" in found.words


def test_pages_are_drawn_once_for_the_same_files(production: Path) -> None:
    """The desk gives the same pictures again until a file changes."""
    from rimside.web.desk import Desk

    desk = Desk(production)
    read = project.load(production)
    name = project.casting_names(production)[0]
    made: list[int] = []

    def draw(book: BookInput) -> bytes:
        made.append(1)
        return book.title.encode()

    for _ in range(3):
        desk.once("drawn", read, name, draw)
    other = replace(read, inputs={**read.inputs, "kit.toml": read.inputs["kit.toml"] + b"\n# more\n"})
    desk.once("drawn", other, name, draw)
    assert len(made) == 2
