"""A mend made: the casting as it would be with it, found by the solving that found the mend."""

from __future__ import annotations

import time
from dataclasses import replace

from rimside.casting import objective
from rimside.casting.assemble import assemble
from rimside.casting.explain import not_tried
from rimside.casting.mends import Mended, try_change
from rimside.casting.question import Change, Question
from rimside.casting.result import Casting, Proof, Uncast
from rimside.casting.standing import hands_from, standing_from
from rimside.casting.tidy import tidied
from rimside.errors import BadInput


def retry(question: Question, casting: Casting, figure: str, change: Change) -> tuple[Mended, Casting]:
    """The casting with one change made for an uncast figure; whatever was cast stays cast.

    Nothing is laid out around the piece yet, and nothing is proved of the levels: another search may do better.

    Parameters
    ----------
    casting : an answer to `question`.
    figure : the id of the uncast figure.
    change : as a `Mend` tells it.

    Raises
    ------
    BadInput : the figure is not uncast here, or there is no room for it with this change any more.
    """
    started_s = time.monotonic()
    problem = question.problem()
    standing = standing_from(casting, problem)
    task = next((task for task in problem.tasks if task.work.id == figure and task.index not in standing), None)
    if task is None:
        raise BadInput("this figure is not left out", where="mend", value=figure, hint="look at the casting again")
    found = try_change(question, problem, standing, task, change)
    if found is None:
        raise BadInput(
            "with this alone there is no longer room for it", where="mend", value=figure, hint="cast again, then look"
        )
    assignment = tidied(found.problem, found.assignment)
    counted = zip(objective.named(found.problem), objective.count(found.problem, assignment), strict=True)
    proof = tuple(Proof(level=name, value=value, bound=0) for name, value in counted)
    whole = assemble(
        found.problem, assignment, proof, casting.pedals, 0.0, explain=False, before=hands_from(casting, found.problem)
    )
    said = {row.figure: row for row in casting.uncast}
    left = (task for task in found.problem.tasks if task.figure is not None and task.index not in assignment)
    uncast: tuple[Uncast, ...] = tuple(said.get(task.work.id) or not_tried(task) for task in left)
    spent_s = round(time.monotonic() - started_s, 3)
    return found, replace(whole, uncast=uncast, like=casting.like, seconds=spent_s)
