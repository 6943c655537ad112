"""H4 change and H6 tools: three tests each, and what they say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.result import CastChore
from rimside.kit import Implement, Stock
from rimside.pitch import Key
from rimside.score.model import Figure, Technique
from tests.casting.judging import BASS, BASS_2, TREBLE, broken, cast, judged, world
from tests.casting.worlds import TOY_STOCK, figure, line, play, tool, toy_kit, toy_piano, toy_players

PIANO = toy_piano()
FIRST = figure("f1", Technique.FELT_HAMMER, [24], 1.0, 3.0)
ONE, TWO = tool("hammer"), tool("hammer", 2, y_mm=760.0)
BOTH = ("left", "right")


def after(gap_s: float, technique: Technique = Technique.FELT_HAMMER, key: int = 24) -> Figure:
    """A second figure that begins so long after the first ends."""
    return figure("f2", technique, [key], 3.0 + gap_s, 5.0 + gap_s)


# H4. Toy times: settle 0.2 s, turn 0.5 s, 1000 mm/s, pick 1 s, put 0.5 s; p17 to p18 is 450 mm along the rim.


def change_breaks(gap_s: float, *, kept: bool, moves: bool) -> set[str]:
    """What breaks when a player changes from the first figure to a second so soon."""
    second = after(gap_s)
    rows = [
        play(PIANO, FIRST, "ada", BASS, tools=[ONE]),
        play(PIANO, second, "ada", BASS_2 if moves else BASS, tools=[ONE if kept else TWO]),
    ]
    return broken(world(FIRST, second), rows, [ONE, TWO])


@pytest.mark.parametrize(("kept", "moves"), [(True, False), (True, True), (False, False), (False, True)])
def test_h4_holds_with_time_to_spare(kept: bool, moves: bool) -> None:
    """Ten seconds are enough for any change."""
    assert change_breaks(10.0, kept=kept, moves=moves) == set()


def test_h4_broken_when_there_is_no_time_to_walk() -> None:
    """The message names the deeds, the time they need and what the bar leaves."""
    second = after(1.6)
    rows = [play(PIANO, FIRST, "ada", BASS, tools=[ONE]), play(PIANO, second, "ada", BASS_2, tools=[TWO])]
    where = world(FIRST, second)
    breaches = judged(where, cast(where, rows, [ONE, TWO]))
    assert [(b.rule, b.figures) for b in breaches] == [("H4", ("f1", "f2"))]
    # 0.5 to put down, 0.5 to turn, 0.45 to walk, 1 to pick up, 0.2 to settle.
    assert breaches[0].message == (
        "Ada needs 2.65 s to put down the hammer, walk to p18, pick up the hammer and settle; bar 2 leaves 1.6 s."
    )


@pytest.mark.parametrize(
    ("kept", "moves", "need_s"),
    [(True, False, 0.2), (True, True, 0.2 + 0.95), (False, False, 0.2 + 1.5), (False, True, 0.2 + 0.95 + 1.5)],
)
def test_h4_edge_the_time_itself_is_enough(kept: bool, moves: bool, need_s: float) -> None:
    """With exactly the time the change holds; with a hundredth of a ms less it breaks."""
    assert change_breaks(need_s, kept=kept, moves=moves) == set()
    assert change_breaks(need_s - 1e-5, kept=kept, moves=moves) == {"H4"}


def test_h4_walks_the_shorter_way_round() -> None:
    """From 450 mm to 8100 mm along 8817.6 mm is 1167.6 mm, not 7650."""
    second = after(1.16757820 + 0.5 + 0.2 + 1.5, Technique.FELT_HAMMER, 24)
    far = toy_players(1, measured_reach_mm=(1500.0, 1600.0))
    rest = tool("hammer", 1, 100.0, 300.0)
    other = tool("hammer", 2, 100.0, 340.0)
    rows = [play(PIANO, FIRST, "ada", "p01", tools=[rest]), play(PIANO, second, "ada", "p18", tools=[other])]
    assert broken(world(FIRST, second, players=far), rows, [rest, other]) == set()
    sooner = replace(second, start_s=second.start_s - 1e-4)
    assert broken(world(FIRST, sooner, players=far), rows, [rest, other]) == {"H4"}


def test_h4_looks_past_the_figure_between() -> None:
    """A short figure without tools between two does not hide that the first tool is still to be put down and so on."""
    short = figure("f2", Technique.FINGER_PLUCK, [24], 3.8, 3.9)
    last = figure("f3", Technique.FELT_HAMMER, [24], 5.1, 6.0)
    rows = [
        play(PIANO, FIRST, "ada", BASS, tools=[ONE]),
        play(PIANO, short, "ada", BASS),
        play(PIANO, last, "ada", BASS, tools=[TWO]),
    ]
    assert broken(world(FIRST, short, last), rows, [ONE, TWO]) == set()
    where = world(FIRST, replace(short, end_s=4.0), last)
    breaches = judged(where, cast(where, rows, [ONE, TWO]))
    assert [(b.rule, b.figures) for b in breaches] == [("H4", ("f2", "f3"))]


def test_h4_looks_past_the_figure_that_began_last() -> None:
    """A short figure of the other hand ends early; the long one that began before it still needs its time."""
    long = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.5)
    short = figure("f2", Technique.FINGER_PLUCK, [9], 2.0, 3.0)
    for start_s, breaks in ((3.7, False), (3.6, True)):
        last = figure("f3", Technique.FINGER_PLUCK, [24], start_s, 6.0)
        rows = [
            play(PIANO, long, "ada", BASS),
            play(PIANO, short, "ada", BASS, 600.0, hands=("right",)),
            play(PIANO, last, "ada", BASS),
        ]
        where = world(long, short, last)
        found = [b.figures for b in judged(where, cast(where, rows))]
        assert found == ([("f1", "f3")] if breaks else [])


def test_h4_empty_hands_keep_nothing() -> None:
    """After a figure without tools the pick-up of the next one counts, and the put-down of nothing does not."""
    pluck = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)
    for gap_s, breaks in ((1.2, False), (1.19, True)):
        second = after(gap_s)
        rows = [play(PIANO, pluck, "ada", BASS), play(PIANO, second, "ada", BASS, tools=[ONE])]
        assert broken(world(pluck, second), rows, [ONE]) == ({"H4"} if breaks else set())


def test_h4_takes_the_longest_of_several_implements() -> None:
    """Two hammers in two hands are put down at once; a set that differs in one hammer is not kept."""
    chord = figure("f1", Technique.FELT_HAMMER, [24, 26], 1.0, 3.0)
    for gap_s, breaks in ((1.7, False), (1.69, True)):
        second = after(gap_s)
        rows = [
            play(PIANO, chord, "ada", BASS, tools=[ONE, TWO], hands=BOTH),
            play(PIANO, second, "ada", BASS, tools=[ONE]),
        ]
        assert broken(world(chord, second), rows, [ONE, TWO]) == ({"H4"} if breaks else set())


def test_h4_a_chore_takes_its_time_too() -> None:
    """A chore at another place is a thing that a player walks to."""
    pluck = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)
    rows = [play(PIANO, pluck, "ada", BASS)]
    chore = CastChore(
        id="c1", kind="turn card", start_s=4.2, end_s=5.0, player="ada", place=BASS_2, hands=("left",), target="all"
    )
    assert broken(world(pluck), rows, chores=(chore,)) == set()
    assert broken(world(pluck), rows, chores=(replace(chore, start_s=4.1),)) == {"H4"}


# H6.


def test_h6_holds_for_the_right_tool_from_its_rest() -> None:
    """A hammer from the ledge and a line at its own course."""
    bowed = figure("f2", Technique.LINE_BOW, [26], 8.0, 10.0)
    bow = line(PIANO, 26)
    rows = [
        play(PIANO, FIRST, "ada", BASS, tools=[ONE]),
        play(PIANO, bowed, "ada", BASS, tools=[bow], hands=BOTH),
    ]
    assert broken(world(FIRST, bowed), rows, [ONE, bow]) == set()


@pytest.mark.parametrize("kind", ["stick", "beater", "trowel"])
def test_h6_broken_by_a_tool_for_something_else(kind: str) -> None:
    """A stick bow is no hammer, and the kit knows no trowel."""
    wrong = tool(kind)
    assert "H6" in broken(world(FIRST), [play(PIANO, FIRST, "ada", BASS, tools=[wrong])], [wrong])


@pytest.mark.parametrize(("material", "breaks"), [("steel", False), ("iron", False), ("brass", True), ("nylon", True)])
def test_h6_a_magnet_drives_iron_and_steel(material: str, breaks: bool) -> None:
    """A magnet over a brass or nylon string is a tool that does not fit."""
    piano = toy_piano(courses=tuple(replace(course, material=material) for course in PIANO.courses))
    driven = figure("f1", Technique.MAGNET_DRIVE, [24], 1.0, 3.0)
    magnet = tool("magnet")
    rows = [play(piano, driven, "ada", BASS, tools=[magnet], hands=())]
    assert broken(world(driven, piano=piano), rows, [magnet]) == ({"H6"} if breaks else set())


@pytest.mark.parametrize(("away_mm", "breaks"), [(800.0, False), (800.4, False), (800.6, True)])
def test_h6_edge_a_rest_lies_within_full_reach(away_mm: float, breaks: bool) -> None:
    """The hand fetches a tool as far as it reaches."""
    rest = tool("hammer", 1, -250.0 + away_mm, 918.0 - 0.4217934)
    # BASS lies at (-250, 917.578...), so the rest is straight across.
    where = world(FIRST, players=toy_players(1, measured_reach_mm=(600.0, 800.0)))
    rows = [play(PIANO, FIRST, "ada", BASS, tools=[rest])]
    assert broken(where, rows, [rest]) == ({"H6"} if breaks else set())


def test_h6_two_figures_at_once_never_share_a_tool() -> None:
    """One hammer cannot be in two hands; two hammers can."""
    second = figure("f2", Technique.FELT_HAMMER, [9], 2.0, 4.0)
    for other, breaks in ((ONE, True), (TWO, False)):
        rows = [
            play(PIANO, FIRST, "ada", BASS, tools=[ONE]),
            play(PIANO, second, "ada", BASS, 600.0, tools=[other], hands=("right",)),
        ]
        assert broken(world(FIRST, second), rows, [ONE, TWO]) == ({"H6"} if breaks else set())


@pytest.mark.parametrize(("gap_s", "breaks"), [(1.5, False), (1.4999, True), (0.0, True), (5.0, False)])
def test_h6_edge_a_tool_is_handed_on_by_its_rest(gap_s: float, breaks: bool) -> None:
    """Put down 0.5 s and pick up 1 s lie between two players who use one hammer."""
    second = after(gap_s, key=9)
    rows = [play(PIANO, FIRST, "ada", BASS, tools=[ONE]), play(PIANO, second, "ben", "p16", 800.0, tools=[ONE])]
    # Ben is too near Ada until she has stepped back, which the 0.2 s of his settling asks for.
    where = world(FIRST, second, players=toy_players(2, measured_breadth_mm=300.0, measured_reach_mm=(900.0, 900.0)))
    breaches = judged(where, cast(where, rows, [ONE]))
    assert {b.rule for b in breaches} == ({"H6"} if breaks else set())
    assert not breaks or "Ada puts hammer 1 back and Ben takes it in 1.5 s" in breaches[0].message


@pytest.mark.parametrize(
    ("technique", "key", "breaks"),
    [
        (Technique.LINE_BOW, 20, True),
        (Technique.LINE_BOW, 21, False),
        (Technique.FRICTION_STRIP, 20, False),
        (Technique.FRICTION_STRIP, 21, True),
    ],
)
def test_h6_edge_plain_and_wound_courses(technique: Technique, key: int, breaks: bool) -> None:
    """Key 20 is the last wound course of the toy piano: strips below, lines above."""
    used = figure("f1", technique, [key], 1.0, 3.0)
    held = line(PIANO, key) if technique is Technique.LINE_BOW else tool("strip")
    rows = [play(PIANO, used, "ada", BASS, tools=[held], hands=BOTH)]
    assert broken(world(used), rows, [held]) == ({"H6"} if breaks else set())


def test_h6_a_line_belongs_to_its_course() -> None:
    """The line under E4 cannot bow F4, nor two courses at once."""
    bowed = figure("f1", Technique.LINE_BOW, [24], 1.0, 3.0)
    other = line(PIANO, 25)
    assert broken(world(bowed), [play(PIANO, bowed, "ada", BASS, tools=[other], hands=BOTH)], [other]) == {"H6"}
    pair = figure("f1", Technique.LINE_BOW, [24, 25], 1.0, 3.0)
    bow = line(PIANO, 24)
    assert "H6" in broken(world(pair), [play(PIANO, pair, "ada", BASS, tools=[bow], hands=BOTH)], [bow])


def test_h6_one_line_bows_one_course_even_when_it_belongs_to_none() -> None:
    """A kit whose lines are threaded anew each time still has one course to a line."""
    stock = (replace(TOY_STOCK[0], per_pitch=False), *TOY_STOCK[1:])
    loose = tool("line")
    for keys, breaks in (([24], False), ([24, 25], True)):
        bowed = figure("f1", Technique.LINE_BOW, keys, 1.0, 3.0)
        rows = [play(PIANO, bowed, "ada", BASS, tools=[loose], hands=BOTH)]
        assert ("H6" in broken(world(bowed, kit=toy_kit(stock)), rows, [loose])) == breaks


def test_h6_spots_and_strings_are_not_mixed_up() -> None:
    """A beater is for spots, a hammer for strings."""
    beaten = figure("f1", Technique.BEATER, [24], 1.0, 3.0)
    beater = tool("beater")
    assert broken(world(beaten), [play(PIANO, beaten, "ada", BASS, tools=[beater])], [beater]) == {"H6"}
    spot = figure("f1", Technique.FELT_HAMMER, "frame, bass", 1.0, 3.0)
    hammer = tool("hammer", 1, -20.0, 2400.0)
    assert broken(world(spot), [play(PIANO, spot, "ada", "p14", tools=[hammer])], [hammer]) == {"H6"}


@pytest.mark.parametrize(("tools", "breaks"), [([], True), ([ONE], False), ([ONE, TWO], True)])
def test_h6_a_hand_holds_one_tool(tools: list[Implement], breaks: bool) -> None:
    """One striking hand takes one hammer: not none and not two."""
    rows = [play(PIANO, FIRST, "ada", BASS, tools=tools)]
    assert broken(world(FIRST), rows, [ONE, TWO]) == ({"H6"} if breaks else set())


def test_h6_fingers_hold_nothing() -> None:
    """A finger pluck with a plectrum in hand is another technique."""
    pluck = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)
    held = tool("plectrum")
    assert "H6" in broken(world(pluck), [play(PIANO, pluck, "ada", BASS, tools=[held])], [held])


@pytest.mark.parametrize(("number", "breaks"), [(4, False), (5, True)])
def test_h6_edge_no_more_than_the_kit_holds(number: int, breaks: bool) -> None:
    """The toy kit holds four hammers."""
    hammers = [tool("hammer", index) for index in range(1, number + 1)]
    rows = [play(PIANO, FIRST, "ada", BASS, tools=[ONE])]
    assert broken(world(FIRST), rows, hammers) == ({"H6"} if breaks else set())


def test_h6_lines_are_counted_by_pitch() -> None:
    """One line a pitch: two of different pitches are two lines, two of one pitch are one too many."""
    bowed = figure("f1", Technique.LINE_BOW, [24], 1.0, 3.0)
    bow, next_bow = line(PIANO, 24), line(PIANO, 25)
    rows = [play(PIANO, bowed, "ada", BASS, tools=[bow], hands=BOTH)]
    assert broken(world(bowed), rows, [bow, next_bow]) == set()
    assert broken(world(bowed), rows, [bow, replace(bow, id="line 24 again")]) == {"H6"}


def test_h6_lines_only_for_the_pitches_that_have_one() -> None:
    """A kit that lists its pitches holds no line for another."""
    bowed = figure("f1", Technique.LINE_BOW, [24], 1.0, 3.0)
    bow = line(PIANO, 24)
    rows = [play(PIANO, bowed, "ada", BASS, tools=[bow], hands=BOTH)]
    for pitches, breaks in (({24}, False), ({25}, True)):
        stock = Stock(
            kind="line",
            serves=frozenset({Technique.LINE_BOW}),
            count=1,
            per_pitch=True,
            pitches=frozenset(Key(key) for key in pitches),
        )
        where = world(bowed, kit=toy_kit((stock, *TOY_STOCK[1:])))
        assert broken(where, rows, [bow]) == ({"H6"} if breaks else set())


def test_h6_one_player_keeps_a_tool_from_place_to_place() -> None:
    """The same hammer at two places is kept while walking, as long as its rest is in reach of both."""
    second = after(2.0)
    rows = [play(PIANO, FIRST, "ada", BASS, tools=[ONE]), play(PIANO, second, "ada", BASS_2, tools=[ONE])]
    assert broken(world(FIRST, second), rows, [ONE]) == set()
    away = play(PIANO, second, "ada", TREBLE, tools=[ONE])
    assert broken(world(FIRST, second), [rows[0], away], [ONE]) == {"H3", "H4", "H6"}
