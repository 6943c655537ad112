"""The variables of a casting, or of a stretch of it, and the questions that the rules ask about them.

A task that is already decided takes part with its one choice, so that no rule needs a second form for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from rimside.casting.model import Model
from rimside.casting.problem import (
    FEET,
    HANDS,
    Assignment,
    Choice,
    Problem,
    Task,
    clearance_mm,
    gap_s,
    in_order,
    overlap,
)
from rimside.casting.scale import TIE_S


class Draft:
    """Literals by task index: `u` uncast, `x` player, `y` place, `v` lane, `w` implement.

    Parameters
    ----------
    problem : the whole question.
    free : indices of the tasks to decide.
    decided : choices of the tasks that stand (others that are neither free nor here are left out).
    must : indices of free tasks that may not stay uncast.
    offered : for some free tasks the one choice that is offered to them; they take it or stay uncast.
    two_hands : whether players have two hands and one foot only; no rule then takes for granted what H2 says.
    """

    def __init__(
        self,
        problem: Problem,
        free: Iterable[int],
        decided: Assignment | None = None,
        *,
        must: Iterable[int] = (),
        offered: Assignment | None = None,
        two_hands: bool = True,
    ) -> None:
        self.problem, self.model, self.two_hands = problem, Model(), two_hands
        self.free, self.decided, self.offered = frozenset(free), dict(decided or {}), dict(offered or {})
        self.tasks = [t for t in problem.tasks if t.index in self.free or t.index in self.decided]
        self.u: dict[int, int] = {}
        self.x: dict[int, dict[int, int]] = {}
        self.y: dict[int, dict[int, int]] = {}
        self.v: dict[int, dict[int, int]] = {}
        self.w: dict[int, dict[int, int]] = {}
        self._same: dict[tuple[int, int], int] = {}
        self._keep: dict[tuple[int, int], int] = {}
        self._broad: dict[tuple[int, float], int | None] = {}
        self._clear: dict[tuple[int, int, int, int], float] = {}
        needed = frozenset(must)
        for task in self.tasks:
            self._declare(task, task.index in needed)

    def _declare(self, task: Task, needed: bool) -> None:
        decided = self.decided.get(task.index) if task.index not in self.free else None
        choice = decided or self.offered.get(task.index)
        self.u[task.index] = uncast = self.model.boolean()
        families: list[tuple[dict[int, dict[int, int]], Iterable[int]]] = [
            (self.x, (choice.player,) if choice else task.players),
            (self.y, (choice.place,) if choice else task.places),
            (self.v, (choice.lane,) if choice else range(len(task.lanes))),
            (self.w, choice.implements if choice else task.implements),
        ]
        for family, candidates in families:
            family[task.index] = {candidate: self.model.boolean() for candidate in candidates}
            if decided:
                for literal in family[task.index].values():
                    self.model.fix(literal, 1)
        if decided or needed:
            self.model.fix(uncast, 0)
        elif task.barred is not None:
            self.model.fix(uncast, 1)

    @cached_property
    def _pairs(self) -> list[tuple[Task, Task]]:
        """Pairs within the horizon of which at least one is free, the earlier start first."""
        horizon, found = self.problem.horizon_s, []
        for number, later in enumerate(self.tasks):
            for earlier in self.tasks[:number]:
                if gap_s(earlier, later) < horizon and (earlier.index in self.free or later.index in self.free):
                    found.append((earlier, later))
        return found

    def units(self) -> Iterator[list[int]]:
        """The alternatives of each unit that take part here."""
        members: dict[int, list[int]] = {}
        for task in self.tasks:
            members.setdefault(task.unit, []).append(task.index)
        yield from members.values()

    def neighbours(self) -> Iterator[tuple[Task, Task]]:
        """Pairs near enough in time to hinder each other."""
        return iter(self._pairs)

    def overlapping(self) -> Iterator[tuple[Task, Task]]:
        """Pairs that sound together."""
        return ((a, b) for a, b in self._pairs if overlap(a, b))

    def in_sequence(self) -> Iterator[tuple[Task, Task]]:
        """Pairs that follow one another, within the horizon."""
        return ((a, b) for a, b in self._pairs if not overlap(a, b))

    def y_in(self, task: Task, places: Iterable[int]) -> list[int]:
        """Literals of a task's place being one of these."""
        mine = self.y[task.index]
        return [mine[place] for place in places if place in mine]

    def can_share_player(self, a: Task, b: Task) -> bool:
        """Whether any one player could have both."""
        if self.two_hands and overlap(a, b) and (a.hands + b.hands > HANDS or a.feet + b.feet > FEET):
            return False
        return not self.x[a.index].keys().isdisjoint(self.x[b.index])

    def same(self, a: Task, b: Task) -> int:
        """The literal that is true exactly when one player has both."""
        a, b = in_order(a, b)
        key = (a.index, b.index)
        if key not in self._same:
            self._same[key] = self._define_same(a, b)
        return self._same[key]

    def _define_same(self, a: Task, b: Task) -> int:
        model, mine, yours = self.model, self.x[a.index], self.x[b.index]
        same = model.boolean()
        for player, given in mine.items():
            if player in yours:
                model.clause([~given, ~yours[player], same])
                model.clause([~same, ~given, yours[player]])
            else:
                model.clause([~same, ~given])
        for player, given in yours.items():
            if player not in mine:
                model.clause([~same, ~given])
        model.clause([~same, ~self.u[a.index]])
        model.clause([~same, ~self.u[b.index]])
        return same

    def may_keep(self, earlier: Task, later: Task) -> bool:
        """Whether the implements of the one can simply be kept for the other."""
        if earlier.need == 0 or earlier.need != later.need:
            return False
        if earlier.bow_key is not None or later.bow_key is not None:
            return earlier.bow_key == later.bow_key and earlier.kind == later.kind
        shared = self.w[earlier.index].keys() & self.w[later.index].keys()
        return len(shared) >= earlier.need

    def keep(self, earlier: Task, later: Task) -> int:
        """The literal that, when true, means: one player has both, with the very same implements."""
        key = (earlier.index, later.index)
        if key not in self._keep:
            self._keep[key] = self._define_keep(earlier, later)
        return self._keep[key]

    def _define_keep(self, earlier: Task, later: Task) -> int:
        model = self.model
        keep = model.boolean()
        model.clause([~keep, self.same(earlier, later)])
        mine, yours = self.held(earlier), self.held(later)
        for one, other in ((mine, yours), (yours, mine)):
            for candidate, literal in one.items():
                model.clause([~keep, ~literal, *([other[candidate]] if candidate in other else [])])
        return keep

    def held(self, task: Task) -> dict[float, int]:
        """The literals that say which implement a task uses: a bow by where it lies, others by their number."""
        if task.bow_key is None:
            return {float(implement): literal for implement, literal in self.w[task.index].items()}
        return {task.lanes[lane].mark_mm: literal for lane, literal in self.v[task.index].items()}

    def unless(self, earlier: Task, later: Task, kept: bool) -> list[int]:
        """Literals that excuse a pair from a change: another player, or (for a full change) a kept implement."""
        excuse = [~self.same(earlier, later)]
        if not kept and self.may_keep(earlier, later):
            excuse.append(self.keep(earlier, later))
        return excuse

    def broader_than(self, task: Task, limit_mm: float) -> int | None:
        """The literal that is true when the task's player is broader than a limit; None when nobody is."""
        key = (task.index, limit_mm)
        if key not in self._broad:
            breadth = self.problem.breadth_mm
            broad = [given for player, given in self.x[task.index].items() if breadth[player] > limit_mm]
            self._broad[key] = self.model.any_of(broad) if broad else None
        return self._broad[key]

    def clearance_mm(self, a: Task, lane: int, b: Task, other: int) -> float:
        """Smallest distance between contacts of two lanes, mm, remembered."""
        key = (a.index, lane, b.index, other)
        if key not in self._clear:
            self._clear[key] = clearance_mm(a.lanes[lane], b.lanes[other])
        return self._clear[key]

    def assume(self, assignment: Assignment) -> None:
        """Hint the solver with an earlier answer for the free tasks."""
        for task in self.tasks:
            choice = assignment.get(task.index)
            self.model.hint[self.u[task.index]] = int(choice is None)
            self._hint(task, choice)

    def _hint(self, task: Task, choice: Choice | None) -> None:
        chosen: Mapping[int, frozenset[int]] = {
            0: frozenset({choice.player} if choice else ()),
            1: frozenset({choice.place} if choice else ()),
            2: frozenset({choice.lane} if choice else ()),
            3: frozenset(choice.implements if choice else ()),
        }
        for number, family in enumerate((self.x, self.y, self.v, self.w)):
            for candidate, literal in family[task.index].items():
                self.model.hint[literal] = int(candidate in chosen[number])

    def read(self, values: list[int]) -> dict[int, Choice]:
        """The choices that a solver's values mean, for all tasks of this draft."""
        answer: dict[int, Choice] = {}
        for task in self.tasks:
            if values[self.u[task.index]]:
                continue
            player, place, lane, taken = (
                tuple(candidate for candidate, literal in family[task.index].items() if values[literal])
                for family in (self.x, self.y, self.v, self.w)
            )
            answer[task.index] = Choice(player=player[0], place=place[0], lane=lane[0], implements=taken)
        return answer


