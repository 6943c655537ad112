"""The order of a player's figures and the slack of each change."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.result import CastChore
from rimside.kit import DEFAULT_PICK_S, DEFAULT_PUT_S, DEFAULT_SETTLE_S, DEFAULT_TURN_S
from rimside.paper.changes import Part, parts_of
from tests.paper import fixture


def parts(player: str) -> tuple[Part, ...]:
    return parts_of(player, fixture.casting(), fixture.piano(), fixture.kit())


def test_figures_come_in_order_of_start() -> None:
    """Every figure of the player is there once, earliest first."""
    starts = [part.figure.start_s for part in parts("cy")]
    assert starts == sorted(starts)
    assert len(starts) == sum(1 for cast in fixture.casting().cast if cast.player == "cy")


def test_a_change_of_implement_at_one_place_costs_putting_down_picking_up_and_settling() -> None:
    """Bo's hammer ends 2.6 s before the strip: what is left is that gap less the three times."""
    hurried = next(part for part in parts("bo") if part.hurried)
    # Decision 0001, H4: gap - (settle + put + pick), the strip's picking up measured as 0.9 s in the fixture's kit.
    assert hurried.slack_s == pytest.approx(2.6 - (DEFAULT_SETTLE_S + DEFAULT_PUT_S + 0.9))


def test_a_walk_costs_a_turn_and_its_length() -> None:
    """Ada walks from S3 to S5, 600 mm along the rim, at the measured 820 mm/s, with the strip in hand put down."""
    moved = next(part for part in parts("ada") if part.walk_mm)
    before = parts("ada")[parts("ada").index(moved) - 1]
    assert moved.walk_mm == pytest.approx(600.0)
    need = DEFAULT_SETTLE_S + DEFAULT_TURN_S + 600.0 / 820.0 + DEFAULT_PUT_S + DEFAULT_PICK_S
    assert moved.slack_s == pytest.approx(moved.figure.start_s - before.figure.end_s - need)


def test_a_kept_implement_saves_its_putting_down_and_picking_up() -> None:
    """Two figures with the same strip in hand need only settling between them."""
    kept = next(part for part in parts("ada") if part.kept and not part.walk_mm)
    before = parts("ada")[parts("ada").index(kept) - 1]
    assert kept.slack_s == pytest.approx(kept.figure.start_s - before.figure.end_s - DEFAULT_SETTLE_S)


def test_a_chore_between_two_figures_takes_its_part_of_the_time() -> None:
    """What is left counts from the end of the chore: settling, and picking up when the implement was put down."""
    index = next(number for number, part in enumerate(parts("ada")) if part.kept and not part.walk_mm)
    before, kept = parts("ada")[index - 1], parts("ada")[index]
    end_s = kept.figure.start_s - 0.5
    rosin = CastChore(
        id="rosin", kind="rosin", start_s=max(before.figure.end_s, end_s - 1.0), end_s=end_s, player="ada",
        place=kept.place.id, hands=("left",), target="2",
    )  # fmt: skip
    casting = replace(fixture.casting(), chores=(rosin,))
    found = parts_of("ada", casting, fixture.piano(), fixture.kit())[index]
    assert found.slack_s == pytest.approx(0.5 - DEFAULT_SETTLE_S)
    assert found.hurried
    turned = replace(fixture.casting(), chores=(replace(rosin, kind="turn card"),))
    assert parts_of("ada", turned, fixture.piano(), fixture.kit())[index] == kept, "a card is turned in passing"


def test_overlapping_figures_have_no_change_between_them() -> None:
    """With all figures on one player most overlap, and those carry no slack."""
    busy = fixture.busy_book()
    found = parts_of("ada", busy.casting, busy.piano, busy.kit)
    assert any(part.slack_s is None for part in found[1:])


@pytest.mark.parametrize(
    ("start", "goal", "left"),
    # A player faces the piano. At the keyboard the bass is on the left (K1 is the bass end); on the straight side,
    # the bass side, the tail is on the left; on the bent side the keyboard is.
    [("K4", "K2", True), ("K2", "K4", False), ("S3", "S5", True), ("S5", "S3", False), ("B4", "B6", True)],
)
def test_the_side_of_a_walk_is_that_of_a_player_who_faces_the_piano(start: str, goal: str, left: bool) -> None:
    """Left and right are the player's own."""
    casting = fixture.casting()
    first, second = (cast for cast in casting.cast if cast.player == "cy" and cast.figure in ("f003", "f011"))
    moved = replace(casting, cast=(replace(first, place=start), replace(second, place=goal)))
    part = parts_of("cy", moved, fixture.piano(), fixture.kit())[1]
    assert part.walk_mm > 0.0
    assert part.to_left is left
