"""The judge on H8 in full: held keys, what the sostenuto pedal catches, silence after dry figures, and who holds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.allowances import DRY_S
from rimside.casting.result import CastChore, PedalAction
from rimside.pitch import Key
from rimside.score.model import Figure, Technique
from tests.casting.judging import BASS, KEYBOARD, TREBLE, broken, cast, judged, world
from tests.casting.worlds import figure, play, toy_piano

PIANO = toy_piano()
PLUCK = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)
DRY = replace(PLUCK, dry=True)
KEYBOARD_2 = "p02"


def held(pedal: str, down_s: float, up_s: float, *keys: int, by: str = "unassigned") -> PedalAction:
    return PedalAction(pedal=pedal, down_s=down_s, up_s=up_s, by=by, keys=tuple(Key(key) for key in keys))


def with_actions(*actions: PedalAction, what: Figure = PLUCK, chores: tuple[CastChore, ...] = ()) -> set[str]:
    """What breaks when key 24 is plucked from 1 to 3 s while these actions go on."""
    return broken(world(what), [play(PIANO, what, "ada", BASS)], pedals=actions, chores=chores)


def at_pedal(kind: str, start_s: float, end_s: float, target: str = "damper", **changes: object) -> CastChore:
    """Ben at the keyboard with a foot (or a hand) on a pedal."""
    chore = CastChore(
        id=f"{kind} {start_s:g}",
        kind=kind,
        start_s=start_s,
        end_s=end_s,
        player="ben",
        place=KEYBOARD_2,
        hands=() if kind == "hold pedal" else ("right",),
        feet=1 if kind == "hold pedal" else 0,
        target=target,
    )
    return replace(chore, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("actions", "breaks"),
    [
        ((held("keys", 1.0, 3.0, 24),), False),
        ((held("keys", 1.0, 3.0, 20, 24),), False),
        ((held("keys", 1.0, 3.0, 25),), True),
        ((held("keys", 1.001, 3.0, 24),), True),
        ((held("keys", 1.0, 2.999, 24),), True),
        ((held("keys", 0.0, 2.0, 24), held("damper", 1.5, 3.0)), False),
        ((held("keys", 0.0, 2.0, 24), held("damper", 2.0, 3.0)), True),
        ((held("keys", 0.0, 0.9, 24), held("sostenuto", 0.5, 3.0)), False),
        ((held("keys", 0.0, 0.9, 25), held("sostenuto", 0.5, 3.0)), True),
        ((held("sostenuto", 0.5, 3.0), held("keys", 0.6, 0.9, 24)), True),
        ((held("keys", 0.5, 0.9, 24), held("sostenuto", 0.5, 3.0)), True),
        ((held("keys", 0.0, 0.5, 24), held("sostenuto", 0.5, 3.0)), True),
        ((held("keys", 0.0, 0.5, 24), held("damper", 0.5, 0.9), held("sostenuto", 0.5, 3.0)), True),
        ((held("keys", 0.0, 0.4, 24), held("sostenuto", 0.5, 3.0)), True),
        ((held("keys", 0.0, 0.9, 24), held("sostenuto", 0.5, 2.0), held("sostenuto", 2.0, 3.0)), True),
        ((held("keys", 0.0, 0.9, 24), held("sostenuto", 0.5, 2.0), held("sostenuto", 1.9, 3.0)), False),
        ((held("sostenuto", 0.2, 2.0), held("keys", 0.5, 0.9, 24), held("sostenuto", 0.7, 3.0)), True),
    ],
)
def test_h8_held_keys_and_what_the_sostenuto_catches(actions: tuple[PedalAction, ...], breaks: bool) -> None:
    """A key frees its own course; the sostenuto pedal catches what is up before, at and after the moment it falls.

    A second foot on a pedal that is down does not let it fall anew, so it catches nothing more.
    """
    assert with_actions(*actions) == ({"H8"} if breaks else set())


@pytest.mark.parametrize(("at_s", "breaks"), [(0.5, False), (0.0, True), (0.9, True)])
def test_h8_a_key_that_is_played_is_caught_too(at_s: float, breaks: bool) -> None:
    """From 0 to 0.9 s the key is down; the sostenuto pedal keeps its damper up when it falls in between."""
    keyed = figure("f0", Technique.KEYS, [24], 0.0, 0.9)
    rows = [play(PIANO, keyed, "ben", KEYBOARD), play(PIANO, PLUCK, "ada", BASS)]
    found = broken(world(keyed, PLUCK), rows, pedals=(held("sostenuto", at_s, 4.0),))
    assert ("H8" in found) is breaks


@pytest.mark.parametrize(
    ("down_s", "up_s", "breaks"),
    [
        (0.0, 3.0, False),
        (0.0, 3.001, True),
        (0.0, 9.0, True),
    ],
)
def test_h8_a_dry_figure_is_stopped_at_its_end(down_s: float, up_s: float, breaks: bool) -> None:
    """The dampers come down as it ends; others need not mind."""
    assert with_actions(held("damper", down_s, up_s), what=DRY) == ({"H8"} if breaks else set())
    assert with_actions(held("damper", down_s, up_s)) == set()


@pytest.mark.parametrize(("again_s", "breaks"), [(3.0 + DRY_S, False), (3.0 + DRY_S - 0.001, True), (3.0, True)])
def test_h8_the_damper_lies_for_a_while_after_a_dry_figure(again_s: float, breaks: bool) -> None:
    """Another pedal may lift it again when the silence has lasted; edge: just then."""
    assert with_actions(held("damper", 0.0, 3.0), held("damper", again_s, 9.0), what=DRY) == (
        {"H8"} if breaks else set()
    )


@pytest.mark.parametrize(("next_s", "breaks"), [(3.1, False), (3.0, False), (3.2, True)])
def test_h8_the_next_figure_on_the_course_ends_the_silence(next_s: float, breaks: bool) -> None:
    """The pedal goes down at 3.1 s, for a figure that starts then; one that starts later is no reason."""
    later = figure("f2", Technique.FINGER_PLUCK, [24], next_s, 4.0)
    rows = [play(PIANO, what, "ada", BASS) for what in (DRY, later)]
    up_again = held("damper", min(next_s, 3.1), 9.0)
    found = broken(world(DRY, later), rows, pedals=(held("damper", 0.0, 3.0), up_again))
    assert ("H8" in found) is breaks


def test_h8_dry_on_the_keys_and_on_undamped_courses() -> None:
    """A dry key falls silent when it is let go and no pedal is down; a string without a damper cannot be judged."""
    keyed = figure("f1", Technique.KEYS, [24], 1.0, 3.0, dry=True)
    assert broken(world(keyed, pedals=()), [play(PIANO, keyed, "ada", KEYBOARD)]) == set()
    assert broken(world(keyed), [play(PIANO, keyed, "ada", KEYBOARD)]) == {"H8"}
    high = figure("f1", Technique.FINGER_PLUCK, [69], 1.0, 3.0, dry=True)
    assert broken(world(high), [play(PIANO, high, "ada", TREBLE, 60.0)]) == set()


def test_h8_only_one_of_two_courses_falls() -> None:
    """The message names the course whose damper falls, not the other."""
    both = figure("f1", Technique.FINGER_PLUCK, [24, 26], 1.0, 3.0)
    where = world(both, pedals=())
    whole = cast(where, [play(PIANO, both, "ada", BASS)], pedals=(held("keys", 0.0, 4.0, 24),))
    (breach,) = (breach for breach in judged(where, whole) if breach.rule == "H8")
    assert "A♯2" in breach.message
    assert "damper of G♯2" not in breach.message


@pytest.mark.parametrize(
    ("chore", "breaks"),
    [
        (at_pedal("hold pedal", 0.0, 4.0), False),
        (at_pedal("hold pedal", -1.0, 5.0), False),
        (at_pedal("hold pedal", 0.001, 4.0), True),
        (at_pedal("hold pedal", 0.0, 3.999), True),
        (at_pedal("hold pedal", 0.0, 4.0, "sostenuto"), True),
        (at_pedal("hold pedal", 0.0, 4.0, player="ada"), True),
        (at_pedal("wedge pedal", 0.0, 4.0), True),
    ],
)
def test_h8_a_player_who_holds_a_pedal_has_the_chore(chore: CastChore, breaks: bool) -> None:
    """Holds, and the edge: the chore lasts as long as the pedal is down, on that pedal, by that player."""
    assert ("H8" in with_actions(held("damper", 0.0, 4.0, by="ben"), chores=(chore,))) is breaks
    assert "H8" in with_actions(held("damper", 0.0, 4.0, by="ben"))


@pytest.mark.parametrize(
    ("down_s", "up_s", "chores", "breaks"),
    [
        (0.0, 3.0, (), False),
        (-1.0, 9.0, (), False),
        (0.5, 3.0, (), True),
        (0.5, 3.0, (at_pedal("wedge pedal", -1.5, 0.5),), False),
        (0.5, 3.0, (at_pedal("wedge pedal", 0.5, 0.9),), False),
        (0.5, 3.0, (at_pedal("wedge pedal", 0.6, 0.9),), True),
        (0.5, 3.0, (at_pedal("wedge pedal", -1.5, 0.4),), True),
        (0.5, 3.0, (at_pedal("wedge pedal", -1.5, 0.5, "una-corda"),), True),
        (0.5, 3.0, (at_pedal("free pedal", -1.5, 0.5),), True),
        (0.5, 3.0, (at_pedal("wedge pedal", -1.5, 0.5, player=None, place=None, reason="no time"),), True),
    ],
)
def test_h8_a_wedge_is_put_by_somebody(down_s: float, up_s: float, chores: tuple[CastChore, ...], breaks: bool) -> None:
    """At the start and at the end of the piece nobody need; in between it goes down while a chore lasts."""
    assert ("H8" in with_actions(held("damper", down_s, up_s, by="wedge"), chores=chores)) is breaks


@pytest.mark.parametrize(("start_s", "breaks"), [(4.0, False), (3.0, False), (4.1, True), (1.9, True)])
def test_h8_a_wedge_is_taken_away_by_somebody(start_s: float, breaks: bool) -> None:
    """The pedal comes up at 4 s, while somebody frees it for two seconds; the piece goes on until 9 s."""
    last = figure("f2", Technique.KEYS, [60], 8.0, 9.0)
    rows = [play(PIANO, PLUCK, "ada", BASS), play(PIANO, last, "ada", KEYBOARD)]
    wedged = held("damper", 0.0, 4.0, by="wedge")
    free = at_pedal("free pedal", start_s, start_s + 2.0)
    assert ("H8" in broken(world(PLUCK, last), rows, pedals=(wedged,), chores=(free,))) is breaks
    assert "H8" in broken(world(PLUCK, last), rows, pedals=(wedged,))


def test_h8_keys_are_held_by_hands() -> None:
    """No wedge holds keys; a player who holds them has the chore."""
    assert "H8" in with_actions(held("keys", 0.0, 4.0, 24, by="wedge"))
    assert "H8" in with_actions(held("keys", 0.0, 4.0, 24, by="ben"))
    chore = at_pedal("hold key", 0.0, 4.0, "G♯2")
    assert "H8" not in with_actions(held("keys", 0.0, 4.0, 24, by="ben"), chores=(chore,))


def test_pedals_keys_held_are_keys_of_the_piano() -> None:
    """Holding no key at all, or one that is not there, is an action about nothing."""
    piano = replace(PIANO, courses=PIANO.courses[:60])
    where = world(PLUCK, piano=piano)
    for keys, breaks in (((), True), ((61,), True), ((24,), False), ((60,), False)):
        found = broken(
            where,
            [play(piano, PLUCK, "ada", BASS)],
            pedals=(held("damper", 0.0, 9.0), held("keys", 0.0, 4.0, *keys)),
        )
        assert ("pedals" in found) is breaks
