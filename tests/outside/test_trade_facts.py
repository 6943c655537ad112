"""What people who play inside pianos know. Source of every fact here: common practice, no published source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.kit import TECHNIQUES
from rimside.piano.shipped import SHIPPED
from rimside.pitch import Key, label
from rimside.score.model import Mute, Technique
from tests.casting.judging import BASS, BASS_2, broken, world
from tests.casting.solving import solved, uncast_rules
from tests.casting.worlds import TOY_STOCK, figure, play, tool, toy_kit, toy_player, toy_players
from tests.piano.example import piano as shipped_piano

ALONE = toy_players(1)


@pytest.mark.parametrize("key", [1, 10, 20])
def test_line_bows_slip_on_wound_strings(key: int) -> None:
    """A line bow asked for on a wound course stays uncast, and the reason asks for a friction strip instead."""
    casting = solved(world(figure("A", Technique.LINE_BOW, (key,), 0.0, 4.0)), depth=1)
    assert uncast_rules(casting) == [("A", "H6")]
    assert "slips" in casting.uncast[0].reason
    assert "friction strip" in casting.uncast[0].reason


@pytest.mark.parametrize("key", [1, 10, 20])
def test_friction_strips_take_wound_strings(key: int) -> None:
    """The same note with a friction strip is cast."""
    assert not solved(world(figure("A", Technique.FRICTION_STRIP, (key,), 0.0, 4.0)), depth=1).uncast


def test_two_sticks_with_two_sides_hold_four_pitches() -> None:
    """One player with two two-sided sticks bows four pitches: two figures of two neighbouring keys each."""
    figures = [figure(name, Technique.STICK_BOW, keys, 0.0, 4.0) for name, keys in (("A", (40, 41)), ("B", (46, 47)))]
    casting = solved(world(*figures, players=ALONE), depth=1)
    assert not casting.uncast
    assert {row.player for row in casting.cast} == {"ada"}
    assert len({stick for row in casting.cast for stick in row.implements}) == 2


def test_sticks_with_one_side_hold_one_pitch_each() -> None:
    """One player's two one-sided sticks cannot hold all four pitches; they do hold two single ones."""
    figures = [figure(name, Technique.STICK_BOW, keys, 0.0, 4.0) for name, keys in (("A", (40, 41)), ("B", (46, 47)))]
    stock = tuple(replace(item, sides=1) for item in TOY_STOCK)
    casting = solved(world(*figures, players=ALONE, kit=toy_kit(stock)), depth=1)
    assert {entry.rule for entry in casting.uncast} in ({"H2"}, {"H6"})
    singles = [figure(name, Technique.STICK_BOW, (key,), 0.0, 4.0) for name, key in (("A", 40), ("B", 46))]
    assert not solved(world(*singles, players=ALONE, kit=toy_kit(stock)), depth=1).uncast


@pytest.mark.parametrize(("mute", "uncast"), [(Mute.NONE, 0), (Mute.MOULDED, 0), (Mute.FINGER, 1)])
def test_a_finger_mute_costs_a_hand_and_a_moulded_one_does_not(mute: Mute, uncast: int) -> None:
    """One player plucks two courses at once, unless one is muted with a finger; a moulded mute leaves hands free."""
    muted = figure("A", Technique.FINGER_PLUCK, (40,), 0.0, 4.0, mute=mute)
    other = figure("B", Technique.FINGER_PLUCK, (44,), 0.0, 4.0)
    assert len(solved(world(muted, other, players=ALONE), depth=1).uncast) == uncast


@pytest.mark.parametrize("name", SHIPPED)
def test_the_lowest_a_is_key_1(name: str) -> None:
    """Key 1 is A0, the lowest course of every shipped piano, and 440 Hz is key 49."""
    assert label(Key(1)) == "A0"
    assert label(Key(49)) == "A4"
    courses = shipped_piano(name).courses
    assert min(courses, key=lambda course: course.frequency_hz).key == 1
    # from memory: A0 is four octaves below 440 Hz, 27.5 Hz
    assert abs(shipped_piano(name).course(Key(1)).frequency_hz * 440.0 / shipped_piano(name).a4_hz - 27.5) < 0.5


def handed_on(gap_s: float) -> set[str]:
    """The rules that are broken when Ben strikes with Ada's hammer so long after her."""
    hammer = tool("hammer")
    first = figure("A", Technique.FELT_HAMMER, (5,), 0.0, 2.0)
    then = figure("B", Technique.FELT_HAMMER, (15,), 2.0 + gap_s, 4.0 + gap_s)
    where = world(first, then, players=(toy_player(0), toy_player(1)))
    rows = [
        play(where.piano, first, "ada", BASS, tools=(hammer,)),
        play(where.piano, then, "ben", BASS_2, tools=(hammer,)),
    ]
    return broken(where, rows, (hammer,))


def test_an_implement_goes_back_to_its_rest_before_another_takes_it() -> None:
    """Put back in 0.5 s, taken up in 1 s: after 1.5 s the judge is content, after 1.4 s H6 is broken."""
    assert handed_on(1.5) == set()
    assert handed_on(1.4) == {"H6"}


def test_what_one_hand_does() -> None:
    """A line takes both hands, a stick, hammer or pluck one, a strip both, a magnet none; a stick sounds two."""
    hands = {technique: row.hands for technique, row in TECHNIQUES.items()}
    assert hands[Technique.LINE_BOW] == hands[Technique.FRICTION_STRIP] == 2
    assert hands[Technique.STICK_BOW] == hands[Technique.FELT_HAMMER] == hands[Technique.FINGER_PLUCK] == 1
    assert hands[Technique.MAGNET_DRIVE] == 0
    assert TECHNIQUES[Technique.STICK_BOW].neighbours == 2
