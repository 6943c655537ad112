"""H1 whole, H2 hands and H10 rate: three tests each, and what they say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside import people
from rimside.casting.result import CastChore, Uncast
from rimside.kit import TARGET_WIDTH_MM
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Stroke, Technique, Touch
from tests.casting.judging import BASS, BASS_2, KEYBOARD, TREBLE, broken, cast, judged, laid, world
from tests.casting.worlds import TOY_STOCK, figure, line, play, tool, toy_kit, toy_piano

PIANO = toy_piano()
PLUCK = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)
LATER = figure("f2", Technique.FINGER_PLUCK, [24], 5.0, 7.0)
BOTH = ("left", "right")


def struck(name: str, technique: Technique, *strokes: tuple[float, int]) -> Figure:
    """A figure of single strokes, each a moment and a key."""
    keys = list(dict.fromkeys(key for _, key in strokes))
    whole = figure(name, technique, keys, 0.0, 10.0)
    return replace(whole, strokes=tuple(Stroke(onset_s=s, until_s=s + 0.1, key=Key(key)) for s, key in strokes))


# H1.


def test_h1_holds_when_each_figure_is_cast_or_uncast_once() -> None:
    """One figure played and one listed with its reason is a whole casting."""
    uncast = (Uncast(figure="f2", rule="H8", reason="the pedal is up"),)
    assert broken(world(PLUCK, LATER), [play(PIANO, PLUCK, "ada", BASS)], uncast=uncast) == set()


def test_h1_broken_when_a_figure_is_nowhere() -> None:
    """A figure that is neither cast nor listed is lost music."""
    where = world(PLUCK, LATER)
    breaches = judged(where, cast(where, [play(PIANO, PLUCK, "ada", BASS)]))
    assert [(b.rule, b.figures) for b in breaches] == [("H1", ("f2",))]
    assert "nobody plays it" in breaches[0].message


@pytest.mark.parametrize(("cast_times", "uncast_times"), [(2, 0), (1, 1), (0, 2), (3, 0)])
def test_h1_edge_once_is_once(cast_times: int, uncast_times: int) -> None:
    """Twice is as wrong as never, in either list or across both."""
    rows = [play(PIANO, PLUCK, "ada", BASS)] * cast_times
    uncast = (Uncast(figure="f1", rule="H8", reason="the pedal is up"),) * uncast_times
    assert "H1" in broken(world(PLUCK), rows, uncast=uncast)


def test_h1_wants_a_reason() -> None:
    """Listing a figure as uncast without saying why is not enough."""
    uncast = (Uncast(figure="f1", rule="H8", reason=" "),)
    assert broken(world(PLUCK), [], uncast=uncast) == {"H1"}


# H2.


def test_h2_holds_when_two_hands_do_two_things_at_one_place() -> None:
    """One player plucks with each hand, at once, from one place."""
    second = figure("f2", Technique.FINGER_PLUCK, [30], 2.0, 4.0)
    rows = [
        play(PIANO, PLUCK, "ada", BASS_2, hands=("left",)),
        play(PIANO, second, "ada", BASS_2, 150.0, hands=("right",)),
    ]
    assert broken(world(PLUCK, second), rows) == set()


def test_h2_broken_when_one_hand_does_two_things_at_once() -> None:
    """The left hand cannot pluck two courses half a metre apart."""
    second = figure("f2", Technique.FINGER_PLUCK, [30], 2.0, 4.0)
    rows = [play(PIANO, PLUCK, "ada", BASS_2), play(PIANO, second, "ada", BASS_2, 150.0)]
    where = world(PLUCK, second)
    breaches = judged(where, cast(where, rows))
    assert {b.rule for b in breaches} == {"H2"}
    assert "Ada's left hand" in breaches[0].message and set(breaches[0].figures) == {"f1", "f2"}


def test_h2_broken_when_one_player_stands_at_two_places_at_once() -> None:
    """Two hands are not enough to stand at two places."""
    second = figure("f2", Technique.FINGER_PLUCK, [70], 2.0, 4.0)
    rows = [play(PIANO, PLUCK, "ada", BASS), play(PIANO, second, "ada", TREBLE, 60.0, hands=("right",))]
    assert broken(world(PLUCK, second), rows) == {"H2"}


def test_h2_edge_a_figure_may_begin_when_the_other_ends() -> None:
    """Time is half-open: the hand is free at the very end (H4 then asks for the time to settle)."""
    second = figure("f2", Technique.FINGER_PLUCK, [30], 3.0, 4.0)
    rows = [play(PIANO, PLUCK, "ada", BASS_2), play(PIANO, second, "ada", BASS_2, 150.0)]
    assert broken(world(PLUCK, second), rows) == {"H4"}
    early = replace(second, start_s=2.999)
    assert broken(world(PLUCK, early), rows) == {"H2"}


@pytest.mark.parametrize(
    ("touch", "mute", "line_hands", "hands", "breaks"),
    [
        (None, Mute.NONE, 2, BOTH, False),
        (None, Mute.NONE, 2, ("left",), True),
        (None, Mute.NONE, 1, ("left",), False),
        (Touch(k=1, n=2), Mute.NONE, 1, BOTH, False),
        (Touch(k=1, n=2), Mute.NONE, 1, ("left",), True),
        (Touch(k=1, n=2), Mute.NONE, 2, BOTH, True),
        (None, Mute.FINGER, 1, BOTH, False),
        (None, Mute.FINGER, 1, ("right",), True),
        (None, Mute.MOULDED, 2, BOTH, False),
        (Touch(k=1, n=2), Mute.FINGER, 1, BOTH, True),
    ],
)
def test_h2_counts_hands_for_bow_touch_and_mute(
    touch: Touch | None, mute: Mute, line_hands: int, hands: tuple[str, ...], breaks: bool
) -> None:
    """A line takes two hands (or one), a finger at a node one more, a finger mute one more, a moulded mute none."""
    bowed = figure("f1", Technique.LINE_BOW, [24], 1.0, 3.0, touch=touch, mute=mute)
    bow = line(PIANO, 24)
    rows = [play(PIANO, bowed, "ada", BASS, hands=hands, tools=[bow])]
    where = world(bowed, kit=toy_kit(line_bow_hands=line_hands))
    chores = (laid(24), laid(24, 4.0, "lift mute")) if mute is Mute.MOULDED else ()
    assert broken(where, rows, [bow], chores=chores) == ({"H2"} if breaks else set())


def test_h2_counts_chores_too() -> None:
    """A hand that turns a card is not free to pluck."""
    rows = [play(PIANO, PLUCK, "ada", BASS)]
    chore = CastChore(
        id="c1", kind="turn card", start_s=2.0, end_s=2.5, player="ada", place=BASS, hands=("left",), target="all"
    )
    assert broken(world(PLUCK), rows, chores=(chore,)) == {"H2"}
    assert broken(world(PLUCK), rows, chores=(replace(chore, hands=("right",)),)) == set()


# H10.


def test_h10_holds_at_a_moderate_pace() -> None:
    """Four strokes in two seconds are no trouble for one hammer."""
    hits = figure("f1", Technique.FELT_HAMMER, [24], 1.0, 3.0, times=4)
    hammer = tool("hammer")
    assert broken(world(hits), [play(PIANO, hits, "ada", BASS, tools=[hammer])], [hammer]) == set()


def test_h10_broken_when_one_hand_repeats_too_fast() -> None:
    """Twenty strokes in two seconds are 10 Hz; one hand does 6 Hz, two hands in turn do 12 Hz."""
    hits = figure("f1", Technique.FELT_HAMMER, [24], 1.0, 3.0, times=20)
    one, two = tool("hammer"), tool("hammer", 2)
    where = world(hits)
    breaches = judged(where, cast(where, [play(PIANO, hits, "ada", BASS, tools=[one])], [one]))
    assert [b.rule for b in breaches] == ["H10"]
    assert "strike twice in 0.1 s, and needs 0.167 s" in breaches[0].message
    rows = [play(PIANO, hits, "ada", BASS, tools=[one, two], hands=BOTH)]
    assert broken(where, rows, [one, two]) == set()


@pytest.mark.parametrize(("times", "hands", "breaks"), [(6, 1, False), (7, 1, True), (12, 2, False), (13, 2, True)])
def test_h10_edge_the_limit_itself_is_allowed(times: int, hands: int, breaks: bool) -> None:
    """A hammer hand does 6 Hz: 6 strokes in a second and not 7; two hands 12 and not 13."""
    hits = figure("f1", Technique.FELT_HAMMER, [24], 1.0, 2.0, times=times)
    tools = [tool("hammer", number) for number in range(1, hands + 1)]
    rows = [play(PIANO, hits, "ada", BASS, tools=tools, hands=BOTH[:hands])]
    assert broken(world(hits), rows, tools) == ({"H10"} if breaks else set())


@pytest.mark.parametrize(("spare_s", "breaks"), [(0.0, False), (1e-4, False), (-1e-4, True)])
def test_h10_edge_a_leap_takes_the_time_of_fitts(spare_s: float, breaks: bool) -> None:
    """Between two courses 210 mm apart a hand needs what Fitts's line says, and no less."""
    leap_s = people.fitts_s(210.0, TARGET_WIDTH_MM)
    assert leap_s > 1.0 / 6.0  # else the repeat limit would decide
    hits = struck("f1", Technique.FELT_HAMMER, (1.0, 24), (1.0 + leap_s + spare_s, 9))
    hammer = tool("hammer")
    rows = [play(PIANO, hits, "ada", BASS, tools=[hammer])]
    assert broken(world(hits), rows, [hammer]) == ({"H10"} if breaks else set())