def touching(problem: Problem, free: Iterable[int], assignment: Assignment) -> dict[int, Choice]:
    """The decided tasks that a draft of `free` needs: all near in time, and each player's nearest on both sides."""
    inside = frozenset(free)
    horizon_s = problem.horizon_s
    start = min(problem.tasks[i].start_s for i in inside) - horizon_s
    end = max(problem.tasks[i].end_s for i in inside) + horizon_s
    context: dict[int, Choice] = {}
    before: dict[int, int] = {}
    after: dict[int, int] = {}
    for task in problem.tasks:
        choice = assignment.get(task.index)
        if choice is None or task.index in inside:
            continue
        if task.end_s <= start - TIE_S:
            before[choice.player] = task.index
        elif task.start_s >= end + TIE_S:
            after.setdefault(choice.player, task.index)
        else:
            context[task.index] = choice
    laid, tied = _bows_laid(problem, inside, assignment), _tied(problem, inside, assignment)
    for index in (*before.values(), *after.values(), *laid, *tied):
        context[index] = assignment[index]
    return {**context, **_chained(problem, inside, assignment, context)}


def opened(problem: Problem, free: Iterable[int]) -> frozenset[int]:
    """Tasks that must be decided together with these: the alternatives of each unit, the chores that figures need."""
    inside = set(free)
    for need in problem.needs_of(inside):
        inside.update(index for way in need.ways for chore in way for index in problem.slots.get(chore, ()))
    return frozenset(index for unit in {problem.tasks[i].unit for i in inside} for index in problem.units[unit])


