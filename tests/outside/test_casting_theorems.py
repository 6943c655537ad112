"""Castings on instances whose answer a theorem, an exhaustive search or another solver gives."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise, product
from typing import Any

import networkx as nx
import pytest

from rimside.casting import objective
from rimside.casting.assemble import assemble, pedal_actions
from rimside.casting.draft import Draft
from rimside.casting.model import Model
from rimside.casting.problem import Choice, Problem
from rimside.casting.result import Proof
from rimside.casting.result_json import LEVEL_NAMES
from rimside.casting.rules import MODEL_RULES
from rimside.casting.solve import Status, solve
from rimside.casting.verify import levels, verify
from rimside.kit import Kit, Stock
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.score.model import Figure, Technique, Touch
from tests.amounts import seeds
from tests.casting.solving import level, question, solved
from tests.casting.worlds import World, figure, held, toy_kit, toy_piano, toy_player, toy_players, toy_times

APART_KEYS = (22, 29, 36, 43, 50, 57)
"""Keys 98 mm apart on the toy piano, so that no two hands are in each other's way."""


def quick_kit(stock: tuple[Stock, ...]) -> Kit:
    """A kit whose changes cost nothing."""
    free = toy_times(stock, settle_s=0.0, turn_s=0.0, walk_mm_per_s=1e9)
    free = replace(free, pick_s=dict.fromkeys(free.pick_s, 0.0), put_s=dict.fromkeys(free.put_s, 0.0))
    return Kit(stock=stock, times=free)


LINES = (Stock(kind="line", serves=frozenset({Technique.LINE_BOW}), count=4, per_pitch=True),)


def long_armed(count: int) -> tuple[Player, ...]:
    """Players who reach everything and stand anywhere."""
    return toy_players(count, measured_reach_mm=(5000.0, 5000.0), measured_breadth_mm=200.0)


def interval_figures(seed: int, count: int) -> tuple[Figure, ...]:
    """Random intervals, each on a key that no overlapping one uses; what finds no key is left out."""
    rng, made = random.Random(seed), list[Figure]()
    for number in range(count):
        start = float(rng.randint(0, 30))
        end = start + rng.randint(1, 9)
        taken = {f.keys[0] for f in made if f.start_s < end and start < f.end_s}
        free = [key for key in APART_KEYS if key not in taken]
        if free:
            made.append(figure(f"F{number}", Technique.LINE_BOW, (rng.choice(free),), start, end))
    return tuple(made)


def greatest_overlap(figures: tuple[Figure, ...]) -> int:
    """The most figures that sound at one moment."""
    return max(sum(f.start_s <= g.start_s < f.end_s for f in figures) for g in figures)


def most_with(figures: tuple[Figure, ...], players: int) -> int:
    """The most intervals that `players` can take, one at a time each, by min-cost flow over the moments."""
    moments = sorted({f.start_s for f in figures} | {f.end_s for f in figures})
    graph: nx.MultiDiGraph[float] = nx.MultiDiGraph()
    for a, b in pairwise(moments):
        graph.add_edge(a, b, capacity=players, weight=0)
    for f in figures:
        graph.add_edge(f.start_s, f.end_s, capacity=1, weight=-1)
    graph.add_node(moments[0], demand=-players)
    graph.add_node(moments[-1], demand=players)
    return -round(nx.min_cost_flow_cost(_split(graph)))


def _split(graph: nx.MultiDiGraph[float]) -> nx.DiGraph[Any]:
    """The same network without parallel arcs: each arc that could double another goes through a node of its own."""
    plain: nx.DiGraph[Any] = nx.DiGraph()
    plain.add_nodes_from(graph.nodes(data=True))
    for number, (a, b, data) in enumerate(graph.edges(data=True)):
        plain.add_edge(a, ("arc", number), capacity=data["capacity"], weight=data["weight"])
        plain.add_edge(("arc", number), b, capacity=data["capacity"], weight=0)
    return plain


# Authority: the least number of chains that cover an interval order is its greatest antichain (R. P. Dilworth, Annals
# of Mathematics 51 (1950) 161); for intervals that is the greatest overlap.
@pytest.mark.parametrize("seed", range(6))
def test_as_many_players_are_needed_as_figures_overlap(seed: int) -> None:
    """With one player fewer than the greatest overlap something stays uncast; with as many, nothing does."""
    figures = interval_figures(seed, 16)
    need = min(greatest_overlap(figures), 6)
    base = World(piano=toy_piano(), players=long_armed(need), kit=quick_kit(LINES), figures=figures, pedals=held())
    assert level(solved(base, depth=1), 1) == (0, 0)
    fewer = replace(base, players=long_armed(need - 1))
    assert level(solved(fewer, depth=1), 1)[0] > 0


