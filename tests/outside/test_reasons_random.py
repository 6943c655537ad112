"""Random small questions: the judge, who never met the solver, confirms every reason and every mend."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import combinations, product

import pytest
from hypothesis import HealthCheck, given, settings

from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.explain import DROPPED_IN_TURN, why_uncast
from rimside.casting.mends import mends
from rimside.casting.problem import Assignment, Choice, Problem, Task
from rimside.casting.question import Question
from rimside.casting.result import MEND_KINDS, Uncast
from rimside.casting.search import Search
from rimside.casting.verify import Breach, verify
from rimside.flow import UNASSIGNED
from rimside.piano.dampers import usable_pedals
from tests.casting.strategies import small_worlds
from tests.casting.worlds import World

pytestmark = pytest.mark.filterwarnings("ignore:Generating overly large repr")

RANDOM = settings(
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
WAYS_AT_MOST = 1500
"""Ways to play one figure that are tried one by one; figures with more are left to the larger run."""


def asked(where: World) -> Question:
    """The question that a world puts."""
    pedals = usable_pedals(where.piano, where.pedals)
    return Question(figures=where.figures, piano=where.piano, players=where.players, kit=where.kit, pedals=pedals)


def cast(problem: Problem) -> Assignment:
    """Cast for coverage alone."""
    search = Search(problem=problem, seconds=0.6, depth=1)
    search.run()
    return search.best


def breaches(question: Question, problem: Problem, assignment: Assignment) -> tuple[Breach, ...]:
    """The rules that the judge finds broken by an assignment; that it comes without a proof is no breach of one."""
    held = pedal_actions(problem.pedals, UNASSIGNED)
    casting = assemble(problem, assignment, (), held, 0.0, explain=False)
    found = verify(casting, question.piano, question.players, question.kit)
    return tuple(breach for breach in found if breach.rule != "proof")


def ways(problem: Problem, task: Task) -> Iterator[Choice]:
    """Every way to play a figure, within reach or not."""
    taken = list(combinations(task.implements, task.need)) if task.from_rest else [()]
    for player, place, lane, tools in product(task.players, task.places, range(len(task.lanes)), taken):
        yield Choice(player=player, place=place, lane=lane, implements=tools)


def broken(question: Question, problem: Problem, standing: Assignment, task: Task) -> list[frozenset[str]]:
    """For each way to play one more figure, the rules that the judge finds broken.

    No lane is too fast for the hands that a figure needs, so that H10 only tells that it was given fewer: H2.
    """
    tried = ({**standing, task.index: choice} for choice in ways(problem, task))
    found = ({breach.rule for breach in breaches(question, problem, whole)} for whole in tried)
    return [frozenset(rules - {"H10"} | {"H2"} if "H10" in rules else rules) for rules in found]


def without(problem: Problem, assignment: Assignment, names: Iterable[str]) -> dict[int, Choice]:
    """The assignment without some figures."""
    away = frozenset(names)
    return {index: choice for index, choice in assignment.items() if problem.tasks[index].work.id not in away}


def few(problem: Problem, task: Task) -> bool:
    """Whether all ways can be tried one by one."""
    return next((False for number, _ in enumerate(ways(problem, task)) if number >= WAYS_AT_MOST), True)


def confirm_reason(question: Question, problem: Problem, best: Assignment, task: Task, entry: Uncast) -> None:
    """What competes is enough, needed and fewest; the rules are enough, needed and fewest: the judge says so."""
    count, rules = len(entry.competing), frozenset(entry.rules)
    now = broken(question, problem, best if count else {}, task)
    assert frozenset() not in now, "it could have been cast"
    if count:
        assert frozenset() in broken(question, problem, without(problem, best, entry.competing), task)
    if count == 2:
        for name in names(problem, best):
            assert frozenset() not in broken(question, problem, without(problem, best, [name]), task), name
    for back in entry.competing if count > 2 else ():
        gone = [name for name in entry.competing if name != back]
        assert frozenset() not in broken(question, problem, without(problem, best, gone), task), back
    assert all(found & rules for found in now), (rules, now)
    # whoever gets too few hands gets too few implements too, of which the judge then complains under H6
    plain = [found - {"H6"} if "H2" in found else found for found in now]
    for some in combinations((rule.RULE for rule in DROPPED_IN_TURN), len(rules) - 1):
        assert not now or any(found.isdisjoint(some) for found in plain), (rules, some)


def names(problem: Problem, assignment: Assignment) -> list[str]:
    """The ids of all that is cast."""
    return [problem.tasks[index].work.id for index in assignment]


def confirm_mends(question: Question, problem: Problem, best: Assignment, task: Task, entry: Uncast) -> int:
    """Each mend, on the question built anew, casts the figure and all that was cast, and the judge finds nothing."""
    found = mends(question, problem, best, task, competing=entry.competing)
    assert [row.mend.kind for row in found] == [kind for kind in MEND_KINDS for row in found if row.mend.kind == kind]
    for row in found:
        anew = row.question.problem()
        assert replace(row.problem, saved_s={}) == anew
        assert {*names(problem, best), task.work.id} == set(names(anew, row.assignment))
        told = breaches(row.question, anew, row.assignment)
        if row.mend.kind == "practise":
            (pair,) = row.problem.saved_s
            hurried = {anew.tasks[index].work.id for index in pair}
            assert [(breach.rule, set(breach.figures)) for breach in told] == [("H4", hurried)]
        else:
            assert not told, (row.mend, [breach.message for breach in told])
    return len(found)


def left_out(problem: Problem, best: Assignment) -> Iterator[tuple[Task, Uncast]]:
    """Uncast figures with their reasons."""
    for task in problem.tasks:
        if task.index not in best:
            yield task, why_uncast(problem, best, task)


def reasons_hold(where: World) -> None:
    """Every reason that is proved and small enough to try out is confirmed."""
    question = asked(where)
    problem = question.problem()
    best = cast(problem)
    for task, entry in left_out(problem, best):
        assert entry.proved or entry.rule == "H1"
        if task.barred is None and entry.proved and few(problem, task):
            confirm_reason(question, problem, best, task, entry)


def mends_hold(where: World) -> None:
    """Every mend of every uncast figure is confirmed."""
    question = asked(where)
    problem = question.problem()
    best = cast(problem)
    for task, entry in left_out(problem, best):
        confirm_mends(question, problem, best, task, entry)


# Authority: casting/verify.py, written apart from the solver and its rules; every way to play the figure is tried.
@given(small_worlds(most=9))
@settings(RANDOM, max_examples=20)
def test_reasons_are_what_the_judge_finds_by_trying(where: World) -> None:
    """20 questions: uncast figures cannot be cast; competitors and rules are enough, needed and fewest."""
    reasons_hold(where)


# Authority: casting/verify.py, written apart from the solver and its rules.
@given(small_worlds())
@settings(RANDOM, max_examples=10)
def test_mends_mend(where: World) -> None:
    """10 questions: with each mend the figure is cast beside all others, and the judge finds no breach."""
    mends_hold(where)


@pytest.mark.soak
@given(small_worlds())
@settings(RANDOM, max_examples=1000)
def test_reasons_and_mends_hold_a_thousand_times(where: World) -> None:
    """The same for 1000 questions."""
    reasons_hold(where)
    mends_hold(where)
