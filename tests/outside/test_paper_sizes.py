"""The book measured from outside: page boxes, letters, faces, tags and contrast, read back with other tools."""

from __future__ import annotations

import io
import json
import math
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pypdf
import pytest
import typst

from rimside.paper import ink
from rimside.paper.book import make_book
from rimside.paper.cards import card_deck
from rimside.paper.fontfile import characters, font_file
from rimside.paper.lettering import FACES, FALLBACK_RANGES, FAMILIES, face_file, sign_file
from rimside.paper.outlines import SIGNS
from rimside.pitch import Key, LabelScheme, label
from rimside.score.model import Technique
from tests.paper import fixture, pdf_reading

ARM_MM = 650.0
"""Reading distance of a card. Source: the brief of the cards, arm's length in a dim place."""


@cache
def book_pdf(scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> bytes:
    return make_book(fixture.book(scheme))


def minutes_of_arc(height_mm: float, distance_mm: float = ARM_MM) -> float:
    """Visual angle. Source: h = 2 d tan(a / 2), the definition that ISO 9241-3 uses."""
    return math.degrees(2.0 * math.atan(height_mm / (2.0 * distance_mm))) * 60.0


def test_every_page_has_the_exact_size_of_its_sheet() -> None:
    """Cover, running order and kit list are A4 upright, the plan A3 across, every card A5 upright."""
    # Source: ISO 216, trimmed sizes: A3 297 x 420, A4 210 x 297, A5 148 x 210 mm.
    sizes = pdf_reading.page_sizes_mm(book_pdf())
    cards = len(fixture.players())
    expected = [(210.0, 297.0), (420.0, 297.0), *[(210.0, 297.0)] * (len(sizes) - 2 - cards), *[(148.0, 210.0)] * cards]
    assert len(sizes) > 2 + cards
    for found, wanted in zip(sizes, expected, strict=True):
        assert found == pytest.approx(wanted, abs=0.01)


def test_cards_of_a_busy_player_stay_on_the_pages_they_were_laid_out_for() -> None:
    """Sixty figures for one player fill several cards and no line spills onto a page of its own."""
    busy = fixture.busy_book()
    deck = card_deck(busy, busy.players[0], 1)
    assert deck is not None
    pages = deck["pages"]
    assert isinstance(pages, list)
    assert len(pages) > 2
    a5 = [size for size in pdf_reading.page_sizes_mm(make_book(busy)) if size[0] < 150.0]
    others = sum(1 for player in busy.players[1:] if card_deck(busy, player, 1) is not None)
    assert len(a5) == len(pages) + others


@pytest.mark.parametrize("scheme", list(LabelScheme))
def test_every_pitch_label_and_name_can_be_read_back(scheme: LabelScheme) -> None:
    """On each player's card stand the player's name and every label of the player's figures, sharps included."""
    texts = pdf_reading.page_texts(book_pdf(scheme))
    casting = fixture.casting()
    figures = {figure.id: figure for figure in casting.figures}
    first = len(texts) - len(fixture.players())
    for number, player in enumerate(fixture.players()):
        card = pdf_reading.words(texts[first + number])
        assert player.name in card
        keys = {key for cast in casting.cast if cast.player == player.id for key in figures[cast.figure].keys}
        for key in keys:
            assert label(key, scheme) in card.replace(" ", ""), (player.name, key)
    plan = texts[1].replace("\n", " ")
    played = {contact.key for cast in casting.cast for contact in cast.contacts if contact.from_near_end_mm}
    for touched in played - {None}:
        assert touched is not None
        assert label(touched, scheme) in plan.replace(" ", "")


@pytest.mark.parametrize("scheme", list(LabelScheme))
def test_no_glyph_is_missing(scheme: LabelScheme) -> None:
    """Nothing in the book is shown with glyph 0, the box that stands for a missing character."""
    assert pdf_reading.missing(book_pdf(scheme)) == 0


def test_the_search_for_missing_glyphs_finds_one() -> None:
    """A character that no face holds, set without our check, is found as exactly one missing glyph."""
    assert pdf_reading.missing(_set("a中b")) == 1


@pytest.mark.parametrize(("first", "last", "name"), FALLBACK_RANGES)
def test_the_second_faces_hold_what_the_table_says(first: int, last: int, name: str) -> None:
    """Every character of a declared range is set with a glyph of its own."""
    assert pdf_reading.missing(_set("".join(map(chr, range(first, last + 1))))) == 0, name


def _set(text: str) -> bytes:
    source = "#set text(font: json(bytes(sys.inputs.fonts)), fallback: false)\n#json(bytes(sys.inputs.text)).join([ ])"
    with tempfile.TemporaryDirectory() as folder:
        for face in FACES:
            (Path(folder) / f"{face}.ttf").write_bytes(face_file(face))
        (Path(folder) / "signs.ttf").write_bytes(sign_file())
        faces = typst.Fonts(include_system_fonts=False, font_paths=[folder])
        inputs = {"fonts": json.dumps(list(FAMILIES)), "text": json.dumps(list(text))}
        return bytes(typst.compile(source.encode(), font_paths=faces, sys_inputs=inputs))


def test_every_face_lies_inside_the_file() -> None:
    """All faces used on pages and in drawings are embedded; both of our families are among them."""
    faces = pdf_reading.fonts(book_pdf())
    assert all(faces.values())
    names = {name.partition("+")[2] for name in faces}
    assert {"AtkinsonHyperlegible-Regular", "AtkinsonHyperlegible-Bold", "RimsideSigns"} <= names


def test_the_file_is_tagged_and_says_so() -> None:
    """The PDF has a tree of tags, a language, a title, and names itself PDF/UA part 1 in its metadata."""
    # Source: ISO 14289-1:2014, 5 (version identification), 7.1 (tagging, title shown), 7.2 (language).
    reader = pypdf.PdfReader(io.BytesIO(book_pdf()))
    root: Any = reader.root_object
    assert "/StructTreeRoot" in root
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 - a PDF boolean, not Python's
    assert str(root["/Lang"]) == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert reader.metadata is not None
    assert reader.metadata.title == "Slow Tide"
    metadata = root["/Metadata"].get_data()
    assert b"pdfuaid:part" in metadata


def test_both_drawings_carry_words() -> None:
    """The plan on the cover and on its own sheet are tagged as figures with alternative texts."""
    described = [str(item["/Alt"]) for item in _tags(pypdf.PdfReader(io.BytesIO(book_pdf()))) if "/Alt" in item]
    assert any("keyboard left, tail right" in words for words in described)
    assert len(described) >= 2


def _tags(reader: pypdf.PdfReader) -> Iterator[Any]:
    """Every element of the tree of tags that is a figure."""
    root: Any = reader.root_object
    waiting = [root["/StructTreeRoot"]]
    while waiting:
        item = waiting.pop().get_object()
        if isinstance(item, list):
            waiting.extend(item)
        elif isinstance(item, dict):
            if item.get("/S") == "/Figure":
                yield item
            if "/K" in item:
                waiting.append(item["/K"])


def test_the_same_input_gives_the_same_bytes() -> None:
    """Two books of one production are equal to the last byte."""
    assert make_book(fixture.book()) == book_pdf()


def _cards() -> range:
    pages = len(pdf_reading.page_sizes_mm(book_pdf()))
    return range(pages - len(fixture.players()), pages)


def page_body(letter: pdf_reading.Letter) -> bool:
    """Between the card's head and its foot."""
    return 9.0 < letter.bottom_mm < 182.0


def test_large_pitch_labels_are_as_high_as_the_standard_prefers() -> None:
    """The capital of every pitch label on a card is seen under 20 to 22 minutes of arc at arm's length."""
    # Source: ISO 9241-3 and NUREG-0700 rev 2, preferred character height 20 to 22 minutes of arc.
    seen = 0
    for page in _cards():
        row = pdf_reading.letters(book_pdf(), page)
        for one, other in pairwise(row):
            if (
                one.char in "CDEFGAB"
                and other.char in "0123456789♯"
                and 40.0 <= one.left_mm <= 120.0
                and page_body(one)
            ):
                # Round letters reach over the flat ones by a few hundredths; the height is that of flat capitals.
                most = 22.0 if one.char in "DEFAB" else 22.6
                assert 20.0 <= minutes_of_arc(one.height_mm) <= most, (page, one)
                seen += 1
    assert seen > 60


def test_a_long_list_of_courses_keeps_the_size_of_its_labels() -> None:
    """Nine courses on one line of a card: every flat capital is still seen under 20 to 22 minutes of arc."""
    # Source: ISO 9241-3, as above.
    keys = tuple(map(Key, (32, 20, 37, 25, 29, 22, 28, 16, 18)))
    whole = fixture.book()
    figures = tuple(
        replace(figure, keys=keys) if figure.technique is Technique.KEYS else figure for figure in whole.casting.figures
    )
    pdf = make_book(replace(whole, casting=replace(whole.casting, figures=figures)))
    cards = [page for page, size in enumerate(pdf_reading.page_sizes_mm(pdf)) if size[0] < 150.0]
    texts = pdf_reading.page_texts(pdf)
    gus = [page for page in cards if "Gus Weatherington" in pdf_reading.words(texts[page])]
    row = [letter for page in gus for letter in pdf_reading.letters(pdf, page) if page_body(letter)]
    flat = [one for one, other in pairwise(row) if one.char in "EFDA" and other.char in "23" and one.left_mm > 40.0]
    # E3 E2 A3 A2 D2: five flat capitals stand right before their number in each such figure.
    cast = {one.figure for one in whole.casting.cast if one.player == "gus"}
    assert len(flat) == 5 * sum(1 for figure in figures if figure.keys == keys and figure.id in cast)
    for one in flat:
        assert 20.0 <= minutes_of_arc(one.height_mm) <= 22.0, one


def test_two_cards_on_letter_paper_keep_the_least_preferred_height() -> None:
    """Scaled to fit half a sheet of US letter paper, a label still stands under 20 minutes of arc."""
    # Source: ANSI/ASME Y14.1, letter 8.5 x 11 in; half of it across is 139.7 x 215.9 mm, of which A5 needs 148 x 210.
    scale = min(139.7 / 148.0, 215.9 / 210.0)
    height = max(letter.height_mm for letter in pdf_reading.letters(book_pdf(), _cards()[0]) if letter.char == "E")
    assert minutes_of_arc(height * scale) >= 20.0


def test_words_on_a_card_are_no_smaller_than_the_least_height() -> None:
    """Technique, bar and times are set so that a capital is seen under at least 16 minutes of arc."""
    # Source: ISO 9241-3, least character height 16 minutes of arc. Foot and column heads of a card are not for playing.
    for page in _cards():
        figures = [
            letter
            for letter in pdf_reading.letters(book_pdf(), page)
            if letter.char in "0123456789" and 13.0 < letter.left_mm < 27.0 and page_body(letter)
        ]
        assert figures
        for letter in figures:
            assert minutes_of_arc(letter.height_mm) >= 16.0, (page, letter)


def test_no_letters_of_a_card_lie_on_each_other_or_off_the_card() -> None:
    """No two characters share more than a fifth of the smaller one's box, and all lie 4 mm inside the edges."""
    for page in _cards():
        shown = [one for one in pdf_reading.letters(book_pdf(), page) if one.width_mm > 0.2 and one.height_mm > 0.2]
        for number, one in enumerate(shown):
            assert one.left_mm > 4.0
            assert one.left_mm + one.width_mm < 144.0
            assert 4.0 < one.bottom_mm < 206.0
            for other in shown[number + 1 :]:
                assert _shared(one, other) < 0.2, (page, one, other)


def _shared(one: pdf_reading.Letter, other: pdf_reading.Letter) -> float:
    across = min(one.left_mm + one.width_mm, other.left_mm + other.width_mm) - max(one.left_mm, other.left_mm)
    up = min(one.bottom_mm + one.height_mm, other.bottom_mm + other.height_mm) - max(one.bottom_mm, other.bottom_mm)
    smaller = min(one.width_mm * one.height_mm, other.width_mm * other.height_mm)
    return max(0.0, across) * max(0.0, up) / smaller


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#FFFFFF", 21.0),
        ("#767676", "#FFFFFF", 4.5422),
        ("#777777", "#FFFFFF", 4.4781),
        ("#FF0000", "#FFFFFF", 3.9985),
        ("#0000FF", "#FFFFFF", 8.5925),
        ("#0072B2", "#FFFFFF", 5.19),
        ("#E69F00", "#000000", 9.32),
        ("#D55E00", "#000000", 5.43),
    ],
)
def test_contrast_has_the_published_values(one: str, other: str, ratio: float) -> None:
    """Contrast ratios agree with values worked out from WCAG 2.1's formula elsewhere."""
    # Source: WCAG 2.1, contrast ratio; figures of the project's check sheet, to the digits given there.
    assert ink.contrast(one, other) == pytest.approx(ratio, abs=0.005)


