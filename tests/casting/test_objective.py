"""The six levels: each counted by hand, and written into a model as they are counted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rimside.casting import objective
from rimside.casting.draft import Draft, opened, touching
from rimside.casting.part import only
from rimside.casting.problem import Assignment, Choice, Liked, Problem
from rimside.casting.result_json import LEVEL_NAMES, REFIT_LEVEL_NAMES
from rimside.casting.rules import MODEL_RULES
from rimside.casting.search import Search
from rimside.casting.solve import Status, solve
from rimside.score.model import Technique
from tests.amounts import few_or_many, random_cases
from tests.casting.judging import world
from tests.casting.solving import question
from tests.casting.strategies import small_worlds
from tests.casting.worlds import World, figure, toy_players

pytestmark = pytest.mark.filterwarnings("ignore:Generating overly large repr")
PLUCK, HAMMER, BOW = Technique.FINGER_PLUCK, Technique.FELT_HAMMER, Technique.LINE_BOW


def plucks(*spans_s: tuple[float, float], key: int = 5) -> Problem:
    """One pluck for each (start, end)."""
    return question(world(*(figure(f"F{n}", PLUCK, (key,), *span) for n, span in enumerate(spans_s))))


def upright(problem: Problem, number: int, place: int, player: int = 0, **changes: tuple[int, ...]) -> Choice:
    """A choice of this place, at a lane within comfortable reach when there is one."""
    far = [lane.distance_mm[place] for lane in problem.tasks[number].lanes]
    return Choice(player=player, place=place, lane=far.index(min(far)), **changes)


def comfortable(problem: Problem) -> int:
    """A place from which the first figure is played upright."""
    return next(q for q in problem.tasks[0].places if not problem.leans(problem.tasks[0], upright(problem, 0, q)))


def test_level_1_weighs_essential_figures() -> None:
    """One essential and two other figures uncast make 1002; of the first two alone 1001."""
    figures = [figure(f"F{n}", PLUCK, (40,), 3.0 * n, 3.0 * n + 1, essential=n == 0) for n in range(4)]
    problem = question(world(*figures))
    assignment = {3: upright(problem, 3, problem.tasks[3].places[0])}
    assert objective.count(problem, assignment)[0] == 1002
    assert objective.uncast_weight(problem, assignment, [0, 1]) == 1001


def test_level_2_counts_what_slack_lacks() -> None:
    """Bare-handed at one place a change needs 0.2 s: a gap of 0.7 s lacks 500 ms of the reserve, 1.2 s lacks none."""
    problem = plucks((0.0, 2.0), (2.7, 4.0), (5.2, 6.0))
    place = comfortable(problem)
    assignment = {n: upright(problem, n, place) for n in range(3)}
    assert objective.count(problem, assignment)[1] == 500


def test_level_2_counts_every_pair_of_a_player_not_only_neighbours() -> None:
    """Gaps of 0.5, 0.3 and, round the short figure between, 0.9 s lack 700, 900 and 300 ms of 0.2 s and the reserve."""
    problem = plucks((0.0, 2.0), (2.5, 2.6), (2.9, 4.0))
    place = comfortable(problem)
    assignment = {n: upright(problem, n, place) for n in range(3)}
    assert objective.count(problem, assignment)[1] == 700 + 900 + 300


def test_level_2_counts_started_seconds_at_a_lean() -> None:
    """A figure of 2.3 s at a full lean costs 300 ms."""
    problem = plucks((0.0, 2.3))
    task = problem.tasks[0]
    leaning = next(
        Choice(player=0, place=place, lane=lane)
        for place in task.places
        for lane in range(len(task.lanes))
        if problem.comfortable_mm[0] < task.lanes[lane].distance_mm[place] <= problem.full_mm[0]
    )
    assert objective.count(problem, {0: leaning})[1] == 300


def test_level_2_a_kept_hammer_is_no_change_of_tools() -> None:
    """The same hammer after 1.2 s lacks nothing; another one needs 1.7 s, so 1.2 s lack 1500 ms."""
    figures = [figure(f"F{n}", HAMMER, (5,), 3.2 * n, 3.2 * n + 2.0) for n in range(2)]
    problem = question(world(*figures))
    place = comfortable(problem)
    same, other = (
        {0: upright(problem, 0, place, implements=(2,)), 1: upright(problem, 1, place, implements=(n,))} for n in (2, 3)
    )
    assert objective.count(problem, same)[1] == 0
    assert objective.count(problem, other)[1] == 1500


def test_level_3_counts_changes_of_place() -> None:
    """Places a, a, b, a of one player are two moves; another player's own place is none."""
    problem = plucks(*((9.0 * n, 9.0 * n + 1.0) for n in range(5)))
    a, b = problem.tasks[0].places[:2]
    assignment = {n: upright(problem, n, place) for n, place in enumerate((a, a, b, a))}
    assignment[4] = upright(problem, 4, b, player=1)
    assert objective.count(problem, assignment)[2] == 2


