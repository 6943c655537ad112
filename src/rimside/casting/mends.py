"""What would let an uncast figure be played: single changes of the question, each confirmed by solving it again.

A mend changes one thing: a change is practised, the owner allows more, the kit or the ensemble grows, a technique is
swapped, a note is shortened. The question is then built anew from its inputs, and the figure has to be cast while
whatever was cast stays cast, by others and otherwise if need be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import floor
from typing import TypeVar

from rimside.casting import objective, pin
from rimside.casting.draft import Draft, opened, touching
from rimside.casting.explain import Purse, why_uncast
from rimside.casting.objective import kept
from rimside.casting.problem import Assignment, Choice, Problem, Task, gap_s, overlap
from rimside.casting.question import (
    Change,
    Question,
    Way,
    allowed,
    more_implements,
    more_people,
    other_techniques,
    shortened,
    with_change,
)
from rimside.casting.result import MEND_KINDS, Mend, Uncast
from rimside.casting.rules import MODEL_RULES
from rimside.casting.rules.h04_change import handling_s, need_s
from rimside.casting.scale import TIE_S
from rimside.errors import BadInput
from rimside.pitch import Key
from rimside.score.model import Figure

MENDED_AT_MOST = 12
"""Uncast figures for which mends are sought, the weightiest first; each costs some seconds."""
EFFORT = 4.0
"""Work for the mends of one figure, in the solver's deterministic units."""
WORK_PER_FIGURE, WORK_PER_KNOWN = 4e-4, 1e-4
"""What building the question anew costs for each of its figures, in the same units, and for one whose options are
known; measured on one core."""
AT_MOST = 5
"""Mends told of one figure."""
WIDTH = 12
"""Figures near in time that may be cast otherwise to make room."""
STEP_S = 0.1
"""Practice and shortening are told in steps of this."""
PAIRS_AT_MOST = 4
"""Changes looked at for one figure."""
PRACTISED_SHARE = 0.5
"""The most of a counted change that practice is trusted to take off. Our assumption."""
SHORTENED_SHARE = 0.5
"""The most of a note that is taken off."""
PRACTISE = "practise"
"""How a change begins that is none of the question: one change of the casting is made faster."""
NO_MEND = "no single change that mends it was found"
ONLY_LONGER = "the figures near it could make room; a longer search would find it"
NOT_SOUGHT = f"mends were sought for the {MENDED_AT_MOST} weightiest figures only"