# Authority: the most intervals that k machines can take is a min-cost flow (M. C. Carlisle & E. L. Lloyd, On the
# k-coloring of intervals, Discrete Applied Mathematics 59 (1995) 225), here by networkx.
@pytest.mark.parametrize("seed", range(10, 16))
def test_too_few_players_take_as_much_as_the_flow_says(seed: int) -> None:
    """The weight uncast, and its proven bound, are what the flow leaves over."""
    figures = interval_figures(seed, 18)
    players = max(1, greatest_overlap(figures) - 2)
    world = World(piano=toy_piano(), players=long_armed(players), kit=quick_kit(LINES), figures=figures, pedals=held())
    least = len(figures) - most_with(figures, players)
    assert level(solved(world, 6.0, depth=1), 1) == (least, least)


TWO_HANDED = (
    Technique.LINE_BOW,
    Technique.FINGER_PLUCK,
    Technique.PLECTRUM,
    Technique.FELT_HAMMER,
    Technique.WOOD_HAMMER,
    Technique.HANDLED_PLECTRUM,
)
EVERY_KIND = tuple(
    Stock(kind=technique.value, serves=frozenset({technique}), count=2, per_pitch=technique is Technique.LINE_BOW)
    for technique in TWO_HANDED
)


# Authority: the most figures of one moment is a maximum matching of figures and players (C. Berge, Proc. Nat. Acad.
# Sci. 43 (1957) 842), here by networkx.
@pytest.mark.parametrize("seed", range(8))
def test_one_moment_is_a_matching(seed: int) -> None:
    """Six two-handed figures at once, players with random skills: as many are cast as the largest matching has."""
    rng = random.Random(seed)
    figures = tuple(
        figure(
            technique.value,
            technique,
            (key,),
            0.0,
            4.0,
            touch=None if technique is Technique.LINE_BOW else Touch(k=1, n=2),
        )
        for technique, key in zip(TWO_HANDED, APART_KEYS, strict=True)
    )
    skills = [frozenset(rng.sample(TWO_HANDED, rng.randint(1, 3))) for _ in range(5)]
    players = tuple(replace(player, skills=skill) for player, skill in zip(long_armed(5), skills, strict=True))
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(f.id for f in figures)
    graph.add_edges_from((f.id, p.id) for f in figures for p in players if p.plays(f.technique))
    largest = len(nx.bipartite.maximum_matching(graph, top_nodes=[f.id for f in figures])) // 2
    world = World(piano=toy_piano(), players=players, kit=quick_kit(EVERY_KIND), figures=figures, pedals=held())
    assert level(solved(world, depth=1), 1) == (6 - largest, 6 - largest)


def small_piano() -> Piano:
    """The toy piano with four places, two on each side, the nearer ones too near for two."""
    piano = toy_piano()
    chosen = {"p05", "p06", "p16", "p17"}
    return replace(piano, places=tuple(place for place in piano.places if place.id in chosen))


def small_world(seed: int) -> World:
    """Three figures that get in each other's way, two players."""
    rng = random.Random(seed)
    made = []
    for number in range(3):
        technique = rng.choice((Technique.LINE_BOW, Technique.STICK_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK))
        start = round(rng.uniform(0.0, 6.0), 1)
        key = rng.choice((40, 43, 45, 48, 52))
        made.append(figure(f"F{number}", technique, (key,), start, start + rng.choice((1.0, 2.5, 4.0))))
    tidy = tuple(replace(f, motif="again") if number else f for number, f in enumerate(made))
    players = (toy_player(0), toy_player(1, stature_mm=1850.0))
    return World(piano=small_piano(), players=players, kit=toy_kit(), figures=tidy, pedals=held())


