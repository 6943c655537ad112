"""A mend made: the casting as it would be with it, found by the solving that found the mend."""

from __future__ import annotations

from dataclasses import replace

from rimside.casting import objective
from rimside.casting.assemble import assemble
from rimside.casting.mends import Mended, try_change
from rimside.casting.problem import Assignment, Problem
from rimside.casting.question import Change, Question
from rimside.casting.repin import Repinned, repin
from rimside.casting.result import Casting, Proof
from rimside.casting.standing import hands_from, standing_from
from rimside.casting.tidy import tidied
from rimside.errors import BadInput


def retry(question: Question, casting: Casting, figure: str, change: Change) -> tuple[Mended, tuple[Casting, ...]]:
    """The castings with one change made for an uncast figure, the calmest first; whatever was cast stays cast.

    The last is the one that the mend was found by; before it may stand one that moves less. That one has not been asked
    whether all that it leaves as it was still goes together with the change: the judge tells. Nothing is laid out
    around the piece yet, and nothing is proved of the levels: another search may do better.

    Parameters
    ----------
    casting : an answer to `question`.
    figure : the id of the uncast figure.
    change : as a `Mend` tells it.

    Raises
    ------
    BadInput : the figure is not uncast here, or there is no room for it with this change any more.
    """
    problem = question.problem()
    standing = standing_from(casting, problem)
    task = next((task for task in problem.tasks if task.work.id == figure and task.index not in standing), None)
    if task is None:
        raise BadInput("this figure is not left out", where="mend", value=figure, hint="look at the casting again")
    found = try_change(question, problem, standing, task, change)
    if found is None:
        hint = "cast again, then look"
        raise BadInput("with this alone there is no longer room for it", where="mend", value=figure, hint=hint)
    calm = _calm(found, casting, {figure, *change[1:]})
    plain = _told(found.problem, tidied(found.problem, found.assignment), casting)
    return found, (plain,) if calm is None else (_told(calm.problem, calm.assignment, casting), plain)


def _calm(found: Mended, casting: Casting, named: set[str]) -> Repinned | None:
    """An answer that casts as much and keeps what stands, but for the named figures and what is in their way."""
    problem = found.problem
    again = [task.index for task in problem.tasks if task.work.id in named]
    calm = repin(problem, standing_from(casting, problem), again, hands=hands_from(casting, problem))
    least = objective.uncast_weight(problem, found.assignment)
    return calm if objective.uncast_weight(problem, calm.assignment) <= least else None


def _told(problem: Problem, assignment: Assignment, casting: Casting) -> Casting:
    """The casting of an answer; what is still left out is so for the reasons that were told before."""
    counted = zip(objective.named(problem), objective.count(problem, assignment), strict=True)
    proof = tuple(Proof(level=name, value=value, bound=0) for name, value in counted)
    before = hands_from(casting, problem)
    whole = assemble(problem, assignment, proof, casting.pedals, 0.0, explain=False, before=before)
    said = {row.figure: row for row in casting.uncast}
    return replace(whole, uncast=tuple(said.get(row.figure, row) for row in whole.uncast), like=casting.like)
