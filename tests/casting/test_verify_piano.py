"""H8 dampers, H11 permission and H12 skill: three tests each, and what they say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.result import CastChore, PedalAction
from rimside.kit import PERMISSIONS
from rimside.piano.model import Permissions
from rimside.score.model import Mute, Pedal, PedalSpan, Technique, Touch
from tests.casting.judging import BASS, KEYBOARD, TREBLE, broken, cast, judged, laid, world
from tests.casting.worlds import figure, play, tool, toy_piano, toy_players

PIANO = toy_piano()
PLUCK = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)
DAMPER, SOSTENUTO = Pedal.DAMPER, Pedal.SOSTENUTO


def span(pedal: Pedal, down_s: float, up_s: float) -> PedalSpan:
    return PedalSpan(pedal=pedal, down_s=down_s, up_s=up_s)


def with_pedals(*pedals: PedalSpan) -> set[str]:
    """What breaks when key 24 is plucked from 1 to 3 s under these pedals."""
    return broken(world(PLUCK, pedals=pedals), [play(PIANO, PLUCK, "ada", BASS)])


# H8.


def test_h8_holds_under_the_damper_pedal() -> None:
    """The pedal is down before the figure and comes up after it."""
    assert with_pedals(span(DAMPER, 0.0, 4.0)) == set()


def test_h8_broken_when_the_damper_lies_on_the_string() -> None:
    """Without a pedal the felt stops the string, and the message names the course."""
    where = world(PLUCK, pedals=())
    breaches = judged(where, cast(where, [play(PIANO, PLUCK, "ada", BASS)]))
    assert [(b.rule, b.figures) for b in breaches] == [("H8", ("f1",))]
    assert "the damper of G♯2" in breaches[0].message


@pytest.mark.parametrize(
    ("down_s", "up_s", "breaks"), [(1.0, 3.0, False), (1.001, 3.0, True), (1.0, 2.999, True), (0.0, 1.0, True)]
)
def test_h8_edge_the_whole_figure_and_no_less(down_s: float, up_s: float, breaks: bool) -> None:
    """From its start to its end, which is not part of it."""
    assert with_pedals(span(DAMPER, down_s, up_s)) == ({"H8"} if breaks else set())


@pytest.mark.parametrize(
    ("pedals", "breaks"),
    [
        ((span(DAMPER, 0.0, 2.0), span(DAMPER, 2.0, 4.0)), True),
        ((span(DAMPER, 0.0, 2.0), span(DAMPER, 1.9, 4.0)), False),
        ((span(DAMPER, 0.0, 0.9), span(SOSTENUTO, 0.5, 4.0)), False),
        ((span(DAMPER, 0.0, 2.0), span(SOSTENUTO, 1.5, 4.0)), False),
        ((span(SOSTENUTO, 0.5, 4.0),), True),
        ((span(DAMPER, 0.5, 0.9), span(SOSTENUTO, 0.5, 4.0)), True),
        ((span(DAMPER, 0.0, 0.5), span(SOSTENUTO, 0.5, 4.0)), True),
        ((span(DAMPER, 0.0, 0.9), span(SOSTENUTO, 0.5, 2.9)), True),
        ((span(DAMPER, 0.0, 1.2), span(SOSTENUTO, 1.1, 2.0), span(DAMPER, 1.9, 4.0)), False),
        ((span(Pedal.UNA_CORDA, 0.0, 4.0),), True),
    ],
)
def test_h8_pedals_take_over_from_each_other(pedals: tuple[PedalSpan, ...], breaks: bool) -> None:
    """Lifting and lowering at one moment lets the dampers fall; the sostenuto holds only what was raised before it."""
    assert with_pedals(*pedals) == ({"H8"} if breaks else set())


def test_h8_asks_nothing_of_undamped_courses_and_of_keys() -> None:
    """The top of the piano has no dampers, and a key lifts its own."""
    high = figure("f1", Technique.FINGER_PLUCK, [69], 1.0, 3.0)
    assert broken(world(high, pedals=()), [play(PIANO, high, "ada", TREBLE, 60.0)]) == set()
    last_damped = figure("f1", Technique.FINGER_PLUCK, [68], 1.0, 3.0)
    assert broken(world(last_damped, pedals=()), [play(PIANO, last_damped, "ada", TREBLE, 90.0)]) == {"H8"}
    keyed = figure("f1", Technique.KEYS, [24], 1.0, 3.0)
    assert broken(world(keyed, pedals=()), [play(PIANO, keyed, "ada", KEYBOARD)]) == set()


def test_h8_a_pedal_that_is_not_there_holds_nothing() -> None:
    """A piano without a sostenuto pedal: the action is wrong, and so is the figure that counts on it."""
    piano = toy_piano(pedals=frozenset({DAMPER}))
    actions = (
        PedalAction(pedal="damper", down_s=0.0, up_s=0.9, by="unassigned"),
        PedalAction(pedal="sostenuto", down_s=0.5, up_s=4.0, by="unassigned"),
    )
    where = world(PLUCK, piano=piano)
    assert broken(where, [play(piano, PLUCK, "ada", BASS)], pedals=actions) == {"H8", "pedals"}


# H11.


def owned(*allowed: str, spots: tuple[str, ...] = ()) -> Permissions:
    return Permissions(allowed=frozenset(allowed), forbidden_spots=frozenset(spots))


def test_h11_holds_with_the_one_permission_it_needs() -> None:
    """Plucking asks for plectra and fingers, and for nothing else."""
    piano = toy_piano(permissions=owned("plectra"))
    assert broken(world(PLUCK, piano=piano), [play(piano, PLUCK, "ada", BASS)]) == set()


def test_h11_broken_without_the_owners_word() -> None:
    """The message says what was not allowed."""
    piano = toy_piano(permissions=owned(*(set(PERMISSIONS) - {"plectra"})))
    where = world(PLUCK, piano=piano)
    breaches = judged(where, cast(where, [play(piano, PLUCK, "ada", BASS)]))
    assert [b.rule for b in breaches] == ["H11"]
    assert PERMISSIONS["plectra"] in breaches[0].message


@pytest.mark.parametrize(("barred", "breaks"), [((), False), (("frame, bass",), True), (("rim, treble",), False)])
def test_h11_edge_spots_are_barred_one_by_one(barred: tuple[str, ...], breaks: bool) -> None:
    """Beaters are allowed, and one spot may still be barred."""
    piano = toy_piano(permissions=owned("beaters", spots=barred))
    beaten = figure("f1", Technique.BEATER, "frame, bass", 1.0, 3.0)
    beater = tool("beater", 1, -20.0, 2400.0)
    rows = [play(piano, beaten, "ada", "p14", tools=[beater])]
    assert broken(world(beaten, piano=piano), rows, [beater]) == ({"H11"} if breaks else set())


@pytest.mark.parametrize(
    ("touch", "mute", "needs"),
    [(Touch(k=1, n=2), Mute.NONE, "touch"), (None, Mute.FINGER, "touch"), (None, Mute.MOULDED, "mutes")],
)
def test_h11_fingers_and_mutes_on_strings_are_asked_for_too(touch: Touch | None, mute: Mute, needs: str) -> None:
    """A node touched and a mute laid are things done to this piano."""
    used = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0, touch=touch, mute=mute)
    for allowed, breaks in ((("plectra", needs), False), (("plectra",), True)):
        piano = toy_piano(permissions=owned(*allowed))
        rows = [play(piano, used, "ada", BASS, hands=("left", "right"))]
        chores = (laid(24), laid(24, 4.0, "lift mute")) if mute is Mute.MOULDED else ()
        assert broken(world(used, piano=piano), rows, chores=chores) == ({"H11"} if breaks else set())


def test_h11_a_wedge_is_asked_for() -> None:
    """A pedal may be held by a player without asking, by a wedge only with the owner's word."""
    rows = [play(PIANO, PLUCK, "ada", BASS)]
    foot = CastChore(
        id="foot",
        kind="hold pedal",
        start_s=0.0,
        end_s=4.0,
        player="ben",
        place="p02",
        hands=(),
        feet=1,
        target="damper",
    )
    for by, allowed, breaks in (("ben", "rosin", False), ("wedge", "wedge", False), ("wedge", "rosin", True)):
        piano = toy_piano(permissions=owned("plectra", allowed))
        pedals = (PedalAction(pedal="damper", down_s=0.0, up_s=4.0, by=by),)
        found = broken(world(PLUCK, piano=piano), rows, pedals=pedals, chores=(foot,) if by == "ben" else ())
        assert found == ({"H11"} if breaks else set())


# H12.


def test_h12_holds_for_players_who_do_everything() -> None:
    """No list of skills means every technique."""
    players = toy_players(1, skills=None)
    assert broken(world(PLUCK, players=players), [play(PIANO, PLUCK, "ada", BASS)]) == set()


def test_h12_broken_when_the_player_does_not_do_it() -> None:
    """Ada bows and does not pluck."""
    where = world(PLUCK, players=toy_players(1, skills=frozenset({Technique.LINE_BOW})))
    breaches = judged(where, cast(where, [play(PIANO, PLUCK, "ada", BASS)]))
    assert [(b.rule, b.figures) for b in breaches] == [("H12", ("f1",))]
    assert breaches[0].message.startswith("Ada does not play finger pluck")


def test_h12_edge_one_skill_is_enough_and_none_is_not() -> None:
    """The very technique alone will do; an empty list plays nothing, whatever another player can do."""
    ada, ben = toy_players(2)
    for skills, breaks in ((frozenset({Technique.FINGER_PLUCK}), False), (frozenset(), True)):
        where = world(PLUCK, players=(replace(ada, skills=skills), ben))
        assert broken(where, [play(PIANO, PLUCK, "ada", BASS)]) == ({"H12"} if breaks else set())
