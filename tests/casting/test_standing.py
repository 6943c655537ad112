"""A casting read back: what it decides comes out as the very choices that made it, and what is not there stays open."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings

from rimside.casting.assemble import assemble
from rimside.casting.chore import Chore, ChoreKind
from rimside.casting.problem import Problem
from rimside.casting.result import CastChore, Casting
from rimside.casting.search import Search
from rimside.casting.standing import hands_from, standing_from
from rimside.score.model import Technique
from tests.casting.solving import question
from tests.casting.strategies import small_worlds
from tests.casting.worlds import World, figure, held, toy_kit, toy_piano, toy_players
from tests.outside.test_casting_random import RANDOM


def searched(world: World) -> tuple[Problem, Search, Casting]:
    """A world's problem, the search that cast it for coverage, and the casting."""
    problem = question(world)
    search = Search(problem=problem, seconds=1.0, depth=1)
    search.run()
    return problem, search, assemble(problem, search.best, search.proofs(), (), 0.0, explain=False)


def small() -> World:
    """Two hammers, one line bow, two players."""
    figures = (
        figure("a", Technique.FELT_HAMMER, [30], 0.0, 4.0),
        figure("b", Technique.LINE_BOW, [45], 2.0, 8.0),
        figure("c", Technique.FELT_HAMMER, [60], 9.0, 12.0),
    )
    return World(piano=toy_piano(), players=toy_players(2), kit=toy_kit(), figures=figures, pedals=held())


@pytest.mark.filterwarnings("ignore:Generating overly large repr")
@given(small_worlds())
@settings(RANDOM, max_examples=40)
def test_a_casting_read_back_is_what_it_was_made_of(world: World) -> None:
    """40 random questions: the choices after writing and reading are the choices before."""
    problem, search, casting = searched(world)
    assert standing_from(casting, problem) == search.best
    assert {problem.tasks[i].work.id: hands for i, hands in hands_from(casting, problem).items()} == {
        **{row.figure: row.hands for row in casting.cast if row.hands},
        **{chore.id: chore.hands for chore in casting.chores if chore.hands},
    }


def test_what_this_problem_does_not_have_is_left_open() -> None:
    """A player who is gone, a contact that lies elsewhere, an implement that is unknown: that figure is open."""
    problem, search, casting = searched(small())
    assert len(search.best) == 3
    rows = {row.figure: row for row in casting.cast}
    moved = tuple(replace(contact, x_mm=contact.x_mm + 50.0) for contact in rows["b"].contacts)
    changes = {"a": {"player": "nobody"}, "b": {"contacts": moved}, "c": {"implements": ("hammer 99",)}}
    for name, change in changes.items():
        cast = tuple(replace(row, **change) if row.figure == name else row for row in casting.cast)  # type: ignore[arg-type]
        left = {problem.tasks[index].work.id for index in standing_from(replace(casting, cast=cast), problem)}
        assert left == {"a", "b", "c"} - {name}


def test_a_place_out_of_reach_is_left_open() -> None:
    """A figure whose player has a shorter arm in this problem than in the casting is open."""
    world = small()
    _, _, casting = searched(world)
    short = replace(world, players=tuple(replace(p, measured_reach_mm=(200.0, 200.0)) for p in world.players))
    assert standing_from(casting, question(short)) == {}


def test_a_chore_comes_back_at_its_nearest_slot() -> None:
    """Of a chore's slots the one that begins nearest to the row is meant."""
    problem, _, casting = searched(small())
    first = problem.tasks[0]
    slots = tuple(replace(first, index=3 + n, unit=3, work=_chore(), start_s=20.0 + n, end_s=20.5 + n) for n in (0, 1))
    more = replace(problem, tasks=(*problem.tasks, *slots))
    row = casting.cast[0]
    done = CastChore(
        id="lay",
        kind="lay mute",
        start_s=20.9,
        end_s=21.4,
        player=row.player,
        place=row.place,
        hands=row.hands,
        target="A4",
        implements=row.implements,
        contacts=row.contacts,
    )
    assert row.figure == "a"
    assert 4 in standing_from(replace(casting, chores=(done,)), more)
    assert 3 not in standing_from(replace(casting, chores=(done,)), more)
    undone = replace(done, player=None, place=None, reason="nobody is free")
    assert standing_from(replace(casting, chores=(undone,)), more).keys() == {0, 1, 2}


def _chore() -> Chore:
    return Chore(id="lay", kind=ChoreKind.LAY, target="A4", earliest_s=20.0, latest_s=22.0, length_s=0.5)
