"""The search: the same question brings the same casting, and stopping keeps what is there."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest

from rimside import flow
from rimside.casting import objective, search
from rimside.casting.part import decide
from rimside.casting.result import Casting
from rimside.casting.result_json import to_json
from rimside.casting.search import Search
from rimside.casting.verify import verify
from rimside.errors import Interrupted
from rimside.score.model import Figure, Technique
from tests.amounts import seeds
from tests.casting.judging import world
from tests.casting.solving import question, solved
from tests.casting.worlds import World, figure, toy_players

MANY = (Technique.LINE_BOW, Technique.STICK_BOW, Technique.FELT_HAMMER, Technique.FINGER_PLUCK)


def crowded(seed: int, count: int, players: int = 2, length_s: float = 20.0) -> World:
    """More figures than the players can hold, drawn from a seed."""
    rng, made = Random(seed), list[Figure]()
    for number in range(count):
        start_s, technique = round(rng.uniform(0.0, length_s), 1), rng.choice(MANY)
        end_s = start_s + rng.choice((1.5, 3.0))
        made.append(figure(f"F{number:02}", technique, (rng.randint(22, 60),), start_s, end_s, motif=rng.choice("abc")))
    return world(*made, players=toy_players(players))


def written(casting: Casting) -> str:
    """The file of a casting, but for the seconds it took."""
    return str(to_json(replace(casting, seconds=0.0)))


@pytest.mark.parametrize("seed", [0, pytest.param(7, marks=pytest.mark.soak)])
def test_the_same_question_and_seed_bring_the_same_casting(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice the same, to the letter of the file, as long as the guard against slow machines does not step in."""
    monkeypatch.setattr(search, "HARD_LIMIT", 1000.0)
    problem = question(crowded(1, 10, length_s=8.0))
    first, second = (flow.cast(problem, flow.UNASSIGNED, seconds=2.0, seed=seed) for _ in range(2))
    assert first.uncast, "a question with something to decide"
    assert written(first) == written(second)


def test_the_same_when_work_runs_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also when the work that the seconds buy ends the search, it ends at the same casting."""
    monkeypatch.setattr(search, "HARD_LIMIT", 1000.0)
    problem = question(crowded(2, 24, players=3))
    first, second = (flow.cast(problem, flow.UNASSIGNED, seconds=1.0, depth=3) for _ in range(2))
    assert written(first) == written(second)


def interrupted_after(calls: int, where: World, monkeypatch: pytest.MonkeyPatch) -> Casting:
    """What is kept of a search that Ctrl-C stops at its n-th part."""
    seen: list[int] = []

    def stopping(*question: Any, **how: Any) -> Any:
        seen.append(1)
        if len(seen) > calls:
            raise KeyboardInterrupt
        return decide(*question, **how)

    monkeypatch.setattr(search, "decide", stopping)
    with pytest.raises(Interrupted) as stopped:
        flow.cast(question(where), flow.UNASSIGNED, seconds=6.0)
    assert isinstance(stopped.value.best, Casting)
    return stopped.value.best


@pytest.mark.parametrize("calls", [0, 1, 2, 4, 6])
def test_a_stopped_search_keeps_a_correct_casting(calls: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped at any part, what is kept breaks no rule, and every figure is cast or listed."""
    where = crowded(3, 40, players=3, length_s=60.0)
    best = interrupted_after(calls, where, monkeypatch)
    assert verify(best, where.piano, where.players, where.kit) == ()
    assert bool(best.cast) is (calls > 0)
    assert len(best.cast) + len(best.uncast) == 40


def test_figures_that_a_stopped_search_leaves_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was never tried is told apart from what nobody can play."""
    wound = figure("W", Technique.LINE_BOW, (10,), 0.0, 2.0)
    best = interrupted_after(0, world(wound, figure("A", Technique.LINE_BOW, (40,), 0.0, 2.0)), monkeypatch)
    assert {entry.figure: entry.rule for entry in best.uncast} == {"W": "H6", "A": "H1"}


@pytest.mark.parametrize("seed", seeds(2, 4))
def test_bounds_are_never_above_values(seed: int) -> None:
    """Each level's bound is at most its value, and the values are what the objective counts."""
    problem = question(crowded(seed, 12))
    found = Search(problem=problem, seconds=1.5)
    found.run()
    proofs = found.proofs()
    assert tuple(proof.value for proof in proofs) == objective.count(problem, found.best)
    assert all(0 <= proof.bound <= proof.value for proof in proofs)


@pytest.mark.parametrize("seed", seeds(2, 4))
def test_deeper_levels_never_cost_upper_ones(seed: int) -> None:
    """Working on all levels leaves coverage and risk no worse than working on fewer."""
    where = crowded(seed, 8)
    shallow, deep = (solved(where, 3.0, depth=depth) for depth in (1, 6))
    assert [proof.value for proof in deep.proof] <= [proof.value for proof in shallow.proof]
    assert deep.proof[0] == shallow.proof[0]


def test_more_figures_than_a_stretch_are_all_looked_at() -> None:
    """Sixty easy figures one after the other are all cast, across the seams of the stretches."""
    figures = [figure(f"F{n:02}", Technique.FINGER_PLUCK, (30 + n % 20,), 6.0 * n, 6.0 * n + 1.0) for n in range(60)]
    casting = solved(world(*figures), 6.0, depth=1)
    assert (casting.proof[0].value, casting.proof[0].bound) == (0, 0)


def test_progress_is_told_in_shares() -> None:
    """A listener hears of casting and of the levels, each share between 0 and 1."""
    heard: list[tuple[str, float]] = []
    flow.cast(question(crowded(1, 8)), flow.UNASSIGNED, seconds=2.0, progress=lambda *news: heard.append(news))
    assert heard[0][0] == "casting"
    assert all(0.0 <= share <= 1.0 for _, share in heard)


def test_nothing_to_cast_is_an_empty_casting() -> None:
    """A piece without figures is cast at once, and all of it proved."""
    casting = solved(world())
    assert casting.cast == () == casting.uncast
    assert all(proof.proved and proof.value == 0 for proof in casting.proof)
