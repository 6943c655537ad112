"""Which characters can be set, and what happens to the others."""

from __future__ import annotations

from rimside.paper.book import book_values
from rimside.paper.lettering import covered, missing_glyphs, settable
from rimside.paper.outlines import CAP_HEIGHT, SIGNS
from rimside.pitch import Key, LabelScheme, label
from tests.paper import fixture


def test_every_pitch_label_of_every_scheme_is_covered_by_our_own_two_faces() -> None:
    """No label falls back to a second face, accidentals included."""
    for scheme in LabelScheme:
        for key in range(1, 89):
            assert set(label(Key(key), scheme)) <= covered(), (scheme, key)


def test_everything_a_book_sets_of_its_own_is_covered() -> None:
    """Every text of a whole book, templates' own words aside, finds its glyphs."""
    assert missing_glyphs(str(book_values(fixture.book()))) == set()


def test_names_in_other_alphabets_fall_back_and_what_is_left_is_told() -> None:
    """Greek and Cyrillic can be set; a Han character is reported and printed as its code."""
    assert missing_glyphs("Ελένη Юлия Čapková") == set()
    assert missing_glyphs("Li 中") == {"中"}
    assert settable("Li 中") == "Li [U+4E2D]"


def test_controls_never_reach_the_page() -> None:
    """A tab or an escape is printed as its code, a line break stays."""
    assert settable("a\x1bb\nc") == "a[U+001B]b\nc"


def test_signs_stand_about_as_high_as_capitals() -> None:
    """Each of our signs lies between a fifth of an em under the line and a little over the capitals, and advances."""
    for char, glyph in SIGNS.items():
        heights = [y for contour in glyph.contours for _, y, _ in contour]
        widths = [x for contour in glyph.contours for x, _, _ in contour]
        assert min(heights) >= -200, char
        assert max(heights) <= CAP_HEIGHT + 100, char
        assert min(widths) > 0
        assert max(widths) <= glyph.advance, char


def test_outer_contours_run_clockwise() -> None:
    """The first contour of each sign encloses a negative area, as TrueType fills it."""
    for char, glyph in SIGNS.items():
        run = glyph.contours[0]
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(run, (*run[1:], run[0]), strict=True))
        assert area < 0, char
