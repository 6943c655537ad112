"""The six levels, each worked out by hand, and the judge under random music."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from rimside.casting.result import Casting
from rimside.casting.result_json import from_json, to_json
from rimside.casting.verify import levels
from rimside.kit import TECHNIQUES
from rimside.piano.access import open_windows
from rimside.piano.model import Piano, Point, Strut
from rimside.pitch import Key
from rimside.score.model import Figure, Technique
from tests.amounts import few_or_many, random_cases
from tests.casting.judging import BASS, BASS_2, broken, cast, judged, listed, some_casting, world
from tests.casting.strategies import small_worlds
from tests.casting.worlds import (
    STRING_PLANE_MM,
    World,
    figure,
    line,
    play,
    tool,
    toy_course,
    toy_kit,
    toy_piano,
    toy_players,
    toy_x_mm,
)

PIANO = toy_piano()
ONE, TWO = tool("hammer"), tool("hammer", 2)
RANDOM = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


def hit(name: str, start_s: float, end_s: float, motif: str = "m", *, essential: bool = False) -> Figure:
    return figure(name, Technique.FELT_HAMMER, [24], start_s, end_s, motif=motif, essential=essential)


def test_level_1_counts_uncast_figures_essential_ones_a_thousandfold() -> None:
    """Two essential and three other figures that nobody plays make 2003."""
    figures = [hit(f"f{i}", 10.0 * i, 10.0 * i + 2.0, essential=i < 2) for i in range(6)]
    rows = [play(PIANO, figures[5], "ada", BASS, tools=[ONE])]
    assert levels(cast(world(*figures), rows, [ONE]), toy_kit())[0] == 2003


@pytest.mark.parametrize(
    ("gap_s", "risk_ms"), [(3.0, 0), (1.2, 0), (1.199, 1), (1.1994, 1), (0.7, 500), (0.2, 1000), (2.0 / 3.0, 534)]
)
def test_level_2_counts_what_is_short_of_a_second_in_reserve(gap_s: float, risk_ms: int) -> None:
    """With the hammer kept in hand 0.2 s are needed; less than 1.2 s falls short of the reserve, in ms, rounded up."""
    figures = [hit("f1", 1.0, 3.0), hit("f2", 3.0 + gap_s, 8.0)]
    rows = [play(PIANO, figure, "ada", BASS, tools=[ONE]) for figure in figures]
    assert levels(cast(world(*figures), rows, [ONE]), toy_kit())[1] == risk_ms


def test_level_2_counts_every_pair_and_only_of_one_player() -> None:
    """Three short figures 0.3 s apart: 900 + 900 between neighbours, and 200 from the first to the last."""
    figures = [hit("f1", 1.0, 1.1), hit("f2", 1.4, 1.8), hit("f3", 2.1, 4.0)]
    # f1 to f3: gap 1.0, need 0.2, slack 0.8, so 200 short; neighbours: gap 0.3, slack 0.1, so 900 short each.
    rows = [play(PIANO, figure, "ada", BASS, tools=[ONE]) for figure in figures]
    assert levels(cast(world(*figures), rows, [ONE]), toy_kit())[1] == 900 + 900 + 200
    who = ("ada", "ben", "ada")
    apart = [play(PIANO, figure, name, BASS, tools=[ONE]) for figure, name in zip(figures, who, strict=True)]
    assert levels(cast(world(*figures), apart, [ONE]), toy_kit())[1] == 200


@pytest.mark.parametrize(
    ("comfortable_mm", "lasts_s", "risk_ms"),
    [(600.0, 2.0, 0), (591.0, 2.0, 0), (590.9, 2.0, 200), (590.0, 2.001, 300), (590.0, 0.5, 100)],
)
def test_level_2_counts_started_seconds_of_leaning(comfortable_mm: float, lasts_s: float, risk_ms: int) -> None:
    """Key 24 is 590.8 mm away: a distance counts up (591), a reach down, and each started second of a lean 100 ms."""
    leaning = hit("f1", 1.0, 1.0 + lasts_s)
    where = world(leaning, players=toy_players(1, measured_reach_mm=(comfortable_mm, 900.0)))
    distance_mm = PIANO.place(BASS).at.distance_mm(PIANO.course(Key(24)).at(300.0))
    assert distance_mm == pytest.approx(590.8, abs=0.05)
    assert levels(cast(where, [play(PIANO, leaning, "ada", BASS, tools=[ONE])], [ONE]), where.kit)[1] == risk_ms


def test_level_3_counts_changes_of_place() -> None:
    """Ada goes there and back: two; Ben stays: none; who comes first in the list does not matter."""
    figures = [hit(f"f{i}", 10.0 * i, 10.0 * i + 2.0) for i in range(5)]
    who = (("ada", BASS), ("ben", BASS), ("ada", BASS_2), ("ben", BASS), ("ada", BASS))
    rows = [play(PIANO, f, player, place, tools=[ONE]) for f, (player, place) in zip(figures, who, strict=True)]
    assert levels(cast(world(*figures), rows[::-1], [ONE]), toy_kit())[2] == 2


def test_level_4_counts_the_players_of_each_motif_less_one() -> None:
    """Motif a is played by three players, b by two, c by one: 2 + 1 + 0."""
    motifs, who = "aaabbc", ("ada", "ben", "cleo", "ada", "ben", "ada")
    figures = [hit(f"f{i}", 10.0 * i, 10.0 * i + 2.0, motif) for i, motif in enumerate(motifs)]
    rows = [play(PIANO, f, player, BASS, tools=[ONE]) for f, player in zip(figures, who, strict=True)]
    assert levels(cast(world(*figures, players=toy_players(3)), rows, [ONE]), toy_kit())[3] == 3


def test_level_5_counts_what_the_busiest_player_remembers() -> None:
    """Ada: motifs a and b, the hammer (twice the same kind) and lines of two pitches: 5. Ben: a motif alone: 1."""
    bows = [line(PIANO, 24), line(PIANO, 26)]
    figures = [
        hit("f1", 0.0, 2.0, "a"),
        hit("f2", 10.0, 12.0, "b"),
        figure("f3", Technique.LINE_BOW, [24], 20.0, 22.0, motif="a"),
        figure("f4", Technique.LINE_BOW, [26], 30.0, 32.0, motif="a"),
        figure("f5", Technique.FINGER_PLUCK, [24], 40.0, 42.0, motif="a"),
    ]
    both = ("left", "right")
    rows = [
        play(PIANO, figures[0], "ada", BASS, tools=[ONE]),
        play(PIANO, figures[1], "ada", BASS, tools=[TWO]),
        play(PIANO, figures[2], "ada", BASS, tools=bows[:1], hands=both),
        play(PIANO, figures[3], "ada", BASS, tools=bows[1:], hands=both),
        play(PIANO, figures[4], "ben", BASS),
    ]
    assert levels(cast(world(*figures), rows, [ONE, TWO, *bows]), toy_kit())[4] == 5


def test_level_6_is_the_span_of_busy_time_in_ms() -> None:
    """Ada 2.5 s, Ben 1 s, Cleo nothing: 2500 ms between most and least. Each figure counts in whole ms."""
    figures = [hit("f1", 0.0, 2.0), hit("f2", 10.0, 10.5), hit("f3", 20.0, 21.0)]
    who = ("ada", "ada", "ben")
    rows = [play(PIANO, f, player, BASS, tools=[ONE]) for f, player in zip(figures, who, strict=True)]
    assert levels(cast(world(*figures, players=toy_players(3)), rows, [ONE]), toy_kit())[5] == 2500
    assert levels(cast(world(*figures, players=toy_players(2)), rows, [ONE]), toy_kit())[5] == 1500
    thirds = [hit("f1", 0.0, 1.0 / 3.0), hit("f2", 10.0, 10.0 + 1.0 / 3.0), hit("f3", 20.0, 20.0 + 1.0 / 3.0)]
    rows = [play(PIANO, f, "ada", BASS, tools=[ONE]) for f in thirds]
    assert levels(cast(world(*thirds), rows, [ONE]), toy_kit())[5] == 999


def test_nothing_to_play_costs_nothing() -> None:
    """An empty casting has no levels to speak of."""
    assert levels(cast(world(), []), toy_kit()) == (0, 0, 0, 0, 0, 0)


# Random music.


@random_cases
@settings(RANDOM, max_examples=few_or_many(15, 200))
@given(small_worlds(), st.integers(0, 1000))
def test_a_casting_reads_back_to_the_same_verdict(where: World, seed: int) -> None:
    """A correct casting is still correct, and worth the same, after it has been a file."""
    whole = some_casting(where, seed)
    assert judged(where, whole) == ()
    back = from_json(json.loads(json.dumps(to_json(whole))), "castings/toy.json")
    assert judged(where, back) == ()
    assert levels(back, where.kit) == levels(whole, where.kit)


@RANDOM
@given(small_worlds())
def test_playing_nothing_is_correct(where: World) -> None:
    """Everything uncast is a bad concert and a correct casting."""
    assert broken(where, [], **listed(where, [])) == set()


@RANDOM
@given(small_worlds(), st.integers(0, 1000), st.data())
def test_a_planted_breach_is_always_found(where: World, seed: int, data: st.DataObject) -> None:
    """Break one thing in a correct random casting, and the rule that forbids it speaks up."""
    whole = some_casting(where, seed)
    assume(whole.cast)
    rule, plant = data.draw(st.sampled_from(PLANTS))
    broken_one = plant(where, whole, data.draw(st.sampled_from(range(len(whole.cast)))))
    assume(broken_one is not None)
    assert broken_one is not None
    assert rule in {breach.rule for breach in judged(where, broken_one)}


def _swap(whole: Casting, index: int, **changes: Any) -> Casting:
    rows = list(whole.cast)
    rows[index] = replace(rows[index], **changes)
    return replace(whole, cast=tuple(rows))


def _twice(where: World, whole: Casting, index: int) -> Casting | None:
    return replace(whole, cast=(*whole.cast, whole.cast[index]))


def _left_out(where: World, whole: Casting, index: int) -> Casting | None:
    return replace(whole, cast=(*whole.cast[:index], *whole.cast[index + 1 :]))


def _no_hands(where: World, whole: Casting, index: int) -> Casting | None:
    return _swap(whole, index, hands=()) if whole.cast[index].hands else None


def _far_away(where: World, whole: Casting, index: int) -> Casting | None:
    contact = whole.cast[index].contacts[0]
    here = Point(x_mm=contact.x_mm, y_mm=contact.y_mm)
    far = max(whole.places, key=lambda place: place.at.distance_mm(here))
    return _swap(whole, index, place=far.id) if far.at.distance_mm(here) > 1200.0 else None


def _slow_walkers(where: World, whole: Casting, index: int) -> Casting | None:
    """Slower feet break H4 where someone walks with less than two hours to spare (and the times are not the kit's)."""
    walks = levels(whole, where.kit)[2] > 0
    return replace(whole, times=replace(whole.times, walk_mm_per_s=0.01)) if walks else None


def _broad_shoulders(where: World, whole: Casting, index: int) -> Casting | None:
    figures = {figure.id: figure for figure in whole.figures}
    mine = whole.cast[index]
    others = [row for row in whole.cast if row.player != mine.player]
    together = any(
        figures[row.figure].start_s < figures[mine.figure].end_s
        and figures[mine.figure].start_s < figures[row.figure].end_s
        for row in others
    )
    broad = tuple(replace(player, shoulder_breadth_mm=9000.0) for player in whole.players)
    return replace(whole, players=broad) if together else None


def _empty_hands(where: World, whole: Casting, index: int) -> Casting | None:
    return _swap(whole, index, implements=()) if whole.cast[index].implements else None


def _on_anothers_string(where: World, whole: Casting, index: int) -> Casting | None:
    """A copy of the figure, under another name, for another player at the same time on the same course."""
    others = [player.id for player in whole.players if player.id != whole.cast[index].player]
    figures = {figure.id: figure for figure in whole.figures}
    copy = replace(figures[whole.cast[index].figure], id="copy")
    row = replace(whole.cast[index], figure="copy", player=others[0])
    return replace(whole, figures=(*whole.figures, copy), cast=(*whole.cast, row))


def _no_pedals(where: World, whole: Casting, index: int) -> Casting | None:
    figures = {figure.id: figure for figure in whole.figures}
    what = figures[whole.cast[index].figure]
    damped = any(where.piano.course(key).damper is not None for key in what.keys)
    return replace(whole, pedals=()) if damped and where.kit.rows[what.technique].damper_up else None


def _in_no_time(where: World, whole: Casting, index: int) -> Casting | None:
    """The same strokes a hundred times faster."""
    name = whole.cast[index].figure
    figures = tuple(_rushed(figure) if figure.id == name else figure for figure in whole.figures)
    rushed = next(figure for figure in figures if figure.id == name)
    repeats = len({stroke.onset_s for stroke in rushed.strokes}) > 2 * len(rushed.keys or (1,))
    return replace(whole, figures=figures) if repeats else None


def _rushed(figure: Figure) -> Figure:
    start_s = figure.start_s
    strokes = [replace(stroke, onset_s=start_s + (stroke.onset_s - start_s) / 100.0) for stroke in figure.strokes]
    return replace(figure, strokes=tuple(strokes))


def _another_value(where: World, whole: Casting, index: int) -> Casting | None:
    return replace(whole, proof=tuple(replace(proof, value=proof.value + 1) for proof in whole.proof))


def _longer_arms(where: World, whole: Casting, index: int) -> Casting | None:
    return replace(whole, players=tuple(replace(player, reach_mm=player.reach_mm + 5.0) for player in whole.players))


PLANTS: tuple[tuple[str, Callable[[World, Casting, int], Casting | None]], ...] = (
    ("H1", _twice),
    ("H1", _left_out),
    ("H2", _no_hands),
    ("H3", _far_away),
    ("H4", _slow_walkers),
    ("H5", _broad_shoulders),
    ("H6", _empty_hands),
    ("H7", _on_anothers_string),
    ("H8", _no_pedals),
    ("H10", _in_no_time),
    ("proof", _another_value),
    ("people", _longer_arms),
)


Bar = tuple[float, float, float, float, float]
"""A strut: x and y of both ends, and its width, mm."""
BARS = st.tuples(
    st.floats(0.0, 1250.0),
    st.floats(450.0, 2400.0),
    st.floats(0.0, 1250.0),
    st.floats(450.0, 2400.0),
    st.floats(5.0, 60.0),
)


def crossed_piano(slant_mm: float, rise_mm: float, bars: list[Bar]) -> Piano:
    """The toy piano with struts anywhere and its lowest eight courses laid slanting over the others."""
    over = [
        toy_course(
            key,
            far=Point(x_mm=toy_x_mm(key) + slant_mm, y_mm=2300.0),
            length_mm=math.hypot(slant_mm, 1800.0),
            height_mm=STRING_PLANE_MM + rise_mm,
            section="overstrung",
        )
        for key in range(1, 9)
    ]
    struts = [
        Strut(name="bar", start=Point(x_mm=x, y_mm=y), end=Point(x_mm=to_x, y_mm=to_y), width_mm=width_mm)
        for x, y, to_x, to_y, width_mm in bars
    ]
    long = tuple(strut for strut in struts if strut.start.distance_mm(strut.end) > 50.0)
    return toy_piano(courses=(*over, *PIANO.courses[8:]), struts=long)


@settings(max_examples=300, deadline=None)
@given(
    st.floats(-900.0, 1200.0),
    st.sampled_from([0.0, 9.0, 20.0]),
    st.lists(BARS, max_size=3),
    st.integers(1, 88),
    st.floats(0.0, 1.0),
    st.sampled_from(sorted(TECHNIQUES)),
)
def test_windows_are_what_the_piano_opens(
    slant_mm: float, rise_mm: float, bars: list[Bar], key: int, share: float, technique: Technique
) -> None:
    """The judge's windows agree with `open_windows` everywhere but within 2 mm of an edge."""
    piano, row = crossed_piano(slant_mm, rise_mm, bars), TECHNIQUES[technique]
    course = piano.course(Key(key))
    at_mm = share * course.length_mm
    inside = [any(w.holds(at) for w in open_windows(piano, Key(key), row.window)) for at in _around(at_mm)]
    assume(len(set(inside)) == 1)
    what = figure("f1", row.technique, [key], 1.0, 3.0)
    rows = [play(piano, what, "ada", BASS, at_mm)] if row.fits != "spot" and not row.at_keyboard else []
    assume(rows)
    where = world(what, piano=piano, players=toy_players(1, measured_reach_mm=(9000.0, 9000.0)))
    assert ("H3" in broken(where, rows)) != inside[0]


def _around(at_mm: float) -> tuple[float, ...]:
    return tuple(at_mm + step / 2.0 for step in range(-4, 5))