def test_level_4_counts_players_of_one_motif() -> None:
    """A motif with two players costs one, one with one player nothing, an uncast one nothing."""
    motifs = ("m", "m", "m", "n", "n", "o")
    figures = [figure(f"F{n}", PLUCK, (40,), 9.0 * n, 9.0 * n + 1, motif=name) for n, name in enumerate(motifs)]
    problem = question(world(*figures))
    players = (0, 1, 1, 0, 0)
    place = problem.tasks[0].places[0]
    assignment = {n: upright(problem, n, place, player=player) for n, player in enumerate(players)}
    assert objective.count(problem, assignment)[3] == 1


def test_level_5_counts_kinds_and_motifs_of_the_busiest() -> None:
    """Bows of two pitches are two kinds, plus a hammer, plus two motifs, are 5; the other player's 2 do not count."""
    rows = ((BOW, 40, "m"), (BOW, 44, "m"), (BOW, 40, "n"), (HAMMER, 40, "n"), (HAMMER, 50, "o"))
    figures = [figure(f"F{n}", t, (key,), 9.0 * n, 9.0 * n + 1, motif=motif) for n, (t, key, motif) in enumerate(rows)]
    problem = question(world(*figures))
    assignment = {n: upright(problem, n, problem.tasks[n].places[0], player=int(n == 4)) for n in range(5)}
    assert objective.count(problem, assignment)[4] == 5


def test_level_6_counts_ms_between_most_and_least() -> None:
    """4 s and 1.25 s, and a third player with nothing: 4000 ms."""
    figures = [figure("A", PLUCK, (40,), 0.0, 4.0), figure("B", PLUCK, (40,), 9.0, 10.25)]
    problem = question(world(*figures, players=toy_players(3)))
    assignment = {n: upright(problem, n, problem.tasks[n].places[0], player=n) for n in range(2)}
    assert objective.count(problem, assignment)[5] == 4000
    two = question(world(*figures))
    assert objective.count(two, assignment)[5] == 2750


# The model against the count.

DERANDOMIZED = settings(
    max_examples=few_or_many(25, 250),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
    database=None,
)


def some_assignment(problem: Problem, seed: int) -> dict[int, Choice]:
    """A correct casting of some of the figures: what a short search finds, and of it two thirds."""
    search = Search(problem=problem, seconds=1.0, seed=seed, depth=1)
    search.run()
    rng = Random(seed)
    return {index: choice for index, choice in sorted(search.best.items()) if rng.random() < 0.67}


def written(draft: Draft, level: int, standing: Assignment) -> int | None:
    """The least value of a level in a draft whose free figures are pinned to `standing`."""
    for rule in MODEL_RULES:
        rule.add(draft)
    terms, constant = objective.terms(draft, level, standing)
    for index in draft.free:
        pin(draft, index, standing.get(index))
    draft.model.objective, draft.model.offset = terms, constant
    outcome = solve(draft.model, effort=20.0, seconds=30.0)
    assert outcome.status is Status.BEST
    return outcome.objective


