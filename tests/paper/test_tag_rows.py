"""How many tags a row of a card takes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from rimside.paper.cards import BODY_MM
from rimside.paper.tag_rows import ROOM_MM, tag_rows
from rimside.paper.turning import LINE_MM, height_mm, paginated
from rimside.paper.wording import tags
from rimside.pitch import Key, LabelScheme, label
from tests.paper import fixture

MANY = tuple(Key(key) for key in (32, 20, 37, 25, 29, 22, 28, 16, 18))


def tagged(*labels: str) -> list[dict[str, str]]:
    return [{"label": one, "colour": "#F6A192"} for one in labels]


def test_a_few_tags_and_their_words_stay_on_one_row() -> None:
    """One, two or three courses with a long technique need no second row."""
    for count in (0, 1, 2, 3):
        assert len(tag_rows(tagged(*["C♯4"] * count), "friction strip")) == 1


def test_nine_courses_take_two_rows_in_order() -> None:
    """E3 E2 A3 A2 C♯3 F♯2 C3 C2 D2 keys: two rows, nothing lost, nothing swapped."""
    shown = tagged(*(label(key, LabelScheme.SCIENTIFIC) for key in MANY))
    rows = tag_rows(shown, "keys")
    assert len(rows) == 2
    assert [tag for row in rows for tag in row] == shown


def test_words_that_find_no_room_have_a_row_of_their_own() -> None:
    """Six courses fill a row; a long technique goes under them."""
    rows = tag_rows(tagged("E3", "E2", "A3", "A2", "B3", "D2"), "tremolo plectrum finger mute")
    assert [len(row) for row in rows] == [6, 0]


@given(st.lists(st.integers(1, 88).map(Key), max_size=30), st.sampled_from(list(LabelScheme)), st.text(max_size=30))
def test_rows_hold_all_tags_in_order_and_are_well_filled(keys: list[Key], scheme: LabelScheme, words: str) -> None:
    """Nothing is lost, and no row is left while a tag of the broadest label would still fit on it."""
    shown = tagged(*(label(key, scheme) for key in keys))
    rows = tag_rows(shown, words)
    assert [tag for row in rows for tag in row] == shown
    widest = 6.07 * 4 * 0.65 + 2.2 + 0.9
    assert all(len(row) >= int(ROOM_MM / widest) for row in rows[:-2])


def test_a_card_leaves_room_for_lines_of_two_rows() -> None:
    """Twenty lines as high as two take twice the room of twenty that are not."""
    one: list[dict[str, object]] = [{"kind": "figure", "rows": 1} for _ in range(20)]
    two: list[dict[str, object]] = [{"kind": "figure", "rows": 2} for _ in range(20)]
    assert height_mm(two) == 2 * height_mm(one)
    assert len(paginated(two, BODY_MM)[0]) == int(BODY_MM / (2 * LINE_MM["figure"]))


def test_the_tags_of_a_figure_are_its_courses() -> None:
    """As a check on the rows' input: Gus' five keys make five tags."""
    figure = next(figure for figure in fixture.casting().figures if len(figure.keys) == 5)
    assert [tag["label"] for tag in tags(figure, LabelScheme.SCIENTIFIC, {})] == ["C4", "E4", "G4", "C5", "E5"]
