"""Pedals: each test is one row of what technicians regulate a sostenuto by."""

from __future__ import annotations

import math

import pytest

from rimside.piano.dampers import HeldKey, course_is_damped, course_is_free, free_spans, usable_pedals
from rimside.pitch import Key
from rimside.score.model import Pedal, PedalSpan
from tests.piano.example import piano

DAMPED, UNDAMPED = piano().course(Key(30)), piano().course(Key(80))


def damper(down_s: float, up_s: float) -> PedalSpan:
    return PedalSpan(pedal=Pedal.DAMPER, down_s=down_s, up_s=up_s)


def sostenuto(down_s: float, up_s: float) -> PedalSpan:
    return PedalSpan(pedal=Pedal.SOSTENUTO, down_s=down_s, up_s=up_s)


def test_without_pedals_a_damped_course_is_never_free() -> None:
    """Dampers lie on their strings at rest."""
    assert free_spans(DAMPED, ()) == ()
    assert not course_is_free(DAMPED, (), 0.0, 1.0)


def test_top_notes_are_always_free() -> None:
    """Undamped top notes are unaffected by pedals."""
    # depianotuner.com; common knowledge.
    assert free_spans(UNDAMPED, ()) == ((-math.inf, math.inf),)
    assert course_is_free(UNDAMPED, (), 0.0, 1000.0)


def test_damper_pedal_lifts_all_dampers() -> None:
    """Free exactly while it is down, from the moment it goes down to the moment it comes up."""
    assert course_is_free(DAMPED, (damper(1, 5),), 1.0, 5.0)
    assert not course_is_free(DAMPED, (damper(1, 5),), 0.9, 5.0)
    assert not course_is_free(DAMPED, (damper(1, 5),), 1.0, 5.1)


def test_damper_then_sostenuto_then_damper_up_keeps_all_raised() -> None:
    """The standard regulation test: all dampers stay up until the sostenuto is let go."""
    # Technicians' list, 2008-February/025577, tests 1 and 2.
    pedals = (damper(0, 3), sostenuto(2, 9))
    assert free_spans(DAMPED, pedals) == ((0, 9),)
    assert not course_is_free(DAMPED, pedals, 8.0, 9.5)


def test_sostenuto_alone_raises_nothing() -> None:
    """Pressed from rest, no damper rises and none is caught later."""
    # Technicians' list, 2008-February/025577, tests 4 and 5.
    assert free_spans(DAMPED, (sostenuto(0, 9),)) == ()


def test_dampers_raised_after_the_sostenuto_are_not_caught() -> None:
    """Only dampers already raised when it goes down are held."""
    # Grove entry (monkhaus.com); Fandrich, technicians' list, 1999-January/001177.
    assert free_spans(DAMPED, (sostenuto(0, 9), damper(1, 3))) == ((1, 3),)


def test_damper_pedal_still_works_while_the_sostenuto_holds() -> None:
    """The held ones stay up whatever the damper pedal does meanwhile."""
    # Follows from the mechanism; from memory (high confidence).
    assert free_spans(DAMPED, (damper(0, 2), sostenuto(1, 9), damper(4, 5), damper(8, 11))) == ((0, 11),)


def test_sostenuto_let_go_first_leaves_the_damper_pedal_in_charge() -> None:
    """Free until the damper pedal comes up."""
    # Technicians' list, 2008-December/000705: legal, with a noise.
    assert free_spans(DAMPED, (damper(0, 8), sostenuto(2, 5))) == ((0, 8),)


def test_two_pedals_at_one_moment_catch_nothing_for_certain() -> None:
    """A damper half raised when the sostenuto engages may be missed, so it is not counted on."""
    # From memory (medium confidence): depends on regulation.
    assert free_spans(DAMPED, (damper(2, 4), sostenuto(2, 9))) == ((2, 4),)
    assert free_spans(DAMPED, (damper(0, 2), sostenuto(2, 9))) == ((0, 2),)


def test_a_change_of_pedal_lets_the_damper_fall() -> None:
    """Up and down again at one moment are two spans, not one."""
    pedals = (damper(0, 4), damper(4, 8))
    assert free_spans(DAMPED, pedals) == ((0, 4), (4, 8))
    assert not course_is_free(DAMPED, pedals, 3.0, 5.0)


def test_una_corda_frees_nothing() -> None:
    """The left pedal moves the action and leaves the dampers alone."""
    assert free_spans(DAMPED, (PedalSpan(pedal=Pedal.UNA_CORDA, down_s=0, up_s=9),)) == ()


def test_a_piano_without_sostenuto_holds_nothing() -> None:
    """On the smallest piano the same pedalling rings only while the damper pedal is down."""
    small = piano("grand_170")
    pedals = usable_pedals(small, (damper(0, 3), sostenuto(2, 9)))
    assert free_spans(small.course(Key(30)), pedals) == ((0, 3),)


def test_a_key_held_frees_its_own_course_only() -> None:
    """From the moment it is down to the moment it is let go; whatever the pedals do."""
    keys = (HeldKey(key=Key(30), down_s=1.0, up_s=4.0), HeldKey(key=Key(31), down_s=0.0, up_s=9.0))
    assert free_spans(DAMPED, (), keys) == ((1.0, 4.0),)
    assert course_is_free(DAMPED, (damper(3.0, 6.0),), 1.0, 6.0, keys)


def test_a_held_key_is_caught_by_the_sostenuto() -> None:
    """Strictly between its going down and its coming up."""
    keys = (HeldKey(key=Key(30), down_s=1.0, up_s=4.0),)
    assert free_spans(DAMPED, (sostenuto(2.0, 9.0),), keys) == ((1.0, 9.0),)
    assert free_spans(DAMPED, (sostenuto(1.0, 9.0),), keys) == ((1.0, 4.0),)
    assert free_spans(DAMPED, (sostenuto(4.0, 9.0),), keys) == ((1.0, 4.0),)


@pytest.mark.parametrize(("start_s", "end_s", "damped"), [(0.0, 1.0, True), (5.0, 9.0, True), (4.9, 6.0, False)])
def test_a_course_is_damped_while_nothing_lifts_its_damper(start_s: float, end_s: float, damped: bool) -> None:
    """All through the time asked for, which may begin as the pedal comes up and end as it goes down."""
    assert course_is_damped(DAMPED, (damper(1, 5),), start_s, end_s) is damped
    assert not course_is_damped(UNDAMPED, (), start_s, end_s)