def pin(draft: Draft, index: int, choice: Choice | None) -> None:
    """Fix one figure's literals to a choice, or to uncast."""
    draft.model.fix(draft.u[index], int(choice is None))
    chosen: Iterable[tuple[dict[int, dict[int, int]], tuple[int, ...]]] = (
        (draft.x, (choice.player,) if choice else ()),
        (draft.y, (choice.place,) if choice else ()),
        (draft.v, (choice.lane,) if choice else ()),
        (draft.w, choice.implements if choice else ()),
    )
    for family, values in chosen:
        for candidate, literal in family[index].items():
            draft.model.fix(literal, int(candidate in values))


@given(small_worlds(3, 9), st.integers(0, 1000))
@DERANDOMIZED
@random_cases
def test_a_model_of_the_whole_costs_what_is_counted(where: World, seed: int) -> None:
    """All figures free and pinned to a casting: each level's least value is the level counted."""
    problem = question(where)
    assignment = some_assignment(problem, seed)
    everything = [task.index for task in problem.tasks]
    found = tuple(written(Draft(problem, everything), level, assignment) for level in range(6))
    assert found == objective.count(problem, assignment)


@given(small_worlds(4, 9), st.integers(0, 1000))
@DERANDOMIZED
@random_cases
def test_a_model_of_a_part_costs_what_the_part_adds(where: World, seed: int) -> None:
    """Half of the figures free, the rest decided: levels 1 to 3 are the part's own, levels 4 to 6 the whole's."""
    problem = question(where)
    assignment = some_assignment(problem, seed)
    rng = Random(seed)
    inside = opened(problem, {task.index for task in problem.tasks if rng.random() < 0.5} or {0})
    around = touching(problem, inside, assignment)
    whole = objective.count(problem, assignment)
    wanted = (
        objective.uncast_weight(problem, assignment, inside),
        objective.risk_ms(problem, assignment, inside),
        objective.moves(problem, {**around, **only(assignment, inside)}),
        *whole[3:],
    )
    found = tuple(written(Draft(problem, inside, around), level, assignment) for level in range(6))
    assert found == wanted


@given(small_worlds(4, 9), st.integers(0, 1000))
@DERANDOMIZED
@random_cases
def test_a_part_made_better_makes_the_whole_better_by_as_much(where: World, seed: int) -> None:
    """Levels 1 to 3 of the whole less those of the part do not depend on how the part is chosen."""
    problem = question(where)
    first = some_assignment(problem, seed)
    rng = Random(seed)
    inside = opened(problem, {task.index for task in problem.tasks if rng.random() < 0.5} or {0})
    second = {index: choice for index, choice in first.items() if index not in inside}
    for measure in (objective.uncast_weight, objective.risk_ms):
        rest = [measure(problem, given) - measure(problem, given, inside) for given in (first, second)]
        assert rest[0] == rest[1]
    moves = [
        objective.moves(problem, given)
        - objective.moves(problem, {**touching(problem, inside, given), **only(given, inside)})
        for given in (first, second)
    ]
    assert moves[0] == moves[1]


def test_level_names_are_those_of_the_file() -> None:
    """What the proof writes is what the file reads."""
    problem = plucks((0.0, 2.0))
    refit = replace(problem, liked={0: Liked(player=0, places=frozenset({0}), kind="")})
    assert objective.named(problem) == LEVEL_NAMES
    assert objective.named(refit) == REFIT_LEVEL_NAMES


@pytest.mark.parametrize("kind", ["empty", "nothing cast"])
def test_nothing_cast_costs_only_coverage(kind: str) -> None:
    """Without any cast figure every level but the first is 0."""
    problem = plucks() if kind == "empty" else plucks((0.0, 2.0))
    assert objective.count(problem, {}) == (len(problem.tasks), 0, 0, 0, 0, 0)
