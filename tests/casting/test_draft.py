"""The variables of a draft: what is decided stands, what is offered is taken or left, all reads back."""

from __future__ import annotations

import pytest

from rimside.casting.draft import Draft, touching
from rimside.casting.problem import Choice, Problem
from rimside.casting.rules import MODEL_RULES
from rimside.casting.solve import Outcome, Status, solve
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.worlds import figure, toy_players

PLUCK, HAMMER, BOW = Technique.FINGER_PLUCK, Technique.FELT_HAMMER, Technique.LINE_BOW


def in_a_row(technique: Technique, count: int = 3, every_s: float = 9.0, length_s: float = 1.0) -> Problem:
    """Figures on one course, one after the other."""
    starts = [every_s * number for number in range(count)]
    return question(world(*(figure(f"F{n}", technique, (40,), at, at + length_s) for n, at in enumerate(starts))))


def first_choice(problem: Problem, number: int, player: int = 0) -> Choice:
    """The first allowed option of a figure."""
    task = problem.tasks[number]
    place, lane = next(
        (place, lane)
        for place in task.places
        for lane in range(len(task.lanes))
        if problem.allows(task, player, lane, place)
    )
    near = [i for i in task.implements if problem.rest_mm[i][place] <= problem.full_mm[player]]
    return Choice(player=player, place=place, lane=lane, implements=tuple(near[: task.need]))


def answered(draft: Draft) -> Outcome:
    """The draft under all rules, as much cast as can be."""
    for rule in MODEL_RULES:
        rule.add(draft)
    draft.model.objective = [(1, literal) for literal in draft.u.values()]
    return solve(draft.model, effort=5.0, seconds=10.0)


def test_decided_figures_stand() -> None:
    """A decided figure reads back as it was decided."""
    problem = in_a_row(PLUCK)
    decided = {1: first_choice(problem, 1, player=1)}
    draft = Draft(problem, [0, 2], decided)
    answer = draft.read(list(answered(draft).values))
    assert answer[1] == decided[1]
    assert sorted(answer) == [0, 1, 2]


def test_offered_choices_are_taken_or_left() -> None:
    """An offered figure is cast as offered, or is uncast: never in another way."""
    problem = in_a_row(PLUCK, every_s=1.1)
    offered = {number: first_choice(problem, number) for number in range(3)}
    draft = Draft(problem, range(3), offered=offered)
    answer = draft.read(list(answered(draft).values))
    assert 0 < len(answer) < 3
    assert all(answer[number] == offered[number] for number in answer)


def test_must_be_cast() -> None:
    """Two figures on one string at one time that must both be cast are impossible."""
    problem = in_a_row(PLUCK, count=2, every_s=0.5)
    assert answered(Draft(problem, [0, 1], must=[0])).status is Status.BEST
    assert answered(Draft(problem, [0, 1], must=[0, 1])).status is Status.IMPOSSIBLE


@pytest.mark.parametrize("technique", [HAMMER, BOW])
def test_same_and_keep_mean_what_they_say(technique: Technique) -> None:
    """`same` is true exactly for one player; `keep` asks for one player and the very same implements."""
    problem = in_a_row(technique, count=2)
    for players in ((0, 0), (0, 1)):
        chosen = {number: first_choice(problem, number, player) for number, player in enumerate(players)}
        draft = Draft(problem, [0, 1], must=[0, 1], offered=chosen)
        a, b = draft.tasks
        assert draft.may_keep(a, b)
        same, keep = draft.same(a, b), draft.keep(a, b)
        for rule in MODEL_RULES:
            rule.add(draft)
        draft.model.objective = [(-1, keep)]
        values = solve(draft.model, effort=5.0, seconds=10.0).values
        assert (values[same], values[keep]) == ((1, 1) if players == (0, 0) else (0, 0))


def test_bare_hands_and_other_tools_keep_nothing() -> None:
    """Nothing is kept between bare hands, nor between a bow and a hammer."""
    mixed = question(world(figure("A", BOW, (40,), 0.0, 1.0), figure("B", HAMMER, (40,), 9.0, 10.0)))
    for problem in (in_a_row(PLUCK, count=2), mixed):
        draft = Draft(problem, [0, 1])
        first, second = draft.tasks
        assert not draft.may_keep(first, second)


def test_touching_takes_neighbours_in_time_and_each_players_nearest() -> None:
    """Around one figure: all within the horizon, and beyond it the last before and the first after of each player."""
    problem = in_a_row(PLUCK, count=9, every_s=20.0)
    assignment = {number: first_choice(problem, number, player=number % 2) for number in range(9)}
    assert problem.horizon_s < 19.0
    assert sorted(touching(problem, [4], assignment)) == [2, 3, 5, 6]


def test_touching_knows_where_a_bow_already_lives() -> None:
    """However far away in time, a figure that fixed the place of the pitch's bow is among them."""
    problem = in_a_row(BOW, count=9, every_s=20.0)
    assignment = {number: first_choice(problem, number, player=0) for number in range(9)}
    assert 0 in touching(problem, [6], assignment)


def test_a_hint_covers_every_literal_of_what_it_knows() -> None:
    """`assume` hints uncast figures as uncast and cast ones with their choice."""
    problem = in_a_row(PLUCK, count=2)
    draft = Draft(problem, [0, 1])
    choice = first_choice(problem, 0)
    draft.assume({0: choice})
    hint = draft.model.hint
    assert (hint[draft.u[0]], hint[draft.u[1]]) == (0, 1)
    assert [place for place, literal in draft.y[0].items() if hint[literal]] == [choice.place]
    assert not any(hint[literal] for literal in draft.x[1].values())


def test_nobody_broader_is_no_literal() -> None:
    """`broader_than` is None when nobody is, and a literal when someone is."""
    problem = question(world(figure("A", PLUCK, (40,), 0.0, 1.0), players=toy_players(2, measured_breadth_mm=400.0)))
    draft = Draft(problem, [0])
    (task,) = draft.tasks
    assert draft.broader_than(task, 400.0) is None
    assert draft.broader_than(task, 399.0) is not None
