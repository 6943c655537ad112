"""What the tests of the solver share: a world cast and judged in one call."""

from __future__ import annotations

from collections.abc import Sequence

from rimside import flow
from rimside.casting.chores import mute_chores
from rimside.casting.options import build_problem
from rimside.casting.problem import Problem
from rimside.casting.result import Casting
from rimside.casting.verify import verify
from rimside.piano.dampers import usable_pedals
from tests.casting.worlds import World


def question(world: World) -> Problem:
    """The problem that a world puts, with the chores of its mutes."""
    pedals, muting = usable_pedals(world.piano, world.pedals), mute_chores(world.figures, world.kit)
    return build_problem(
        world.figures,
        world.piano,
        world.players,
        world.kit,
        pedals,
        chores=muting.chores,
        needs=muting.needs,
        conflicts=muting.conflicts,
    )


def solved(world: World, seconds: float = 3.0, depth: int = 6) -> Casting:
    """A casting of the world, made better at the first `depth` levels; the judge finds nothing wrong with it."""
    muting = mute_chores(world.figures, world.kit)
    casting = flow.cast(question(world), flow.UNASSIGNED, seconds=seconds, depth=depth, muting=muting)
    breaches = verify(casting, world.piano, world.players, world.kit)
    assert not breaches, [breach.message for breach in breaches]
    return casting


def level(casting: Casting, number: int) -> tuple[int, int]:
    """Value and bound of a level, 1 to 6."""
    proof = casting.proof[number - 1]
    return proof.value, proof.bound


def uncast_rules(casting: Casting) -> Sequence[tuple[str, str]]:
    """(figure, rule) of all that is uncast."""
    return [(entry.figure, entry.rule) for entry in casting.uncast]