def every_casting(problem: Problem, world: World) -> tuple[int, ...]:
    """The best six levels over all assignments that the judge, which never saw the solver, finds correct."""
    best: tuple[int, ...] | None = None
    for choices in product(*(_choices(problem, number) for number in range(len(problem.tasks)))):
        assignment = {number: choice for number, choice in enumerate(choices) if choice is not None}
        reached = objective.count(problem, assignment)
        if best is not None and reached >= best:
            continue
        proof = tuple(Proof(level=name, value=value, bound=0) for name, value in zip(LEVEL_NAMES, reached, strict=True))
        casting = assemble(problem, assignment, proof, pedal_actions(problem.pedals, "unassigned"), 0.0, explain=False)
        rules = {breach.rule for breach in verify(casting, world.piano, world.players, world.kit)}
        assert rules != {"proof"}, f"the judge counts {levels(casting, world.kit)}, the objective {reached}"
        if not rules:
            best = reached
    assert best is not None
    return best


def _choices(problem: Problem, number: int) -> list[Choice | None]:
    task = problem.tasks[number]
    taken = [()] if task.bow_key is not None or not task.need else [(i,) for i in task.implements[:2]]
    options = product(range(len(problem.players)), task.places, range(min(2, len(task.lanes))), taken)
    return [None, *(Choice(player=p, place=q, lane=v, implements=w) for p, q, v, w in options)]


# Authority: exhaustive search, judged by casting/verify.py.
@pytest.mark.parametrize("seed", seeds(2, 8))
def test_small_castings_are_the_best_of_all(seed: int) -> None:
    """No casting of a small world is better in the order of the levels than the one found; the bounds hold too."""
    world = small_world(seed)
    problem = question(world)
    best = every_casting(problem, world)
    casting = solved(world, 6.0)
    found = tuple(proof.value for proof in casting.proof)
    assert found <= best
    for proof, true in zip(casting.proof, best, strict=True):
        if proof.value != true:
            break
        assert proof.bound <= true


def highs(model: Model, seconds: float) -> tuple[bool, int]:
    """The same model solved by HiGHS as a mixed-integer program: whether it is proved, and the objective."""
    import highspy

    solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("time_limit", seconds)
    variables = [solver.addVariable(lb=low, ub=high, type=highspy.HighsVarType.kInteger) for low, high in model.bounds]
    for clause in model.clauses:
        positive = [literal for literal in clause if literal >= 0]
        negative = [~literal for literal in clause if literal < 0]
        solver.addConstr(sum(variables[v] for v in positive) - sum(variables[v] for v in negative) >= 1 - len(negative))
    for terms, bound in model.rows:
        if terms:
            solver.addConstr(sum(c * variables[v] for c, v in terms) <= bound)
    solver.minimize(sum(c * variables[v] for c, v in model.objective))
    proved = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return proved, round(solver.getObjectiveValue()) + model.offset


def middle_world(seed: int) -> World:
    """Fourteen figures in 24 s for three players: some must stay uncast."""
    rng, made = random.Random(seed), list[Figure]()
    for number in range(14):
        technique = rng.choice((Technique.LINE_BOW, Technique.STICK_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK))
        start = round(rng.uniform(0.0, 24.0), 1)
        made.append(figure(f"F{number:02}", technique, (rng.randint(22, 60),), start, start + rng.choice((2.0, 4.0))))
    return World(piano=toy_piano(), players=toy_players(3), kit=toy_kit(), figures=tuple(made), pedals=held())


# Authority: HiGHS, a mixed-integer solver that shares no code with CP-SAT, on the same model.
@pytest.mark.parametrize(("seed", "at_level"), [(1, 0), (2, 0), (3, 0), (1, 1)])
def test_another_solver_finds_the_same(seed: int, at_level: int) -> None:
    """Least uncast weight (level 1), and least risk with that (level 2), agree between the two solvers."""
    problem = question(middle_world(seed))
    draft = Draft(problem, [task.index for task in problem.tasks if task.barred is None])
    for rule in MODEL_RULES:
        rule.add(draft)
    if at_level:
        terms, constant = objective.terms(draft, 0, {})
        draft.model.objective = terms
        least = solve(draft.model, effort=40.0, seconds=60.0)
        assert least.status is Status.BEST
        draft.model.at_most(terms, least.objective - constant if least.objective is not None else 0)
    draft.model.objective, draft.model.offset = objective.terms(draft, at_level, {})
    ours = solve(draft.model, effort=40.0, seconds=60.0)
    proved, theirs = highs(draft.model, 60.0)
    assert ours.status is Status.BEST
    assert proved
    assert ours.objective == theirs
