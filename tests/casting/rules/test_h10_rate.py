"""H10: no hand repeats faster than its technique allows, nor leaps faster than a hand can aim."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.rules.h10_rate import attacks, hands_at_once, playable
from rimside.kit import TARGET_WIDTH_MM
from rimside.people import fitts_s
from rimside.pitch import Key
from rimside.score.model import Figure, Stroke, Technique
from tests.casting.judging import world
from tests.casting.solving import question, solved, uncast_rules
from tests.casting.worlds import figure, on_course, toy_kit, toy_piano, toy_players

ROW = toy_kit().rows[Technique.FELT_HAMMER]


def repeated(times: int, technique: Technique = Technique.FELT_HAMMER) -> Figure:
    """One course, so many times in one second."""
    return figure("A", technique, (40,), 0.0, 1.0, times=times)


def leap(apart_s: float) -> Figure:
    """Key 30 and, after a while, key 50, with one hammer."""
    whole = figure("A", Technique.FELT_HAMMER, (30, 50), 0.0, 3.0)
    onsets = ((30, 0.0), (50, apart_s))
    return replace(whole, strokes=tuple(Stroke(onset_s=t, until_s=3.0, key=Key(key)) for key, t in onsets))


def test_holds_slow_enough_for_one_hand() -> None:
    """Three strokes a second take one hand."""
    task = question(world(repeated(3))).tasks[0]
    assert (task.barred, task.hands, task.need) == (None, 1, 1)


def test_broken_too_fast_for_two() -> None:
    """Twenty strokes a second are too many for two hands, and H10 says so."""
    assert uncast_rules(solved(world(repeated(20)), depth=1)) == [("A", "H10")]


@pytest.mark.parametrize(("times", "hands"), [(6, 1), (7, 2), (12, 2)])
def test_edge_six_strokes_a_second_a_hand(times: int, hands: int) -> None:
    """The limit of a hammer is 6 Hz: six a second take one hand, seven two, twelve still two."""
    (row,) = solved(world(repeated(times)), depth=1).cast
    assert (len(row.hands), len(row.implements)) == (hands, hands)


def test_edge_thirteen_is_one_too_many() -> None:
    """Thirteen a second are too fast for two hands in turn."""
    assert uncast_rules(solved(world(repeated(13)), depth=1)) == [("A", "H10")]


def test_edge_a_leap_takes_the_time_of_aiming() -> None:
    """One hand needs Fitts's time (P. M. Fitts, J. Exp. Psychol. 47 (1954) 381) from key 30 to key 50; two do not."""
    piano = toy_piano()
    contacts = (on_course(piano, 30, 200.0), on_course(piano, 50, 200.0))
    need_s = fitts_s(20 * 14.0, TARGET_WIDTH_MM)
    assert need_s > 1 / 6.0
    assert playable(leap(need_s), ROW, contacts, 1)
    assert not playable(leap(need_s - 0.001), ROW, contacts, 1)
    assert playable(leap(need_s - 0.001), ROW, contacts, 2)


def test_moments_ask_for_hands() -> None:
    """Two keys 14 apart ask two hands on the keyboard; 13 apart one; six neighbours ask two; a stick holds two."""
    rows = toy_kit().rows

    def hands(technique: Technique, *keys: int) -> int:
        return hands_at_once(figure("A", technique, keys, 0.0, 2.0), rows[technique])

    assert hands(Technique.KEYS, 30, 43) == 1
    assert hands(Technique.KEYS, 30, 44) == 2
    assert hands(Technique.KEYS, *range(30, 36)) == 2
    assert hands(Technique.STICK_BOW, 40, 41) == 1
    assert hands(Technique.STICK_BOW, 40, 42) == 2
    assert hands(Technique.FELT_HAMMER, 40, 41) == 2


def test_attacks_come_in_order_of_time() -> None:
    """Strokes written late are still heard in their order."""
    whole = leap(0.5)
    backwards = replace(whole, strokes=whole.strokes[::-1])
    assert attacks(backwards, ROW) == [(0.0, ((Key(30),),)), (0.5, ((Key(50),),))]


def test_magnets_repeat_on_each_course_by_themselves() -> None:
    """A magnet goes on and off once a second at most, whatever hands there are."""
    once, twice = (figure("A", Technique.MAGNET_DRIVE, (40,), 0.0, 2.0, times=times) for times in (2, 3))
    row = toy_kit().rows[Technique.MAGNET_DRIVE]
    assert playable(once, row, (), 0)
    assert not playable(twice, row, (), 0)
    assert not solved(world(once, players=toy_players(1)), depth=1).uncast