def test_h10_two_hands_in_turn_each_stay_at_their_course() -> None:
    """A shake between distant courses is easy for two hands, one at each course."""
    hits = struck("f1", Technique.FELT_HAMMER, *((1.0 + 0.1 * i, 24 if i % 2 else 9) for i in range(8)))
    one, two = tool("hammer"), tool("hammer", 2)
    rows = [play(PIANO, hits, "ada", BASS, tools=[one, two], hands=BOTH)]
    assert broken(world(hits), rows, [one, two]) == set()


@pytest.mark.parametrize(
    ("keys", "hands", "breaks"),
    [
        ((24, 25), 1, False),
        ((24, 26), 1, True),
        ((24, 26), 2, False),
        ((24, 25, 26), 2, False),
        ((22, 24, 26), 2, True),
    ],
)
def test_h10_a_chord_asks_for_hands(keys: tuple[int, ...], hands: int, breaks: bool) -> None:
    """A stick bows one course or two neighbours; a wider chord asks for the second hand, or cannot be played."""
    chord = figure("f1", Technique.STICK_BOW, keys, 1.0, 3.0)
    tools = [tool("stick", number) for number in range(1, hands + 1)]
    rows = [play(PIANO, chord, "ada", BASS, tools=tools, hands=BOTH[:hands])]
    assert broken(world(chord), rows, tools) == ({"H10"} if breaks else set())