AROUND = frozenset({"H8", "H9"})
"""Rules about what is done around the figures, which follows from them."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """A mend with the changed question and a casting of it that holds everything cast before and the figure too."""

    mend: Mend
    question: Question
    problem: Problem
    assignment: Assignment


def all_uncast(problem: Problem, assignment: Assignment, question: Question | None = None) -> tuple[Uncast, ...]:
    """Every uncast figure with its reason; with the question, the weightiest with what would mend them."""
    left = [task for task in problem.tasks if task.figure is not None and task.index not in assignment]
    rows = {task.index: why_uncast(problem, assignment, task) for task in left}
    if question is not None:
        for number, task in enumerate(sorted(left, key=lambda task: (-task.weight, task.index))):
            sought = number < MENDED_AT_MOST
            row = rows[task.index]
            rows[task.index] = with_mends(question, problem, assignment, task, row) if sought else _add(row, NOT_SOUGHT)
    return tuple(rows[task.index] for task in left)


def with_mends(
    question: Question, problem: Problem, assignment: Assignment, task: Task, row: Uncast, *, effort: float = EFFORT
) -> Uncast:
    """A reason with what would mend it; a reason without a mend says so. A pin is mended by whoever set it."""
    if row.rule == pin.RULE:
        return row
    case = _Case(question=question, problem=problem, assignment=assignment, task=task, purse=Purse(effort))
    if task.barred is None and case.room(problem) is not None:
        return _add(row, ONLY_LONGER)
    found = tuple(mended.mend for mended in case.mended(row.competing))
    return replace(row, mends=found) if found else _add(row, NO_MEND)


def _add(row: Uncast, words: str) -> Uncast:
    return replace(row, reason=f"{row.reason}; {words}")


def mends(
    question: Question,
    problem: Problem,
    assignment: Assignment,
    task: Task,
    *,
    competing: Iterable[str] = (),
    effort: float = EFFORT,
) -> tuple[Mended, ...]:
    """Up to five single changes that let an uncast figure be cast, those that touch the music least first.

    Parameters
    ----------
    competing : figures that compete with it, looked at first.
    effort : work allowed; the same work brings the same mends.
    """
    case = _Case(question=question, problem=problem, assignment=assignment, task=task, purse=Purse(effort))
    return tuple(case.mended(tuple(competing)))


def try_change(
    question: Question, problem: Problem, assignment: Assignment, task: Task, change: Change
) -> Mended | None:
    """The answer with one change made for an uncast figure, found as its mend was; None when there is no room for it.

    Parameters
    ----------
    change : as a `Mend` tells it.

    Raises
    ------
    BadInput : the question no longer has what is to be changed.
    """
    case = _Case(question=question, problem=problem, assignment=assignment, task=task, purse=Purse(EFFORT))
    changed, answer = question, None
    if change[:1] == (PRACTISE,):
        practised = _practised_as_told(problem, change)
        found = case.room(practised)
        answer = None if found is None else (practised, found)
    else:
        changed = with_change(question, change, problem.players)
        answer = case.ask(changed)
    if answer is None:
        return None
    return Mended(mend=Mend(kind="", text="", change=change), question=changed, problem=answer[0], assignment=answer[1])


def _practised_as_told(problem: Problem, change: Change) -> Problem:
    """The problem in which one change is made faster; BadInput when its figures are no longer there."""
    numbers = {task.work.id: task for task in problem.tasks if task.figure is not None}
    if len(change) != 4 or not {change[1], change[2]} <= numbers.keys():
        raise BadInput("this change cannot be made any more", value=" ".join(change), hint="cast again")
    return _practised_problem(problem, numbers[change[1]], numbers[change[2]], float(change[3]))


def _practised_problem(problem: Problem, earlier: Task, later: Task, saved_s: float) -> Problem:
    return replace(problem, saved_s={(earlier.index, later.index): saved_s})


@dataclass(frozen=True, kw_only=True)
class _Case:
    """One uncast figure and the casting that leaves it out."""

    question: Question
    problem: Problem
    assignment: Assignment
    task: Task
    purse: Purse

    @cached_property
    def known(self) -> dict[Figure, Task]:
        """The tasks of the figures as they are, but for those that pedals or mutes bar: these may come to be free."""
        tasks = (task for task in self.problem.tasks if task.barred is None or task.barred[0] not in AROUND)
        return {task.figure: task for task in tasks if task.figure is not None}

    @property
    def figure(self) -> Figure:
        """The uncast figure."""
        assert self.task.figure is not None
        return self.task.figure

    def mended(self, competing: tuple[str, ...]) -> list[Mended]:
        """The first confirmed mend of each kind, in the order in which they touch the music, until there are five."""
        ways: Mapping[str, Callable[[], Iterator[Mended]]] = {
            "practise": lambda: self._practised(competing),
            "permission": lambda: self._tried("permission", allowed(self.question, self.figure)),
            "implement": lambda: self._tried("implement", more_implements(self.question.kit, self.figure)),
            "player": lambda: self._tried("player", more_people(self.question, self.figure)),
            "technique": lambda: self._tried("technique", other_techniques(self.figure), _length_s(self.figure)),
            "shorten": lambda: self._shortened(competing),
        }
        found = [mended for kind in MEND_KINDS if (mended := next(ways[kind](), None)) is not None]
        return found[:AT_MOST]

    # Whether a changed question has room.

    def ask(self, changed: Question) -> tuple[Problem, Assignment] | None:
        """The changed problem and its casting, or None."""
        alike = changed.alike(self.question)
        self.purse.left -= (WORK_PER_KNOWN if alike else WORK_PER_FIGURE) * len(changed.figures)
        if self.purse.left <= 0.0:
            return None
        problem = changed.problem(self.known if alike else None)
        answer = self.room(problem)
        return None if answer is None else (problem, answer)

    def room(self, problem: Problem) -> Assignment | None:
        """A casting of a changed problem with the figure and all that was cast; as little as possible is moved."""
        index = next(task.index for task in problem.tasks if task.work.id == self.figure.id)
        if problem.tasks[index].barred is not None:
            return None
        standing, loose = _carried(self.problem, problem, self.assignment)
        if loose is None:
            return None
        for free in ({index, *loose}, {index, *loose, *_near(problem, index, standing)}):
            answer = self._cast(problem, free, standing)
            if answer is not None:
                return answer
        return None

    def _cast(self, problem: Problem, free: Iterable[int], standing: Assignment) -> Assignment | None:
        """Decide some tasks anew, all of which must be done."""
        inside = opened(problem, free)
        draft = Draft(problem, inside, touching(problem, inside, standing))
        for rule in MODEL_RULES:
            rule.add(draft)
        for unit in draft.units():
            if problem.tasks[unit[0]].weight:
                draft.model.clause(~draft.u[index] for index in unit)
        draft.assume(standing)
        outcome = self.purse.ask(draft.model)
        if not outcome.usable:
            return None
        rest = {index: choice for index, choice in standing.items() if index not in inside}
        answer = {**rest, **draft.read(list(outcome.values))}
        before = objective.uncast_weight(self.problem, self.assignment)
        return answer if objective.uncast_weight(problem, answer) <= before - self.task.weight else None

    # The ways to mend.

    def _tried(self, kind: str, ways: Iterable[Way], of_music: float = 0.0) -> Iterator[Mended]:
        for text, change in ways:
            changed = with_change(self.question, change, self.problem.players)
            answer = self.ask(changed)
            if answer is not None and self._no_more_bows(*answer):
                yield Mended(
                    mend=Mend(kind=kind, text=text, of_music=of_music, change=change),
                    question=changed,
                    problem=answer[0],
                    assignment=answer[1],
                )

    def _no_more_bows(self, problem: Problem, answer: Assignment) -> bool:
        """Whether no other pitch uses more bows than there were: a mend speaks of one."""
        held = {task.bow_key: task.bow_count for task in self.problem.tasks if task.bow_key is not None}
        laid: dict[Key, set[float]] = {}
        for index, choice in answer.items():
            task = problem.tasks[index]
            if task.bow_key is not None and task.bow_key not in self.figure.keys:
                laid.setdefault(task.bow_key, set()).add(task.lanes[choice.lane].mark_mm)
        return all(len(marks) <= held.get(key, 1) for key, marks in laid.items())

    def _practised(self, competing: tuple[str, ...]) -> Iterator[Mended]:
        """The smallest saving on one change before or after the figure."""
        if self.task.barred is not None:
            return
        found = (self._practised_pair(*pair) for pair in self._changes(competing))
        best = min((entry for entry in found if entry is not None), key=lambda entry: entry[0], default=None)
        if best is not None:
            yield best[1]

    def _changes(self, competing: tuple[str, ...]) -> list[tuple[Task, Task]]:
        """Changes between the figure and cast ones near it in time, those that compete first."""
        pairs = []
        for index in self.assignment:
            other = self.problem.tasks[index]
            earlier, later = (other, self.task) if other.end_s <= self.task.start_s + TIE_S else (self.task, other)
            gap = gap_s(earlier, later)
            if other.figure is None or overlap(other, self.task) or gap >= self.problem.horizon_s:
                continue
            pairs.append((other.work.id not in competing, gap, earlier, later))
        pairs.sort(key=lambda pair: (pair[0], pair[1], pair[2].index, pair[3].index))
        return [(earlier, later) for _, _, earlier, later in pairs[:PAIRS_AT_MOST]]

    def _practised_pair(self, earlier: Task, later: Task) -> tuple[int, Mended] | None:
        longest_s = max(max(row) for row in self.problem.walk_s)
        whole_s = self.problem.settle_s + longest_s + handling_s(earlier, later, False)

        def works(steps: int) -> tuple[Problem, Assignment] | None:
            problem = _practised_problem(self.problem, earlier, later, steps * STEP_S)
            answer = self.room(problem)
            return None if answer is None else (problem, answer)

        found = _least(floor(PRACTISED_SHARE * whole_s / STEP_S + TIE_S), works)
        if found is None:
            return None
        steps, (problem, answer) = found
        a, b = answer[earlier.index], answer[later.index]
        counted_s = need_s(self.problem, earlier, later, kept(earlier, later, a, b), a.place, b.place)
        in_time = counted_s <= gap_s(earlier, later) + TIE_S
        if a.player != b.player or in_time or steps * STEP_S > PRACTISED_SHARE * counted_s + TIE_S:
            return None
        text = (
            f"Practise the change from {earlier.work.id} to {later.work.id} down to "
            f"{_down(gap_s(earlier, later)):.1f} s (it is counted as {counted_s:.1f} s)"
        )
        change = (PRACTISE, earlier.work.id, later.work.id, f"{steps * STEP_S:.1f}")
        mend = Mend(kind="practise", text=text, change=change)
        return steps, Mended(mend=mend, question=self.question, problem=problem, assignment=answer)

    def _shortened(self, competing: tuple[str, ...]) -> Iterator[Mended]:
        """The least that the figure, or one that competes with it, must give at its end or start."""
        named = {figure.id: figure for figure in self.question.figures}
        best: tuple[int, Mended] | None = None
        for name in (self.figure.id, *competing):
            for at_end in (True, False):
                most = None if best is None else best[0] - 1
                best = self._cut(named[name], at_end, most) or best
        if best is not None:
            yield best[1]

    def _cut(self, figure: Figure, at_end: bool, most: int | None) -> tuple[int, Mended] | None:
        half = floor(SHORTENED_SHARE * (figure.end_s - figure.start_s) / STEP_S + TIE_S)
        most = half if most is None else min(half, most)
        while most > 0 and shortened(figure, most * STEP_S, at_end=at_end) is None:
            most -= 1

        def works(steps: int) -> tuple[Question, Problem, Assignment] | None:
            shorter = shortened(figure, steps * STEP_S, at_end=at_end)
            if shorter is None:
                return None
            changed = self.question.with_figure(shorter)
            answer = self.ask(changed)
            return None if answer is None else (changed, *answer)

        found = _least(most, works)
        if found is None:
            return None
        steps, (changed, problem, answer) = found
        where = "end it earlier" if at_end else "start it later"
        text = f"Shorten {figure.id} by {steps * STEP_S:.1f} s ({where})"
        change = ("shorten", figure.id, "end" if at_end else "start", f"{steps * STEP_S:.1f}")
        mend = Mend(kind="shorten", text=text, of_music=round(steps * STEP_S, 1), change=change)
        return steps, Mended(mend=mend, question=changed, problem=problem, assignment=answer)


def _least(most: int, works: Callable[[int], T | None]) -> tuple[int, T] | None:
    """The smallest whole number from 1 to `most` that works, found by halving, as if what works went on working."""
    found = works(most) if most > 0 else None
    if found is None:
        return None
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        better = works(middle)
        if better is None:
            low = middle
        else:
            found, high = better, middle
    return high, found


def _length_s(figure: Figure) -> float:
    return round(figure.end_s - figure.start_s, 1)


def _down(time_s: float) -> float:
    """Whole tenths of a second, never more than there are."""
    return max(0.0, floor(time_s / STEP_S + TIE_S) * STEP_S)


# What stays as it was.


def _carried(old: Problem, new: Problem, assignment: Assignment) -> tuple[dict[int, Choice], set[int] | None]:
    """The choices that the new problem still has, and the tasks whose choice it has not (None: a task is gone)."""
    number = {(task.work.id, _slot(task)): task.index for task in new.tasks}
    rests = {(i.kind, i.rest_x_mm, i.rest_y_mm): n for n, i in enumerate(new.implements)}
    tools = {n: rests.get((i.kind, i.rest_x_mm, i.rest_y_mm)) for n, i in enumerate(old.implements)}
    standing: dict[int, Choice] = {}
    loose: set[int] = set()
    for index, choice in assignment.items():
        task = old.tasks[index]
        place = number.get((task.work.id, _slot(task)))
        if place is None or new.tasks[place].barred is not None:
            return {}, None
        same = _same_choice(new, new.tasks[place], task, choice, tools)
        if same is None:
            loose.add(place)
        else:
            standing[place] = same
    return standing, loose


def _slot(task: Task) -> float | None:
    """A chore is told from its other moments by when it starts."""
    return None if task.figure is not None else task.start_s


def _same_choice(
    problem: Problem, task: Task, before: Task, choice: Choice, tools: Mapping[int, int | None]
) -> Choice | None:
    if (task.start_s, task.end_s) != (before.start_s, before.end_s):
        return None  # what sounded together may now come one after the other, which asks for a change
    laid = before.lanes[choice.lane].contacts
    lane = next((number for number, lane in enumerate(task.lanes) if lane.contacts == laid), None)
    taken = tuple(sorted(tool for number in choice.implements if (tool := tools[number]) is not None))
    if lane is None or len(taken) < len(choice.implements) or not set(taken) <= set(task.implements):
        return None
    if choice.player not in task.players or not problem.allows(task, choice.player, lane, choice.place):
        return None
    return replace(choice, lane=lane, implements=taken)


def _near(problem: Problem, index: int, standing: Assignment) -> set[int]:
    """The cast figures nearest in time, and all that use the same bows: a bow lives at one place."""
    task = problem.tasks[index]
    figures = [i for i in standing if problem.tasks[i].figure is not None]
    middle_s = (task.start_s + task.end_s) / 2.0

    def away(other: Task) -> tuple[float, float, int]:
        lies_apart = max(0.0, other.start_s - task.end_s, task.start_s - other.end_s)
        return lies_apart, abs((other.start_s + other.end_s) / 2.0 - middle_s), other.index

    near = sorted(figures, key=lambda i: away(problem.tasks[i]))[:WIDTH]
    bows = {problem.tasks[i].bow_key for i in (index, *near)} - {None}
    return {*near, *(i for i in figures if problem.tasks[i].bow_key in bows)}
