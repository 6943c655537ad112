"""The question's own arithmetic: order, overlap, gaps, leaning, what is held."""

from __future__ import annotations

import pytest

from rimside.casting.problem import Choice, Problem, Task, gap_s, held, in_order, overlap
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.worlds import figure, toy_players


def pair(start_s: float, technique: Technique = Technique.FINGER_PLUCK) -> Problem:
    """A figure from 0 to 2 s, and one of 2 s from `start_s`."""
    first = figure("A", technique, (40,), 0.0, 2.0)
    return question(world(first, figure("B", technique, (44,), start_s, start_s + 2.0)))


def task(problem: Problem, name: str) -> Task:
    """The task of a figure."""
    return next(t for t in problem.tasks if t.work.id == name)


@pytest.mark.parametrize(("start_s", "together"), [(0.0, True), (1.999, True), (2.0, False), (3.0, False)])
def test_figures_are_half_open_in_time(start_s: float, together: bool) -> None:
    """What starts as the other ends does not overlap it."""
    a, b = pair(start_s).tasks
    assert overlap(a, b) is overlap(b, a) is together
    assert gap_s(a, b) == pytest.approx(start_s - 2.0)


def test_leftovers_of_adding_tempo_fractions_are_no_overlap() -> None:
    """Ten times 0.2 s is 2 s, whatever floats say."""
    a, b = pair(sum([0.2] * 10) - 1e-9).tasks
    assert not overlap(a, b)


def test_order_is_by_start_then_number() -> None:
    """The earlier comes first, whichever is named first."""
    a, b = pair(1.0).tasks
    assert in_order(b, a) == in_order(a, b) == (a, b)


def test_leaning_is_beyond_comfortable_reach() -> None:
    """At the comfortable limit a player stands upright, 1 mm beyond leans, beyond full reach nothing is allowed."""
    lone = world(figure("A", Technique.BEATER, "rim, treble", 0.0, 2.0), players=toy_players(1))
    problem = question(lone)
    (only,) = problem.tasks
    seen = set()
    for place in range(len(problem.piano.places)):
        far = only.lanes[0].distance_mm[place]
        leans = problem.leans(only, Choice(player=0, place=place, lane=0))
        assert leans is (far > problem.comfortable_mm[0])
        assert problem.allows(only, 0, 0, place) is (far <= problem.full_mm[0])
        seen.add(leans)
    assert seen == {True, False}


def test_a_bow_is_known_by_pitch_and_point_and_others_by_number() -> None:
    """Two lanes of one course hold different bows; two hammers different numbers; bare hands nothing."""
    bow, hammer, bare = (
        task(pair(3.0, t), "A") for t in (Technique.LINE_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK)
    )
    assert held(bow, Choice(player=0, place=0, lane=0)) != held(bow, Choice(player=0, place=0, lane=1))
    assert held(hammer, Choice(player=0, place=0, lane=0, implements=(1,))) == held(
        hammer, Choice(player=1, place=3, lane=2, implements=(1,))
    )
    assert held(bare, Choice(player=0, place=0, lane=0)) == frozenset()


def test_the_horizon_covers_the_longest_change() -> None:
    """Settle, the longest walk, the slowest tools and the reserve: what is further apart cannot hinder."""
    problem = pair(3.0, Technique.FELT_HAMMER)
    longest = max(max(row) for row in problem.walk_s)
    assert problem.horizon_s == pytest.approx(0.2 + longest + 1.5 + 1.0)
