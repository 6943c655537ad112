"""The judge on H9: when a mute lies, and how many; who does what is needed, and within whose reach."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.result import CastChore
from rimside.kit import Stock
from rimside.pitch import Key, label
from rimside.score.model import Mute, Technique
from tests.casting.judging import BASS, TREBLE, broken, laid, world
from tests.casting.worlds import TOY_STOCK, figure, play, toy_kit, toy_piano

PIANO = toy_piano()
LIFT = "lift mute"
MUTED = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0, mute=Mute.MOULDED)
BARE = replace(MUTED, mute=Mute.NONE)


def breaches(asked: bool, *chores: CastChore) -> set[str]:
    """What is wrong when a muted or a bare figure from 1 to 3 s stands among these chores."""
    what = MUTED if asked else BARE
    return broken(world(what), [play(PIANO, what, "ada", BASS)], chores=chores)


@pytest.mark.parametrize(
    ("asked", "lay_s", "lift_s", "breaks"),
    [
        (True, -4.0, 3.0, False),
        (True, -1.0, 3.0, False),
        (True, -1.0, 9.0, False),
        (True, -0.9, 3.0, True),
        (True, -4.0, 2.9, True),
        (True, -4.0, None, True),
        (True, None, 3.0, True),
        (True, None, None, True),
        (False, None, None, False),
        (False, None, 3.0, True),
        (False, 3.0, None, True),
        (False, -4.0, None, True),
        (False, -9.0, -1.0, True),
    ],
)
def test_h9_a_mute_lies_exactly_while_it_is_asked_for(
    asked: bool, lay_s: float | None, lift_s: float | None, breaks: bool
) -> None:
    """Holds, broken and edge: laying ends as the figure begins, lifting begins as it ends; each takes two seconds."""
    chores = [laid(24, lay_s)] if lay_s is not None else []
    chores += [laid(24, lift_s, LIFT)] if lift_s is not None else []
    assert ("H9" in breaches(asked, *chores)) is breaks


@pytest.mark.parametrize(("lift_s", "breaks"), [(3.0, False), (2.9, True), (3.1, True)])
def test_h9_bare_again_after_a_muted_figure(lift_s: float, breaks: bool) -> None:
    """The lift lies between the two: from the muted figure's end at 3 s to the bare one's start at 5 s, no slack."""
    bare = figure("f2", Technique.FINGER_PLUCK, [24], 5.0, 6.0)
    rows = [play(PIANO, what, "ada", BASS) for what in (MUTED, bare)]
    found = broken(world(MUTED, bare), rows, chores=(laid(24), laid(24, lift_s, LIFT)))
    assert ("H9" in found) is breaks


def test_h9_another_course_may_be_muted() -> None:
    """A mute on the neighbour is no mute here; nor is it a hindrance there."""
    other = figure("f2", Technique.FINGER_PLUCK, [60], 1.0, 3.0, mute=Mute.MOULDED)
    where, rows = world(BARE, other), [play(PIANO, BARE, "ada", BASS), play(PIANO, other, "ben", TREBLE, 90.0)]
    assert "H9" not in broken(where, rows, chores=(laid(60), laid(60, 3.0, LIFT)))
    assert "H9" in broken(where, rows, chores=(laid(24), laid(24, 3.0, LIFT)))


def test_h9_a_mute_is_not_laid_twice_nor_lifted_twice() -> None:
    """What lies cannot be laid and what is gone cannot be lifted; nothing begins before the other has ended."""
    once = (laid(24, -4.0), laid(24, 3.0, LIFT))
    assert "H9" in breaches(True, *once, laid(24, -9.0))
    assert "H9" in breaches(True, *once, laid(24, 9.0, LIFT))
    assert "H9" in breaches(True, laid(24, -4.0), laid(24, -3.0, LIFT), laid(24, -1.0), laid(24, 3.0, LIFT))


def test_h9_a_mute_that_nobody_can_lift_is_told() -> None:
    """Left inside without a word: a breach. With a lift that nobody could be found for, and why: not one."""
    undone = replace(laid(24, 3.0, LIFT), player=None, place=None, reason="nobody reaches it")
    assert "H9" in breaches(True, laid(24))
    assert "H9" not in breaches(True, laid(24), undone)


def test_h9_a_chore_without_contacts_is_about_its_target() -> None:
    """The course is named by the contacts, or without any by the label of the target."""
    pair = [replace(chore, contacts=(), target=label(Key(24))) for chore in (laid(24), laid(24, 3.0, LIFT))]
    assert "H9" not in breaches(True, *pair)
    nowhere = [replace(chore, target="the lid") for chore in pair]
    assert "H9" in breaches(True, *pair, *nowhere)


@pytest.mark.parametrize(("held", "lift_s", "breaks"), [(2, 1.1, False), (1, 1.0, False), (1, 1.1, True)])
def test_h9_no_more_mutes_than_the_kit_holds(held: int, lift_s: float, breaks: bool) -> None:
    """Two courses: the second mute is being laid from 3 s on; the first is in use until it is back, two seconds on."""
    first = figure("f1", Technique.FINGER_PLUCK, [24], 0.5, 0.9, mute=Mute.MOULDED)
    second = figure("f2", Technique.FINGER_PLUCK, [26], 5.0, 6.0, mute=Mute.MOULDED)
    rows = [play(PIANO, what, "ada", BASS) for what in (first, second)]
    stock = (*TOY_STOCK, Stock(kind="moulded mute", serves=frozenset(), count=held))
    chores = (laid(24), laid(24, lift_s, LIFT), laid(26, 3.0), laid(26, 7.0, LIFT))
    where = world(first, second, kit=toy_kit(stock))
    assert ("H9" in broken(where, rows, chores=chores)) is breaks
    assert "H9" not in broken(world(first, second), rows, chores=chores)


def test_a_needed_chore_that_nobody_does_is_a_breach() -> None:
    """Needed by a cast figure: a breach; needed by nobody but without a reason: too; with a reason: told, not wrong."""
    undone = replace(laid(30), player=None, place=None, needed_by=("f1",), reason="nobody has time")
    assert breaches(False, undone) == {"chores"}
    assert breaches(False, replace(undone, needed_by=(), reason="")) == {"chores"}
    assert breaches(False, replace(undone, needed_by=())) == set()


def test_h3_a_chore_out_of_reach() -> None:
    """From the bass side the middle of the treble is too far."""
    assert "H3" in breaches(False, laid(85))
    assert "H3" not in breaches(False, laid(4))