@pytest.mark.parametrize(("sides", "hands", "breaks"), [(2, 1, False), (1, 1, True), (1, 2, False)])
def test_h10_a_stick_sounds_no_more_courses_than_it_has_sides(sides: int, hands: int, breaks: bool) -> None:
    """Two neighbouring courses take one stick with two sides, or two with one."""
    pair = figure("f1", Technique.STICK_BOW, (24, 25), 1.0, 3.0)
    tools = [tool("stick", number) for number in range(1, hands + 1)]
    stock = tuple(replace(item, sides=sides) if item.kind == "stick" else item for item in TOY_STOCK)
    rows = [play(PIANO, pair, "ada", BASS, tools=tools, hands=BOTH[:hands])]
    assert broken(world(pair, kit=toy_kit(stock)), rows, tools) == ({"H10"} if breaks else set())


def test_h10_hands_that_share_every_chord_do_not_take_turns() -> None:
    """Two sticks that both strike each chord do 4 Hz together, not 8 Hz."""
    chord = figure("f1", Technique.STICK_BOW, (24, 26), 1.0, 2.0, times=6)
    tools = [tool("stick"), tool("stick", 2)]
    rows = [play(PIANO, chord, "ada", BASS, tools=tools, hands=BOTH)]
    assert broken(world(chord), rows, tools) == {"H10"}
    slow = figure("f1", Technique.STICK_BOW, (24, 26), 1.0, 2.0, times=4)
    assert broken(world(slow), rows, tools) == set()


