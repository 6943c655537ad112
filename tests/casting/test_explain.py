"""Why a figure is uncast: its own rule, or the figures that take its place, confirmed by taking those away."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from rimside.casting.explain import not_tried, why_uncast
from rimside.casting.problem import Choice
from rimside.casting.result import Uncast
from rimside.casting.search import Search
from rimside.kit import PERMISSIONS
from rimside.piano.model import Permissions
from rimside.score.model import Figure, Mute, Technique, Touch
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import TOY_STOCK, World, figure, toy_kit, toy_piano, toy_player, toy_players

PLUCK, BOW = Technique.FINGER_PLUCK, Technique.LINE_BOW


def only_uncast(where: World) -> Uncast:
    """The one uncast figure."""
    (entry,) = solved(where, depth=1).uncast
    return entry


def one(technique: Technique, key: int, **changes: object) -> Figure:
    """One figure of two seconds."""
    return replace(figure("A", technique, (key,), 0.0, 2.0), **changes)  # type: ignore[arg-type]


NO_HAMMER = toy_kit(tuple(item for item in TOY_STOCK if item.kind != "hammer"))
STRICT = toy_piano(permissions=Permissions(allowed=frozenset(PERMISSIONS) - {"rosin"}))
PLUCKER = (toy_player(0, skills=frozenset({PLUCK})),)
BARRED = {
    "three hands": (world(one(BOW, 40, touch=Touch(k=1, n=2))), "H2", "it takes 3 hands"),
    "out of reach": (world(one(PLUCK, 50), players=toy_players(1, measured_reach_mm=(90.0, 90.0))), "H3", "90 mm"),
    "covered node": (world(one(PLUCK, 76, touch=Touch(k=1, n=2))), "H3", "no room"),
    "wound string": (world(one(BOW, 10)), "H6", "it asks for a friction strip"),
    "plain string": (world(one(Technique.FRICTION_STRIP, 40)), "H6", "needs a wound string"),
    "no such tool": (world(one(Technique.FELT_HAMMER, 40), kit=NO_HAMMER), "H6", "the kit holds no"),
    "no such course": (world(one(PLUCK, 40), piano=toy_piano(courses=toy_piano().courses[:30])), "H6", "no course"),
    "damper": (world(one(PLUCK, 40), pedals=()), "H8", "the damper of"),
    "too fast": (world(figure("A", PLUCK, (40,), 0.0, 1.0, times=20)), "H10", "strokes come every 0.05 s"),
    "not allowed": (world(one(BOW, 40), piano=STRICT), "H11", PERMISSIONS["rosin"]),
    "no skill": (world(one(BOW, 40), players=PLUCKER), "H12", "nobody here does line bow"),
}


@pytest.mark.parametrize("case", BARRED)
def test_a_barred_figure_names_its_rule_and_reason(case: str) -> None:
    """Each rule that can bar a figure says so in words, and nothing competes."""
    where, rule, words = BARRED[case]
    entry = only_uncast(where)
    assert entry.rule == rule
    assert words in entry.reason
    assert entry.competing == ()
    assert (entry.rules, entry.proved) == ((rule,), True)


def without(where: World, names: tuple[str, ...]) -> World:
    """The same world without some figures."""
    return replace(where, figures=tuple(what for what in where.figures if what.id not in names))


SQUEEZED = {
    "hands": (world(one(BOW, 40), replace(one(PLUCK, 50), id="B"), players=toy_players(1)), "H2"),
    "string": (world(one(BOW, 40), replace(one(PLUCK, 40), id="B")), "H7"),
    "change": (world(one(PLUCK, 40), figure("B", BOW, (40,), 2.3, 4.0), players=toy_players(1)), "H4"),
}


@pytest.mark.parametrize("case", SQUEEZED)
def test_a_squeezed_out_figure_names_what_takes_its_place(case: str) -> None:
    """The other figure is named; without it the uncast one is cast, as a second search confirms."""
    where, rule = SQUEEZED[case]
    entry = only_uncast(where)
    assert entry.rule == rule
    assert entry.competing == ({"A": "B", "B": "A"}[entry.figure],)
    assert entry.competing[0] in entry.reason
    assert (entry.rules, entry.proved) == ((rule,), True)
    assert not solved(without(where, entry.competing), depth=1).uncast


def crowd(seed: int) -> World:
    """Twelve figures in ten seconds for two players."""
    rng, made = Random(seed), list[Figure]()
    for number in range(12):
        start_s = round(rng.uniform(0.0, 10.0), 1)
        technique = rng.choice((BOW, Technique.STICK_BOW, Technique.FELT_HAMMER, PLUCK))
        made.append(figure(f"F{number:02}", technique, (rng.randint(22, 60),), start_s, start_s + 3.0))
    return world(*made)


@pytest.mark.parametrize("seed", range(5))
def test_in_a_crowd_those_who_compete_are_enough_and_needed(seed: int) -> None:
    """With the named figures taken away the uncast one fits beside all others that were cast as they were cast."""
    problem = question(crowd(seed))
    search = Search(problem=problem, seconds=2.0, depth=1)
    search.run()
    left = [task for task in problem.tasks if task.index not in search.best]
    assert left, "a crowd in which something is left out"
    for task in left:
        entry = why_uncast(problem, search.best, task)
        assert entry.competing
        names = {problem.tasks[index].work.id: index for index in search.best}
        rest = {
            index: choice
            for name, index in names.items()
            if name not in entry.competing
            for choice in [search.best[index]]
        }
        assert why_uncast(problem, rest, task).reason == "it was not tried in time", "it now fits"
        for name in entry.competing:
            back = {**rest, names[name]: search.best[names[name]]}
            assert why_uncast(problem, back, task).competing, f"{name} need not go"


def test_the_quickest_change_is_told() -> None:
    """From a string to a hammer for the same string: settling 0.2 s and picking up 1.0 s, wherever it was looked at."""
    where = world(one(PLUCK, 40), figure("B", Technique.FELT_HAMMER, (40,), 2.3, 4.0), players=toy_players(1))
    assert only_uncast(where).reason.startswith("the change needs at least 1.2 s and there are 0.3 s")


def test_a_bow_that_lives_elsewhere_counts_with_all_its_figures() -> None:
    """One bow, laid at one end of its string for three figures far apart; a fourth that has to lie elsewhere names
    all three."""
    early = [figure(f"F{number}", BOW, (30,), 60.0 * number, 60.0 * number + 2.0) for number in range(3)]
    late = figure("Z", BOW, (30,), 300.0, 302.0)
    problem = question(world(*early, late, players=toy_players(1)))
    whole, last = problem.tasks[0], problem.tasks[-1]
    lanes = len(whole.lanes)
    assert lanes > 1
    here = {
        index: Choice(player=0, place=place, lane=0)
        for index in range(3)
        for place in [next(p for p in whole.places if problem.allows(whole, 0, 0, p))]
    }
    narrowed = replace(last, lanes=last.lanes[1:])
    entry = why_uncast(replace(problem, tasks=(*problem.tasks[:-1], narrowed)), here, narrowed)
    assert entry.competing == ("F0", "F1", "F2")
    assert (entry.rules, entry.proved) == (("H6",), True)


def test_what_cannot_be_cast_alone_blames_nobody() -> None:
    """Hammers that rest out of everybody's reach: H6, and nothing competes."""
    problem = question(world(one(Technique.FELT_HAMMER, 40)))
    far = replace(problem, rest_mm=tuple(tuple(99999 for _ in row) for row in problem.rest_mm))
    entry = why_uncast(far, {}, far.tasks[0])
    assert (entry.rule, entry.competing, entry.rules, entry.proved) == ("H6", (), ("H6",), True)
    assert "even alone" in entry.reason


def test_what_was_not_proved_says_so() -> None:
    """Without work nothing is found; with too little for the proof the reason says that less may be in its way."""
    problem = question(world(one(BOW, 40), replace(one(BOW, 40), id="B")))
    search = Search(problem=problem, seconds=2.0, depth=1)
    search.run()
    (task,) = (task for task in problem.tasks if task.index not in search.best)
    assert "in the time allowed" in why_uncast(problem, search.best, task, effort=0.0).reason
    doubtful = why_uncast(problem, search.best, task, effort=1e-9)
    assert doubtful.competing
    assert not doubtful.proved
    assert "no time to prove" in doubtful.reason


def test_not_tried_keeps_a_rule_of_its_own() -> None:
    """A figure with a rule of its own says that rule, another that the search was stopped."""
    problem = question(world(one(BOW, 10), replace(one(BOW, 40), id="B", mute=Mute.NONE)))
    barred, open_ = problem.tasks
    assert (not_tried(barred).rule, not_tried(open_).rule) == ("H6", "H1")
    assert "stopped" in not_tried(open_).reason
