"""What of an assignment can go when figures have gone: chores that nobody needs any more."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice, pairwise

from rimside.casting.chore import Muting
from rimside.casting.problem import Assignment, Choice, Problem


def tidied(problem: Problem, assignment: Assignment) -> dict[int, Choice]:
    """The same without chores that no figure of it needs; mutes lie for all of its figures as before."""
    needs = (need for index, need in problem.needed if index in assignment)
    wanted = {slot for need in needs for slot in problem.slots_of(need.chores)}
    for muting in problem.mutings:
        wanted |= set(_kept(problem, muting, assignment))
    tasks = problem.tasks
    return {
        index: choice
        for index, choice in assignment.items()
        if tasks[index].figure is not None or tasks[index].weight or index in wanted
    }


def _kept(problem: Problem, muting: Muting, assignment: Assignment) -> Iterator[int]:
    """Between two played runs of which one is muted and one is not, the last change that leads to the second."""
    played = [n for n, run in enumerate(muting.runs) if any(problem.numbers[name] in assignment for name in run)]
    for earlier, later in pairwise(played):
        if muting.muted_in(earlier) != muting.muted_in(later):
            leading = (muting.chores[n] for n in range(later - 1, earlier - 1, -2))
            done = (slot for chore in leading for slot in problem.slots[chore] if slot in assignment)
            yield from islice(done, 1)