@pytest.mark.parametrize(
    ("keys", "hands", "breaks"),
    [((20, 33), 1, False), ((20, 34), 1, True), ((20, 34), 2, False), ((20, 21, 22, 23, 24, 25), 1, True)],
)
def test_h10_a_hand_on_the_keys_spans_fourteen_keys_and_five_fingers(
    keys: tuple[int, ...], hands: int, breaks: bool
) -> None:
    """One hand holds five keys within fourteen; more or farther asks for the other hand."""
    chord = figure("f1", Technique.KEYS, keys, 1.0, 3.0)
    rows = [play(PIANO, chord, "ada", KEYBOARD, hands=BOTH[:hands])]
    assert broken(world(chord), rows) == ({"H10"} if breaks else set())


def test_h10_fingers_within_one_span_need_no_leap() -> None:
    """Keys at both ends of a span in turn at 6 Hz are one hand's work; a leap of two octaves at that pace is not."""
    run = struck("f1", Technique.KEYS, *((1.0 + i / 6.0, 33 if i % 2 else 20) for i in range(5)))
    assert people.fitts_s(13 * 13.9, TARGET_WIDTH_MM) > 1.0 / 6.0
    leap = struck("f1", Technique.KEYS, (1.0, 8), (1.0 + 1.0 / 6.0, 32))
    assert people.fitts_s(24 * 14.0, TARGET_WIDTH_MM) > 1.0 / 6.0
    assert broken(world(run), [play(PIANO, run, "ada", KEYBOARD)]) == set()
    assert broken(world(leap), [play(PIANO, leap, "ada", KEYBOARD)]) == {"H10"}


def test_h10_two_hands_at_one_strip_move_as_one() -> None:
    """A friction strip takes both hands for each stroke: 4 Hz, and one course at a time."""
    strip = tool("strip")
    for times, breaks in ((4, False), (5, True)):
        rub = figure("f1", Technique.FRICTION_STRIP, [10], 1.0, 2.0, times=times)
        rows = [play(PIANO, rub, "ada", BASS, tools=[strip], hands=BOTH)]
        assert broken(world(rub), rows, [strip]) == ({"H10"} if breaks else set())
    chord = figure("f1", Technique.FRICTION_STRIP, [10, 11], 1.0, 2.0)
    rows = [play(PIANO, chord, "ada", BASS, tools=[strip], hands=BOTH)]
    assert broken(world(chord), rows, [strip]) == {"H10"}


def test_h10_a_touching_hand_does_not_strike() -> None:
    """With a finger at a node one hand is left, so the second hand cannot help with the pace."""
    hits = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 2.0, times=8, touch=Touch(k=1, n=2))
    assert broken(world(hits), [play(PIANO, hits, "ada", BASS, hands=BOTH)]) == {"H10"}
    slow = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 2.0, times=5, touch=Touch(k=1, n=2))
    assert broken(world(slow), [play(PIANO, slow, "ada", BASS, hands=BOTH)]) == set()


def test_h10_a_magnet_has_no_hands_but_its_own_limit() -> None:
    """One head a course starts once a second; two heads may start in turn."""
    heads = [tool("magnet"), tool("magnet", 2)]
    turn = struck("f1", Technique.MAGNET_DRIVE, (1.0, 24), (1.5, 30), (2.0, 24), (2.5, 30))
    assert broken(world(turn), [play(PIANO, turn, "ada", BASS_2, 200.0, hands=(), tools=heads)], heads) == set()
    fast = struck("f1", Technique.MAGNET_DRIVE, (1.0, 24), (1.9, 24))
    rows = [play(PIANO, fast, "ada", BASS_2, 200.0, hands=(), tools=heads[:1])]
    assert broken(world(fast), rows, heads[:1]) == {"H10"}


@pytest.mark.parametrize("then", [9, 24])
def test_h10_after_a_chord_either_hand_may_go_on(then: int) -> None:
    """Both hands strike keys 9 and 24; the one that is there already strikes again, whichever it is."""
    hits = struck("f1", Technique.FELT_HAMMER, (1.0, 9), (1.0, 24), (1.2, then))
    tools = [tool("hammer"), tool("hammer", 2)]
    rows = [play(PIANO, hits, "ada", BASS, tools=tools, hands=BOTH)]
    assert people.fitts_s(15 * 14.0, TARGET_WIDTH_MM) > 0.2
    assert broken(world(hits), rows, tools) == set()
