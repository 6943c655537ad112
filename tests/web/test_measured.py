"""What a measured change says about the times in kit.toml."""

from __future__ import annotations

import pytest

from rimside.kit import DEFAULT_PICK_S, DEFAULT_PUT_S, DEFAULT_SETTLE_S, DEFAULT_TURN_S
from rimside.paper.changes import parts_of
from rimside.web.rehearsing.measured import Change, changes_of, measured_time, way_in_kit
from tests.paper import fixture

PLAIN = Change(kind="", put_s=0.0, walk_mm=0.0, walk_s=0.0, turn_s=0.0, pick_s=0.0, settle_s=0.2)
WALK = Change(kind="", put_s=0.0, walk_mm=900.0, walk_s=1.0, turn_s=1.0, pick_s=0.0, settle_s=0.2)
FETCH = Change(kind="felt hammer", put_s=0.5, walk_mm=900.0, walk_s=1.0, turn_s=1.0, pick_s=1.2, settle_s=0.2)


def test_a_change_is_counted_as_the_casting_counts_it() -> None:
    """Ada puts the strip down, turns, walks 0.6 m at 820 mm/s, picks up and settles; the first figure has no change."""
    book = fixture.book()
    parts = parts_of("ada", book.casting, book.piano, book.kit)
    moved = next(part for part in parts if part.walk_mm)
    found = changes_of(book)
    need_s = DEFAULT_SETTLE_S + DEFAULT_TURN_S + 600.0 / 820.0 + DEFAULT_PUT_S + DEFAULT_PICK_S
    assert found[moved.figure.id].whole_s == pytest.approx(need_s)
    assert parts[0].figure.id not in found


@pytest.mark.parametrize(
    ("change", "measured_s", "name", "kind", "value"),
    [
        (FETCH, 4.4, "pick_s", "felt hammer", 1.7),
        (WALK, 3.0, "walk_mm_per_s", "", 500.0),
        (PLAIN, 0.5, "settle_s", "", 0.5),
    ],
)
def test_what_is_most_uncertain_takes_the_difference(
    change: Change, measured_s: float, name: str, kind: str, value: float
) -> None:
    """Picking up when something is picked up, else walking, else settling; the whole is then what was measured."""
    found = measured_time(change, measured_s)
    assert found is not None
    assert (found.name, found.kind) == (name, kind)
    assert found.measured == pytest.approx(value)
    assert f"{found.measured:g}" in found.words


def test_a_time_shorter_than_all_the_rest_says_nothing() -> None:
    """Half a second for a change that has to turn and walk is a slip."""
    assert measured_time(FETCH, 0.5) is None


def test_a_time_stands_where_the_kit_has_it() -> None:
    """The felt hammer is the fourth implement of the kit; walking stands under [times]."""
    book = fixture.book()
    pick, walk = measured_time(FETCH, 4.4), measured_time(WALK, 3.0)
    assert pick is not None
    assert walk is not None
    assert way_in_kit(book, pick) == ("implement", 3, "pick_s")
    assert book.kit.stock[3].kind == "felt hammer"
    assert way_in_kit(book, walk) == ("times", "walk_mm_per_s")
