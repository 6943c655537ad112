"""The three pedals of a grand, row by row: what technicians test a sostenuto by, and what players rely on.

Sources are posts of a piano technicians' list (caut), named by month and number, and writings of the trade.
"""

from __future__ import annotations

import math

import pytest

from rimside.casting.pedals.plan import plan_pedals
from rimside.piano.dampers import HeldKey, Span, free_spans
from rimside.piano.model import Permissions
from rimside.piano.shipped import SHIPPED
from rimside.pitch import Key
from rimside.score.model import Pedal, PedalSpan, Technique
from tests.casting.worlds import figure, toy_kit, toy_piano
from tests.piano.example import piano

KEY, OTHER = Key(30), Key(34)


def damper(down_s: float, up_s: float) -> PedalSpan:
    return PedalSpan(pedal=Pedal.DAMPER, down_s=down_s, up_s=up_s)


def sostenuto(down_s: float, up_s: float) -> PedalSpan:
    return PedalSpan(pedal=Pedal.SOSTENUTO, down_s=down_s, up_s=up_s)


def una_corda(down_s: float, up_s: float) -> PedalSpan:
    return PedalSpan(pedal=Pedal.UNA_CORDA, down_s=down_s, up_s=up_s)


def held(key: Key, down_s: float, up_s: float) -> HeldKey:
    return HeldKey(key=key, down_s=down_s, up_s=up_s)


def free(key: Key, *done: PedalSpan | HeldKey) -> tuple[Span, ...]:
    """When a course of a shipped grand is free, for pedals and keys held."""
    pedals = tuple(one for one in done if isinstance(one, PedalSpan))
    return free_spans(piano().course(key), pedals, tuple(one for one in done if isinstance(one, HeldKey)))


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_the_damper_pedal_lifts_all_and_leaves_the_undamped_top_alone(name: str) -> None:
    """Every damped course is free just while it is down; the top courses are free always."""
    # depianotuner.com; the top: from memory (high confidence).
    for course in piano(name).courses:
        expected = (1.0, 5.0) if course.damper is not None else (-math.inf, math.inf)
        assert free_spans(course, (damper(1.0, 5.0),)) == (expected,)


def test_the_sostenuto_holds_only_what_was_raised_already() -> None:
    """A key held when it goes down stays free after the key is let go; one pressed later is damped as ever."""
    # Grove entry (monkhaus.com); Fandrich, caut 1999-January/001177.
    done = (held(KEY, 0.0, 2.0), sostenuto(1.0, 9.0), held(OTHER, 3.0, 4.0))
    assert free(KEY, *done) == ((0.0, 9.0),)
    assert free(OTHER, *done) == ((3.0, 4.0),)


def test_a_key_pressed_later_slips_past_and_hangs_nowhere() -> None:
    """The tab folds past the blade: the damper falls with its key, again and again."""
    # Fandrich, caut 1999-January/001177.
    assert free(KEY, sostenuto(0.0, 9.0), held(KEY, 1.0, 2.0), held(KEY, 3.0, 4.0)) == ((1.0, 2.0), (3.0, 4.0))


def test_damper_then_sostenuto_then_damper_up_keeps_all_raised_until_it_is_let_go() -> None:
    """The usual regulation test, and its end: all fall when the sostenuto comes up."""
    # caut 2008-February/025577, tests 1 and 2; 20080201/b33db9bc.
    for key in (Key(1), KEY, Key(60)):
        assert free(key, damper(0.0, 3.0), sostenuto(2.0, 9.0)) == ((0.0, 9.0),)


def test_the_sostenuto_alone_raises_nothing_and_catches_nothing_later() -> None:
    """Pressed from rest no damper rises; strokes that follow never hang."""
    # caut 2008-February/025577, tests 4 and 5.
    assert free(KEY, sostenuto(0.0, 9.0)) == ()
    assert free(KEY, sostenuto(0.0, 9.0), held(KEY, 4.0, 5.0)) == ((4.0, 5.0),)


def test_the_sostenuto_may_come_up_first() -> None:
    """Legal, with a noise: the course stays free until the damper pedal comes up too."""
    # caut 2008-December/000705; 1999-January/001173 and 001177.
    done = (held(KEY, 0.0, 2.0), sostenuto(1.0, 5.0), damper(4.0, 8.0))
    assert free(KEY, *done) == ((0.0, 8.0),)
    assert free(OTHER, *done) == ((4.0, 8.0),)


def test_the_damper_pedal_still_lifts_the_rest_while_the_sostenuto_holds_a_set() -> None:
    """The set stays up, the rest rises and falls with the damper pedal."""
    # From memory (high confidence); follows from what the blade does.
    done = (held(KEY, 0.0, 2.0), sostenuto(1.0, 20.0), damper(5.0, 6.0), damper(9.0, 10.0))
    assert free(KEY, *done) == ((0.0, 20.0),)
    assert free(OTHER, *done) == ((5.0, 6.0), (9.0, 10.0))


@pytest.mark.parametrize(("down_s", "up_s"), [(1.0, 3.0), (0.0, 1.0)])
def test_a_damper_on_its_way_is_not_counted_on(down_s: float, up_s: float) -> None:
    """Raised or let go at the very moment when the blade turns, it may be caught or missed: regulation decides."""
    # From memory (medium confidence).
    assert free(KEY, held(KEY, down_s, up_s), sostenuto(1.0, 9.0)) == ((down_s, up_s),)


def test_a_damper_lifted_by_hand_counts_as_raised() -> None:
    """A damper wedged up, like a key held, is caught; ensembles that play inside do so."""
    # From memory (medium confidence), by the mechanism: the tab is up, whatever lifts it.
    assert free(KEY, held(KEY, -5.0, 2.0), sostenuto(1.0, 9.0)) == ((-5.0, 9.0),)


def test_the_una_corda_pedal_leaves_dampers_and_sostenuto_alone() -> None:
    """It shifts hammers: no damper rises, and what the sostenuto holds stays held."""
    # caut 1999-January/001173; pianosociety.com, topic 1327 (the shift).
    assert free(KEY, una_corda(0.0, 9.0)) == ()
    assert free(KEY, held(KEY, 0.0, 2.0), sostenuto(1.0, 9.0), una_corda(0.5, 4.0)) == ((0.0, 9.0),)


def test_the_damper_pedal_is_wedged_or_held_by_a_named_person() -> None:
    """So do ensembles that bow inside: a plan without silences is one pedal, for a wedge, or for one foot."""
    # caut 20071113/fdd4d2fb.
    bow = figure("A", Technique.LINE_BOW, (30,), 0.0, 60.0)
    wedged = plan_pedals((bow,), toy_piano(), (), toy_kit())
    assert [one.pedal for one in wedged.spans] == [Pedal.DAMPER]
    assert not wedged.needs
    strict = toy_piano(permissions=Permissions(allowed=frozenset({"rosin"})))
    footed = plan_pedals((bow,), strict, (), toy_kit())
    assert [chore.feet for chore in footed.chores] == [1]
    assert len(footed.needs) == 1
