"""The book as a whole: any text, any piano, nothing to do, and what every sheet must say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.cautions import CAUTIONS
from rimside.errors import BadInput
from rimside.kit import Kit
from rimside.paper.book import make_book
from rimside.paper.kitlist import kit_list
from rimside.paper.material import BookInput
from rimside.paper.running import running_order
from rimside.pitch import LabelScheme
from tests.paper import fixture, pdf_reading


def pages(book: BookInput) -> list[str]:
    return [pdf_reading.words(text) for text in pdf_reading.page_texts(make_book(book))]


def test_what_people_write_is_shown_as_text() -> None:
    """Typesetter's markup in titles, names and notes comes out letter for letter."""
    book = replace(fixture.book(), title="#strong[x] $y$ \\", notes=('#panic("no")', "*a* _b_ @c <d>"))
    text = pages(book)[0]
    for words in (book.title, *book.notes, "Flo *bold* #name_"):
        assert words in text


def test_a_character_without_a_glyph_is_printed_as_its_code_and_named_on_the_cover() -> None:
    """Nothing prints a box, and the cover says which character was lost."""
    first = replace(fixture.players()[0], name="Ada 中")
    book = replace(fixture.book(), players=(first, *fixture.players()[1:]))
    pdf = make_book(book)
    assert pdf_reading.missing(pdf) == 0
    texts = [pdf_reading.words(text) for text in pdf_reading.page_texts(pdf)]
    assert "Ada [U+4E2D]" in texts[-8]
    assert "U+4E2D" in texts[0]
    assert "no face" in texts[0]


def test_a_full_cover_is_one_page() -> None:
    """Whatever stands in the notes takes room from the drawing: the plan sheet follows the cover at once."""
    book = replace(fixture.book(), notes=tuple(f"Hall {number} has its own note." for number in range(14)))
    cover, plan = pages(book)[:2]
    assert "Hall 13 has its own note." in cover
    assert "Plan of the piano" in plan


def test_every_sheet_says_its_labels_and_where_values_are_from() -> None:
    """Cover, plan, running order, kit list and every card name the scheme and tell measured from estimated."""
    for number, text in enumerate(pages(fixture.book(LabelScheme.HELMHOLTZ))):
        assert "helmholtz" in text.lower(), number
        assert "estimate" in text or "measured" in text, number


def test_a_casting_of_nothing_still_makes_a_book() -> None:
    """No players, figures, implements or proof: the sheets are there and say so."""
    book = fixture.book()
    empty = replace(
        book, players=(), casting=replace(
            book.casting, players=(), figures=(), cast=(), implements=(), chores=(), pedals=(), uncast=(), proof=(),
        ), score=replace(book.score, cues=(), bars=()), kit=Kit(stock=()), notes=(), title=" ",
    )  # fmt: skip
    texts = pages(empty)
    assert "Without a title" in texts[0]
    assert any("0 of 0 figures cast" in text for text in texts)


def test_a_colour_written_wrongly_is_refused_before_anything_is_set() -> None:
    """A player's colour that is no #RRGGBB is bad input, not a fault of the typesetter."""
    first = replace(fixture.players()[0], colour="orange")
    with pytest.raises(BadInput, match="#RRGGBB"):
        make_book(replace(fixture.book(), players=(first, *fixture.players()[1:])))


def test_the_running_order_tells_everything_in_order_of_time() -> None:
    """Figures, chores, both ends of both pedals and cues, none lost, clock never going back."""
    order = running_order(fixture.book())
    rows = order["rows"]
    assert isinstance(rows, list)
    kinds = [row["kind"] for row in rows]
    casting = fixture.casting()
    assert kinds.count("figure") == len(casting.cast)
    assert kinds.count("chore") == len(casting.chores) + 2 * len(casting.pedals)
    assert kinds.count("cue") == 2
    clocks = [row["time"] for row in rows if "time" in row]
    seconds = [60.0 * float(m) + float(s) for m, s in (clock.split(":") for clock in clocks)]
    assert seconds == sorted(seconds)


def test_uncast_figures_stand_with_rule_reason_and_rivals() -> None:
    """The director reads why a figure is left out and what competes with it."""
    text = " ".join(pages(fixture.book()))
    for uncast in fixture.casting().uncast:
        assert uncast.rule in text
        assert uncast.reason in text
        assert all(mend.text in text for mend in uncast.mends)
    assert "competes with f012, f021" in text


def test_proof_tells_value_bound_and_whether_it_is_proved() -> None:
    """A level whose value meets its bound is proved best, another is not."""
    proof = running_order(fixture.book())["proof"]
    assert isinstance(proof, list)
    assert [row["proved"] for row in proof] == [True, False, False, True, False, False]
    assert (proof[1]["value"], proof[1]["bound"]) == ("1.840 s", "1.200 s")


def test_the_kit_list_holds_every_implement_and_tells_measured_from_default() -> None:
    """Each implement of the casting once; the strip's measured picking up is marked, the hammer's is not."""
    listed = kit_list(fixture.book())
    implements, stock = listed["implements"], listed["stock"]
    assert isinstance(implements, list)
    assert isinstance(stock, list)
    assert sorted(row["id"] for row in implements) == sorted(one.id for one in fixture.casting().implements)
    marks = {row["kind"]: row["pick"]["measured"] for row in stock}
    assert marks["friction strip"]
    assert not marks["felt hammer"]


def test_a_kit_with_too_few_of_a_kind_says_so() -> None:
    """Two felt hammers owned and three in use: the sheet shouts."""
    book = fixture.book()
    fewer = tuple(replace(stock, count=2) if stock.kind == "felt hammer" else stock for stock in book.kit.stock)
    short = replace(book, kit=replace(book.kit, stock=fewer))
    assert "NO: too few" in " ".join(pages(short))
    assert "NO: too few" not in " ".join(pages(book))


def test_cautions_of_the_techniques_used_and_of_every_production_are_printed() -> None:
    """All general cautions, the rows' own cautions, and who decides."""
    text = " ".join(pages(fixture.book()))
    for about, words in ((caution.about, caution.words) for caution in CAUTIONS.values()):
        assert f"{about}. {words}" in text
    for figure in fixture.casting().figures:
        for words in fixture.kit().rows[figure.technique].cautions:
            assert words in text
    assert "venue's rules, local codes and licensed people" in text


def test_what_the_owner_forbids_is_printed() -> None:
    """The fixture's piano allows no magnets: the kit list says so."""
    text = " ".join(pages(fixture.book()))
    assert "Not allowed: " in text
    assert "electromagnets over the strings" in text.partition("Not allowed: ")[2]