def test_letters_on_every_colour_field_can_be_read() -> None:
    """Black or white letters on a player's field reach 4.5, black letters on a pitch's tag reach 7."""
    # Source: WCAG 2.2 success criterion 1.4.3 (AA, 4.5:1) and 1.4.6 (AAA, 7:1).
    for player in fixture.players():
        assert ink.contrast(ink.letters_on(player.colour), player.colour) >= 4.5, player.colour_name
    for colour in ink.PITCH_CLASS_COLOURS:
        assert ink.contrast(ink.BLACK, colour) >= 7.0


def test_every_grey_on_paper_can_be_read() -> None:
    """The quiet ink of small words reaches 4.5 on white and on the pale band of a move."""
    # Source: WCAG 2.2 success criterion 1.4.3.
    common = (Path(ink.__file__).parent / "templates" / "common.typ").read_text(encoding="utf-8")
    quiet, wash = (common.split(f"#let {name} = rgb(")[1].split('"')[1] for name in ("quiet", "wash"))
    for paper in ("#FFFFFF", wash):
        assert ink.contrast(quiet, paper) >= 4.5


def test_our_reader_of_fonts_agrees_with_another() -> None:
    """The characters that we read from a face are those that fontTools reads, for Atkinson and for our own file."""
    ttlib = pytest.importorskip("fontTools.ttLib")
    for data in (*map(face_file, FACES), font_file("Signs", SIGNS)):
        other = ttlib.TTFont(io.BytesIO(data)).getBestCmap()
        assert characters(data) == {chr(code) for code in other}


def test_our_own_face_is_sound() -> None:
    """Another reader takes every table of our file and finds each sign's advance and height as drawn."""
    ttlib = pytest.importorskip("fontTools.ttLib")
    font = ttlib.TTFont(io.BytesIO(sign_file()), checkChecksums=2)
    for tag in font.keys():  # noqa: SIM118 - not a dict
        assert font[tag] is not None
    for char, glyph in SIGNS.items():
        name = font.getBestCmap()[ord(char)]
        assert font["hmtx"][name][0] == glyph.advance
        assert font["glyf"][name].yMax == max(y for contour in glyph.contours for _, y, _ in contour)
