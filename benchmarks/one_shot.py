"""The textbook model that the benchmarks run beside ours: one 0/1 variable for each figure, player and place.

It obeys the same rules and decides coverage in a single CP-SAT model of the whole piece, without decomposition.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, field
from itertools import product

from rimside.casting.model import Model
from rimside.casting.problem import HANDS, Choice, Problem, Task, clearance_mm, gap_s, in_order, overlap
from rimside.casting.rules.h02_hands import sounding_at_start
from rimside.casting.rules.h04_change import need_s
from rimside.casting.rules.h05_room import stand_together, too_close
from rimside.casting.rules.h07_clear import share_string
from rimside.casting.scale import TIE_MM, fits
from rimside.casting.solve import Outcome, solve
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM


@dataclass(slots=True)
class OneShot:
    """The model while it is written: `z` by task, then (player, place); lanes, implements and uncast as usual."""

    problem: Problem
    model: Model = field(default_factory=Model)
    u: dict[int, int] = field(default_factory=dict)
    z: dict[int, dict[tuple[int, int], int]] = field(default_factory=dict)
    x: dict[int, dict[int, int]] = field(default_factory=dict)
    v: dict[int, dict[int, int]] = field(default_factory=dict)
    w: dict[int, dict[int, int]] = field(default_factory=dict)

    def write(self) -> None:
        """All variables and rules, and the weight of what is uncast as objective."""
        open_tasks = [task for task in self.problem.tasks if task.barred is None]
        for task in open_tasks:
            self._one(task)
        for task in open_tasks:
            self._capacity(task, open_tasks)
        for number, b in enumerate(open_tasks):
            for a in open_tasks[:number]:
                if gap_s(a, b) < self.problem.horizon_s:
                    self._pair(*in_order(a, b))
        self._bows(open_tasks)
        self.model.objective = [(task.weight, self.u[task.index]) for task in open_tasks]

    def _one(self, task: Task) -> None:
        model, problem, i = self.model, self.problem, task.index
        self.u[i] = model.boolean()
        self.v[i] = {lane: model.boolean() for lane in range(len(task.lanes))}
        self.w[i] = {implement: model.boolean() for implement in task.implements}
        self.x[i] = {player: model.boolean() for player in task.players}
        self.z[i] = {}
        for player, place in product(task.players, task.places):
            lanes = [lane for lane in self.v[i] if problem.allows(task, player, lane, place)]
            if not lanes:
                continue
            self.z[i][player, place] = z = model.boolean()
            model.clause([~z, *(self.v[i][lane] for lane in lanes)])
            for implement, w in self.w[i].items():
                if problem.rest_mm[implement][place] > problem.full_mm[player]:
                    model.clause([~z, ~w])
        model.equal([*((1, z) for z in self.z[i].values()), (1, self.u[i])], 1)
        model.equal([*((1, v) for v in self.v[i].values()), (1, self.u[i])], 1)
        if self.w[i]:
            model.equal([*((1, w) for w in self.w[i].values()), (task.need, self.u[i])], task.need)
        for player, x in self.x[i].items():
            model.equal([*((1, z) for (p, _), z in self.z[i].items() if p == player), (-1, x)], 0)

    def _capacity(self, task: Task, tasks: list[Task]) -> None:
        together = sounding_at_start(task, tasks)
        for player in range(len(self.problem.players)):
            terms = [(t.hands, self.x[t.index][player]) for t in together if player in self.x[t.index]]
            if sum(hands for hands, _ in terms) > HANDS:
                self.model.at_most(terms, HANDS)

    def _pair(self, a: Task, b: Task) -> None:
        if overlap(a, b):
            if share_string(a, b):
                self.model.clause([self.u[a.index], self.u[b.index]])
            self._lanes(a, b)
        else:
            self._change(a, b)
        self._room(a, b)
        self._tools(a, b)

    def _room(self, a: Task, b: Task) -> None:
        together, problem = stand_together(a, b, self.problem.settle_s), self.problem
        for ((player, place), z), ((other, there), y) in product(self.z[a.index].items(), self.z[b.index].items()):
            if player == other:
                if overlap(a, b) and place != there:
                    self.model.clause([~z, ~y])
            elif together and too_close(problem, player, other, place, there):
                self.model.clause([~z, ~y])

    def _change(self, a: Task, b: Task) -> None:
        problem, gap, keep = self.problem, gap_s(a, b), self._keep(a, b)
        for (player, place), z in self.z[a.index].items():
            for (other, there), y in self.z[b.index].items():
                if player != other or fits(gap, need_s(problem, a, b, False, place, there)):
                    continue
                saved = keep is not None and fits(gap, need_s(problem, a, b, True, place, there))
                self.model.clause([~z, ~y, *([keep] if saved and keep is not None else [])])

    def _keep(self, a: Task, b: Task) -> int | None:
        if not a.need or a.need != b.need or a.kind != b.kind or a.bow_key != b.bow_key:
            return None
        keep = self.model.boolean()
        if a.bow_key is not None:
            mine = {a.lanes[lane].mark_mm: v for lane, v in self.v[a.index].items()}
            yours = {b.lanes[lane].mark_mm: v for lane, v in self.v[b.index].items()}
        else:
            mine, yours = ({float(i): w for i, w in self.w[t.index].items()} for t in (a, b))
        for one, other in ((mine, yours), (yours, mine)):
            for mark, literal in one.items():
                self.model.clause([~keep, ~literal, *([other[mark]] if mark in other else [])])
        return keep

    def _unless_same(self, a: Task, b: Task, literals: list[int]) -> None:
        for player, x in self.x[a.index].items():
            mine = self.x[b.index].get(player)
            self.model.clause([*literals, ~x, *([mine] if mine is not None else [])])

    def _lanes(self, a: Task, b: Task) -> None:
        for (lane, v), (other, y) in product(self.v[a.index].items(), self.v[b.index].items()):
            clear = clearance_mm(a.lanes[lane], b.lanes[other])
            if clear < OWN_HANDS_CLEARANCE_MM - TIE_MM:
                self.model.clause([~v, ~y])
            elif clear < HAND_CLEARANCE_MM - TIE_MM:
                self._unless_same(a, b, [~v, ~y])

    def _tools(self, a: Task, b: Task) -> None:
        if not overlap(a, b) and fits(gap_s(a, b), a.put_s + b.pick_s):
            return
        pairs = [
            [~self.w[a.index][implement], ~self.w[b.index][implement]]
            for implement in sorted(self.w[a.index].keys() & self.w[b.index].keys())
        ]
        if a.bow_key is not None and a.bow_key == b.bow_key:
            pairs += [
                [~v, ~y]
                for (lane, v), (other, y) in product(self.v[a.index].items(), self.v[b.index].items())
                if a.lanes[lane].mark_mm == b.lanes[other].mark_mm
            ]
        for pair in pairs:
            if overlap(a, b):
                self.model.clause(pair)
            else:
                self._unless_same(a, b, pair)

    def _bows(self, tasks: list[Task]) -> None:
        for key in sorted({t.bow_key for t in tasks if t.bow_key is not None}):
            mine = [t for t in tasks if t.bow_key == key]
            marks = sorted({lane.mark_mm for t in mine for lane in t.lanes})
            if len(marks) > mine[0].bow_count:
                used = [
                    self.model.any_of(v for t in mine for n, v in self.v[t.index].items() if t.lanes[n].mark_mm == mark)
                    for mark in marks
                ]
                self.model.at_most([(1, literal) for literal in used], mine[0].bow_count)

    def read(self, outcome: Outcome) -> dict[int, Choice]:
        """The assignment that the solver's values mean."""
        values, answer = outcome.values, {}
        for i, options in self.z.items():
            for (player, place), z in options.items():
                if values[z]:
                    lane = next(lane for lane, v in self.v[i].items() if values[v])
                    taken = tuple(n for n, w in self.w[i].items() if values[w])
                    answer[i] = Choice(player=player, place=place, lane=lane, implements=taken)
        return answer


def solve_one_shot(problem: Problem, *, seconds: float, seed: int = 0) -> tuple[dict[int, Choice], Outcome]:
    """Write and solve the textbook model, both in `seconds`; the assignment is empty when none was found in time."""
    started = time.perf_counter()
    shot = OneShot(problem)
    shot.write()
    seconds -= time.perf_counter() - started
    outcome = solve(shot.model, effort=math.inf, seconds=seconds, seed=seed, by_core=False, workers=2)
    return (shot.read(outcome) if outcome.usable else {}), outcome
