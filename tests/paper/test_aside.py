"""The strip of an interlocking part on a card, and what a card says of a technique replaced."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

from rimside.paper.aside import asides, instead_words, node_words, weave_words
from rimside.paper.book import make_book
from rimside.paper.cards import BODY_MM, card_deck
from rimside.paper.material import BookInput
from rimside.paper.running import running_order
from rimside.paper.turning import height_mm
from rimside.pitch import Key, label
from rimside.score.model import Figure, Stroke, Technique, Touch
from tests.paper import fixture
from tests.paper.pdf_reading import page_texts, words


def thread(figure: Figure, number: int, strokes: list[tuple[float, int]]) -> Figure:
    moments = [(figure.start_s + at, Key(key)) for at, key in strokes]
    return replace(
        figure,
        keys=tuple(dict.fromkeys(key for _, key in moments)),
        strokes=tuple(Stroke(onset_s=at, until_s=at + 0.1, key=key) for at, key in moments),
        weave="f003",
        thread=number,
        threads=2,
        cycles=4,
    )


def woven_book() -> BookInput:
    """Cy's and Di's first figures interlock: C4 E4 G4 C5, twelve a second, every second stroke each, four times."""
    book = fixture.book()
    line = [(number / 12, (40, 44, 47, 52)[number % 4]) for number in range(16)]
    first = next(figure for figure in book.casting.figures if figure.id == "f003")
    other = next(figure for figure in book.casting.figures if figure.id == "f004")
    hammers = replace(first, technique=Technique.FELT_HAMMER)
    changed = {
        "f003": thread(hammers, 1, line[::2]),
        "f004": replace(thread(hammers, 2, line[1::2]), id="f004", part=other.part, motif=other.motif),
    }
    figures = tuple(changed.get(figure.id, figure) for figure in book.casting.figures)
    return replace(book, casting=replace(book.casting, figures=figures))


def strip(book: BookInput, figure: str) -> dict[str, Any]:
    (line,) = asides(book, next(one for one in book.casting.figures if one.id == figure))
    return line


def test_the_strip_shows_own_strokes_among_the_others() -> None:
    """One round of four strokes, evenly spread, of which the first and third are Cy's and the rest Di's."""
    book = woven_book()
    cy, di = strip(book, "f003"), strip(book, "f004")
    assert [stroke["own"] for stroke in cy["strokes"]] == [True, False, True, False]
    assert [stroke["own"] for stroke in di["strokes"]] == [False, True, False, True]
    assert [round(stroke["at"], 6) for stroke in cy["strokes"]] == [0.0, 0.25, 0.5, 0.75]
    assert [stroke["level"] for stroke in cy["strokes"]] == [0, 1, 2, 3]
    assert (cy["text"], cy["others"], cy["times"]) == ("part 1 of 2", "Di Halloran", "4×")
    assert (di["text"], di["others"]) == ("part 2 of 2", "Cy Marchetti")


def test_a_part_that_nobody_plays_is_said() -> None:
    """When the other thread is uncast, the card says that nobody plays it."""
    book = woven_book()
    casting = replace(book.casting, cast=tuple(row for row in book.casting.cast if row.figure != "f004"))
    assert strip(replace(book, casting=casting), "f003")["others"] == "nobody"


def test_a_long_pattern_is_shown_as_far_as_it_can_be_told_apart() -> None:
    """A line that never comes round is cut at 32 strokes, and says so."""
    book = woven_book()
    uneven = [(number * 0.01 * (number + 20), 40 + number % 7) for number in range(40)]
    figures = tuple(
        thread(one, 1, uneven) if one.id == "f003" else replace(one, weave="") for one in book.casting.figures
    )
    shown = strip(replace(book, casting=replace(book.casting, figures=figures)), "f003")
    assert (len(shown["strokes"]), shown["more"], shown["times"]) == (32, True, "")
    assert all(0.0 <= stroke["at"] < 1.0 for stroke in shown["strokes"])


def test_a_strip_stays_with_its_figure_on_a_card() -> None:
    """The line below a strip is its figure's, and no card is overfull."""
    book = woven_book()
    cast = tuple(replace(one, player="ada") for one in book.casting.cast)
    whole = replace(book, casting=replace(book.casting, cast=cast))
    deck: Any = card_deck(whole, whole.players[0], 1)
    for page in deck["pages"]:
        kinds = [line["kind"] for line in page["lines"]]
        assert kinds[-1] != "weave"
        assert all(after == "figure" for kind, after in pairwise(kinds) if kind == "weave")
        assert height_mm(page["lines"]) <= BODY_MM


def test_a_replaced_technique_is_said_with_its_reason() -> None:
    """Written for a line bow, G1 is wound: the card, the running order and the uncast list can say so."""
    bowed = next(figure for figure in fixture.casting().figures if figure.technique is Technique.FRICTION_STRIP)
    other = replace(bowed, written=Technique.LINE_BOW)
    (key,) = other.keys
    assert fixture.piano().course(key).wound
    book = fixture.book()
    name = label(key, book.scheme)
    assert instead_words(book, other) == f"written: line bow; {name} is wound here"
    assert instead_words(book, bowed) == weave_words(bowed) == ""
    permissions = book.piano.permissions
    forbidden = replace(permissions, allowed=permissions.allowed - {"rosin"})
    elsewhere = replace(book, piano=replace(book.piano, permissions=forbidden))
    assert instead_words(elsewhere, other) == "written: line bow; not allowed on this piano"


def replaced_book() -> BookInput:
    book = woven_book()
    figures = tuple(
        replace(one, written=Technique.LINE_BOW) if one.technique is Technique.FRICTION_STRIP else one
        for one in book.casting.figures
    )
    return replace(book, casting=replace(book.casting, figures=figures))


def test_the_book_prints_both() -> None:
    """On cards and in the running order, and the typesetter accepts it."""
    book = replaced_book()
    told = [str(row.get("aside", "")) for row in running_order(book)["rows"]]  # type: ignore[attr-defined]
    assert "part 1 of 2" in told and any(row.startswith("written: line bow") for row in told)
    printed = words(" ".join(page_texts(make_book(book))))
    assert "part 1 of 2" in printed and "with Di Halloran" in printed and "written: line bow" in printed


def test_a_partial_left_open_is_said_with_its_node() -> None:
    """Above the figure on its card, and in the running order: what is written, and the node that this piano takes."""
    book = fixture.book()
    first = next(figure for figure in book.casting.figures if figure.id == "f003")
    touched = replace(first, touch=Touch(k=2, n=3, loose=True))
    figures = tuple(touched if figure.id == "f003" else figure for figure in book.casting.figures)
    changed = replace(book, casting=replace(book.casting, figures=figures))
    said = "written: partial 3; node 2/3 is the best one here"
    assert said in [line["text"] for line in asides(changed, touched)]
    text = " ".join(words(page) for page in page_texts(make_book(changed)))
    assert text.count(said) == 2
    assert node_words(replace(touched, touch=Touch(k=2, n=3))) == ""
