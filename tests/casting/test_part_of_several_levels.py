"""A part decided for several levels at once claims no more of the first than is proved."""

from __future__ import annotations

from dataclasses import replace

from rimside.casting import objective
from rimside.casting.part import decide
from rimside.casting.problem import Choice
from rimside.score.model import Technique
from tests.casting.solving import question
from tests.casting.worlds import World, figure, held, toy_kit, toy_piano, toy_players


def two_bows() -> World:
    """Two line bows one after the other that one player can play with ease."""
    figures = (
        figure("a", Technique.LINE_BOW, (36,), 0.0, 3.0),
        figure("b", Technique.LINE_BOW, (43,), 12.0, 15.0),
    )
    return World(piano=toy_piano(), players=toy_players(1), kit=toy_kit(), figures=figures, pedals=held())


def test_a_change_from_what_stands_is_no_uncast_figure() -> None:
    """All can be cast, but not as it stands: the least uncast weight is 0, whatever the fewest changes are."""
    problem = question(two_bows())
    first = problem.tasks[0]
    far = next(q for q in range(len(problem.piano.places)) if q not in first.places)
    impossible = {0: Choice(player=0, place=far, lane=0)}
    part = decide(problem, [0, 1], (objective.UNCAST, objective.STAY), impossible, effort=5.0, seconds=20.0, alone=True)
    assert set(part.answer) == {0, 1}
    assert part.closed
    assert part.bound == 0


def test_the_bound_of_the_first_level_is_what_it_costs() -> None:
    """With the second figure too near for anyone to change, one stays uncast, and that is the bound."""
    world = two_bows()
    near = (world.figures[0], replace(world.figures[1], start_s=3.2, end_s=6.2))
    problem = question(replace(world, figures=near))
    part = decide(problem, [0, 1], (objective.UNCAST, objective.RISK), {}, effort=5.0, seconds=20.0, alone=True)
    assert part.closed
    assert (len(part.answer), part.bound) == (1, 1)
