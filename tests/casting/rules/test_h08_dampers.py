"""H8: a course that must ring is free of its damper for the whole figure."""

from __future__ import annotations

import pytest

from rimside.casting.rules.h08_dampers import damped
from rimside.piano.dampers import HeldKey
from rimside.pitch import Key
from rimside.score.model import Pedal, PedalSpan, Technique
from tests.casting.judging import world
from tests.casting.solving import solved, uncast_rules
from tests.casting.worlds import LAST_DAMPED, figure, held, toy_kit, toy_piano

PLUCK = figure("A", Technique.FINGER_PLUCK, (40,), 2.0, 4.0)


def uncast(pedals: tuple[PedalSpan, ...], key: int = 40) -> list[tuple[str, str]]:
    """What stays uncast of one pluck from 2 to 4 s."""
    what = figure("A", Technique.FINGER_PLUCK, (key,), 2.0, 4.0)
    return list(uncast_rules(solved(world(what, pedals=pedals), depth=1)))


def test_holds_with_the_pedal_down() -> None:
    """With the damper pedal down throughout the pluck is cast."""
    assert uncast(held()) == []


def test_broken_without_a_pedal() -> None:
    """Without a pedal it is barred by H8."""
    assert uncast(()) == [("A", "H8")]


@pytest.mark.parametrize(("down_s", "up_s", "free"), [(2.0, 4.0, True), (2.001, 4.0, False), (2.0, 3.999, False)])
def test_edge_the_pedal_covers_the_figure_to_the_ms(down_s: float, up_s: float, free: bool) -> None:
    """Down as it starts and up as it ends is enough; 1 ms late or early is not."""
    assert uncast(held(down_s, up_s)) == ([] if free else [("A", "H8")])


def test_edge_the_first_course_without_a_damper() -> None:
    """The last damped course needs the pedal, the next does not."""
    assert uncast((), LAST_DAMPED) == [("A", "H8")]
    assert uncast((), LAST_DAMPED + 1) == []


@pytest.mark.parametrize(("pressed_s", "free"), [(0.9, True), (1.1, False)])
def test_edge_the_sostenuto_holds_what_was_up(pressed_s: float, free: bool) -> None:
    """Pressed before the damper pedal comes up at 1 s the sostenuto holds the course; after that it holds nothing."""
    sostenuto = PedalSpan(pedal=Pedal.SOSTENUTO, down_s=pressed_s, up_s=9.0)
    reason = damped(PLUCK, toy_kit().rows[PLUCK.technique], toy_piano(), (*held(0.0, 1.0), sostenuto))
    assert (reason is None) is free


def test_keys_lift_their_own_dampers() -> None:
    """A figure on the keys needs no pedal."""
    keys = figure("A", Technique.KEYS, (40,), 2.0, 4.0)
    assert damped(keys, toy_kit().rows[keys.technique], toy_piano(), ()) is None


def test_a_key_held_frees_its_course() -> None:
    """Held from its start to its end the course rings without a pedal; let go 1 ms early it does not."""
    row, piano = toy_kit().rows[PLUCK.technique], toy_piano()
    assert damped(PLUCK, row, piano, (), (HeldKey(key=Key(40), down_s=2.0, up_s=4.0),)) is None
    assert damped(PLUCK, row, piano, (), (HeldKey(key=Key(40), down_s=2.0, up_s=3.999),)) is not None