def _chained(
    problem: Problem, inside: frozenset[int], assignment: Assignment, context: Assignment
) -> dict[int, Choice]:
    """When hands are pinned: the decided tasks that overlap these, and those that overlap them, and so on.

    A pinned hand decides that of whatever overlaps it with the same player, all along the chain.
    """
    if not any(task.side for task in problem.tasks):
        return {}
    found, looked_at = dict(context), list(context)
    while looked_at:
        task = problem.tasks[looked_at.pop()]
        for index, choice in assignment.items():
            linked = choice.player == assignment[task.index].player and overlap(task, problem.tasks[index])
            if linked and index not in found and index not in inside:
                found[index] = choice
                looked_at.append(index)
    return found


def _tied(problem: Problem, inside: frozenset[int], assignment: Assignment) -> list[int]:
    """Decided figures that need the free chores, and decided chores that the free figures need."""
    found: list[int] = []
    for index, need in problem.needed:
        slots = [slot for way in need.ways for chore in way for slot in problem.slots.get(chore, ())]
        if index in inside or not inside.isdisjoint(slots):
            found += [i for i in (index, *slots) if i in assignment and i not in inside]
    return found


def _bows_laid(problem: Problem, inside: frozenset[int], assignment: Assignment) -> list[int]:
    """One decided task for each lane that a bow of the free tasks' pitches already has, wherever in the piece."""
    wanted = {problem.tasks[index].bow_key for index in inside} - {None}
    found: dict[tuple[int, float], int] = {}
    for index, choice in assignment.items():
        key = problem.tasks[index].bow_key
        if key is not None and key in wanted and index not in inside:
            found.setdefault((key, problem.tasks[index].lanes[choice.lane].mark_mm), index)
    return list(found.values())
