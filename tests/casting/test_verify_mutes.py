"""The judge on H9 and on chores: when a mute lies, who does what is needed, and within whose reach."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.result import CastChore
from rimside.score.model import Mute, Technique
from tests.casting.judging import BASS, broken, laid, world
from tests.casting.worlds import figure, play, toy_piano

PIANO = toy_piano()
MUTED = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0, mute=Mute.MOULDED)
BARE = replace(MUTED, mute=Mute.NONE)


def breaches(asked: bool, *chores: CastChore) -> set[str]:
    """What is wrong when a muted or a bare figure from 1 to 3 s stands among these chores."""
    what = MUTED if asked else BARE
    return broken(world(what), [play(PIANO, what, "ada", BASS)], chores=chores)


@pytest.mark.parametrize(
    ("asked", "lay_s", "lift_s", "breaks"),
    [
        (True, -4.0, None, False),
        (True, -1.0, 3.0, False),
        (True, -0.9, None, True),
        (True, -4.0, 2.0, True),
        (True, None, None, True),
        (False, None, None, False),
        (False, 3.0, None, False),
        (False, 2.9, None, True),
        (False, -4.0, None, True),
        (False, -9.0, -1.0, False),
        (False, -9.0, -0.9, True),
    ],
)
def test_h9_a_mute_lies_exactly_while_it_is_asked_for(
    asked: bool, lay_s: float | None, lift_s: float | None, breaks: bool
) -> None:
    """Holds, broken and edge: laying ends as the figure begins, lifting begins as it ends; each takes two seconds."""
    chores = [laid(24, lay_s)] if lay_s is not None else []
    chores += [laid(24, lift_s, "lift mute")] if lift_s is not None else []
    assert ("H9" in breaches(asked, *chores)) is breaks


def test_h9_another_course_may_be_muted() -> None:
    """A mute on the neighbour is no mute here, and does not hinder."""
    assert "H9" in breaches(True, laid(26))
    assert "H9" not in breaches(False, laid(26))


def test_a_needed_chore_that_nobody_does_is_a_breach() -> None:
    """Needed by a cast figure: a breach; needed by nobody but without a reason: too; with a reason: told, not wrong."""
    undone = replace(laid(30), player=None, place=None, needed_by=("f1",), reason="nobody has time")
    assert breaches(False, undone) == {"H9"}
    assert breaches(False, replace(undone, needed_by=(), reason="")) == {"H9"}
    assert breaches(False, replace(undone, needed_by=())) == set()


def test_h3_a_chore_out_of_reach() -> None:
    """From the bass side the middle of the treble is too far."""
    assert "H3" in breaches(False, laid(85))
    assert "H3" not in breaches(False, laid(4))
