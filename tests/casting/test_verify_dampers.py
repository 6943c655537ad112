"""The judge of H8: silent keys, what the sostenuto catches, and figures that must fall silent."""

from __future__ import annotations

import pytest

from rimside.casting.result import HELD_KEYS, PedalAction
from rimside.pitch import Key
from rimside.score.model import Figure, Technique
from tests.casting.judging import broken, world
from tests.casting.worlds import figure, nearest_place, play, toy_length_mm, toy_x_mm

PLUCK = figure("A", Technique.FINGER_PLUCK, (60,), 2.0, 4.0)


def action(pedal: str, down_s: float, up_s: float, *keys: int) -> PedalAction:
    """Something held by nobody in particular."""
    return PedalAction(pedal=pedal, down_s=down_s, up_s=up_s, by="unassigned", keys=tuple(map(Key, keys)))


def judged(what: Figure, *actions: PedalAction, others: tuple[Figure, ...] = ()) -> set[str]:
    """The rules that one cast figure breaks with these pedals and keys; others stay uncast and unsaid."""
    where = world(what, *others)
    place = nearest_place(where.piano, toy_x_mm(60), 500.0 + toy_length_mm(60) / 2)
    return broken(where, [play(where.piano, what, "ada", place.id, 100.0)], pedals=actions) & {"H8", "pedals"}


@pytest.mark.parametrize(("up_s", "rules"), [(4.0, set()), (3.9, {"H8"})])
def test_a_key_held_frees_its_course(up_s: float, rules: set[str]) -> None:
    """Silent keys are no pedal, and lift the damper while they are held."""
    assert judged(PLUCK, action(HELD_KEYS, 1.0, up_s, 60)) == rules
    assert judged(PLUCK, action(HELD_KEYS, 1.0, up_s, 61)) == {"H8"}


@pytest.mark.parametrize(("pressed_s", "rules"), [(1.0, set()), (1.5, {"H8"}), (0.5, {"H8"})])
def test_the_sostenuto_catches_what_is_held_as_it_goes_down(pressed_s: float, rules: set[str]) -> None:
    """A key held from 0.5 to 1.5 s is caught in between, not at either end."""
    actions = (action(HELD_KEYS, 0.5, 1.5, 60), action("sostenuto", pressed_s, 9.0, 60))
    assert judged(PLUCK, *actions) == rules


@pytest.mark.parametrize(("up_s", "rules"), [(4.0, set()), (4.1, {"H8"})])
def test_a_dry_figure_falls_silent_at_its_end(up_s: float, rules: set[str]) -> None:
    """The pedal comes up with its end; a tenth of a second later is too late."""
    dry = figure("A", Technique.FINGER_PLUCK, (60,), 2.0, 4.0, dry=True)
    assert judged(dry, action("damper", 0.0, up_s)) == rules


@pytest.mark.parametrize(("down_s", "rules"), [(4.1, {"H8"}), (4.3, set())])
def test_silence_lasts_a_moment(down_s: float, rules: set[str]) -> None:
    """The pedal stays up for 0.3 s."""
    dry = figure("A", Technique.FINGER_PLUCK, (60,), 2.0, 4.0, dry=True)
    assert judged(dry, action("damper", 0.0, 4.0), action("damper", down_s, 9.0)) == rules


def test_silence_ends_when_the_course_starts_again() -> None:
    """With another figure on the course after 0.1 s the pedal may go down for that."""
    dry = figure("A", Technique.FINGER_PLUCK, (60,), 2.0, 4.0, dry=True)
    again = figure("B", Technique.FINGER_PLUCK, (60,), 4.1, 5.0)
    assert judged(dry, action("damper", 0.0, 4.0), action("damper", 4.1, 9.0), others=(again,)) == set()
