"""How a casting is found: stretch by stretch, then mended, then made better level by level; every bound is kept.

The search is paid in work, the solver's deterministic unit, not in time, so that the same question and seed bring the
same casting. A wall-clock limit at twice the time asked for only guards against a slow machine.
"""

from __future__ import annotations

import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from rimside.casting import objective, refit
from rimside.casting.draft import opened
from rimside.casting.part import Part, decide, only
from rimside.casting.problem import Assignment, Choice, Problem
from rimside.casting.result import Proof
from rimside.casting.solve import load

STRETCH, KEEP = 20, 14
"""Figures decided at once, and how many of them are kept, while a first casting is built."""
PAIR = 2 * STRETCH
"""Most figures of two players decided at once."""
WHOLE_AT_MOST = 400
"""Up to this many figures one model of the whole piece is tried after the stretches."""
WHOLE_SHARE, PART_SHARE = 0.3, 0.1
"""Of all work: the most for one model of the whole piece, or of one stretch, while coverage is sought."""
STRETCH_SHARE, COVER_RESERVE, MEND_RESERVE = 0.08, 0.3, 0.2
"""Of all work: the most for one calm stretch, and what is kept back for coverage alone, and from mending it."""
REFIT_SHARE = 0.6
"""Of the work that is left: the most for the whole piece at once when an earlier casting is refitted."""
LEVEL_SHARES = {
    objective.CHANGED: 0.6,
    objective.RISK: 0.45,
    objective.MOVES: 0.6,
    objective.RETURNS: 0.4,
    objective.MEMORY: 0.4,
    objective.LOAD: 1.0,
}
"""Of the work that is left: what each level may use; the upper ones matter more."""
POLISH_UNTIL = 0.4
"""Of the work of one level: when the first polishing ends and proving begins."""
POLISH_WORK = 1.5
"""The most for one neighbourhood."""
WORK_PER_S = 0.85
"""Work that one second of the time limit buys; measured on one core of an ordinary machine."""
CORES = 2
"""Questions asked at one time; the answers do not depend on how many cores there really are."""
HARD_LIMIT = 2.0
"""Wall time over the time limit at which the search stops whatever was promised."""

Progress = Callable[[str, float], None]


@dataclass(slots=True)
class Search:
    """The state of one search. `best` is always a correct casting, so that stopping at any time keeps it.

    `depth` is how many levels are worked on; the others are only counted.
    """

    problem: Problem
    seconds: float
    seed: int = 0
    depth: int = len(objective.NAMES)
    progress: Progress | None = None
    best: dict[int, Choice] = field(default_factory=dict)
    bounds: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    risk_floors: list[int] = field(default_factory=list)
    worked: float = 0.0
    started_s: float = field(default_factory=time.monotonic)

    def run(self) -> None:
        """Fill `best` and `bounds`."""
        load()
        self._roll(self._just_cast, self.best)
        if not self._refit_first():
            self._cast_calmly()
        for level in self.order[1 : self.depth]:
            self._improve(level)

    def _cast_calmly(self) -> None:
        """A casting from stretches that are calm from the start, then mended, with its bound of coverage."""
        quick, calm = dict(self.best), dict[int, Choice]()
        if self.depth > 1:
            self._roll(self._calm, calm)
            self.best = calm
        self._mend()
        self._bound_uncast()
        self._cast_more()
        above_risk = self.order.index(objective.RISK)
        quick_levels, levels = (objective.count(self.problem, found)[:above_risk] for found in (quick, self.best))
        if quick_levels < levels:
            self.best = quick

    def _refit_first(self) -> bool:
        """For a refit, the whole piece at once from the earlier casting, changing least; whether that was proved.

        An earlier casting leaves so little to decide that this closes where a new casting of the whole would not.
        """
        order = self._open_figures()
        if not self.problem.liked or self.depth < 2 or not 0 < len(order) <= WHOLE_AT_MOST:
            return False
        aims, start = (objective.UNCAST, objective.CHANGED), refit.start(self.problem)
        self._tell("least change", 0.0)
        whole = self._decide(order, aims, start, self.left * REFIT_SHARE, alone=True)
        self._accept(whole.answer, objective.CHANGED)
        self.bounds[objective.UNCAST] = self._barred_weight() + whole.bound
        if whole.closed:
            self.bounds[objective.CHANGED] = objective.changed(self.problem, self.best)
        return whole.closed

    @property
    def order(self) -> tuple[int, ...]:
        """The levels, the most important first."""
        return objective.order(self.problem)

    @property
    def calm(self) -> tuple[int, ...]:
        """Levels that a stretch is decided for all at once; decided for one alone it would scatter the others."""
        return self.order[: self.order.index(objective.MOVES) + 1]

    @property
    def spent_s(self) -> float:
        """Wall time since the start."""
        return time.monotonic() - self.started_s

    @property
    def budget(self) -> float:
        """All work that the time limit buys."""
        return self.seconds * WORK_PER_S

    @property
    def left(self) -> float:
        """Work that is left; 0 when the wall-clock limit is reached."""
        return max(0.0, self.budget - self.worked) if self.spent_s < HARD_LIMIT * self.seconds else 0.0

    def proofs(self) -> tuple[Proof, ...]:
        """Value and bound of every level for `best`."""
        values = objective.count(self.problem, self.best)
        bounds = [self.bounds[level] for level in self.order]
        return tuple(
            Proof(level=name, value=value, bound=min(value, bound))
            for name, value, bound in zip(objective.named(self.problem), values, bounds, strict=True)
        )

    def _tell(self, what: str, share: float) -> None:
        if self.progress is not None:
            self.progress(what, min(1.0, share))

    def _decide(
        self, free: Iterable[int], aims: Sequence[int], standing: Assignment, effort: float, **how: Any
    ) -> Part:
        """One part on this thread, paid from the budget."""
        part = self._ask(free, aims, standing, effort, **how)
        self.worked += part.work
        return part

    def _ask(self, free: Iterable[int], aims: Sequence[int], standing: Assignment, effort: float, **how: Any) -> Part:
        seconds = HARD_LIMIT * self.seconds - self.spent_s
        effort = min(effort, self.left)
        return decide(self.problem, free, aims, standing, effort=effort, seconds=seconds, seed=self.seed, **how)

    @contextmanager
    def _beside(self) -> Iterator[Callable[..., Future[Part]]]:
        """Ask on a second core meanwhile; whoever leaves early, by Ctrl-C too, stops what still runs there."""
        stop = threading.Event()
        with ThreadPoolExecutor(max_workers=CORES) as pool:
            try:
                yield lambda *question, **how: pool.submit(self._ask, *question, stop=stop, **how)
            except BaseException:
                stop.set()
                raise

    def _accept(self, answer: Assignment, level: int) -> None:
        """Take an answer only when it is better in the order of the levels up to this one."""
        if not answer:
            return
        upto = self.order.index(level) + 1
        new = objective.count(self.problem, answer)[:upto]
        if new < objective.count(self.problem, self.best)[:upto]:
            self.best = dict(answer)

    # Coverage.

    def _roll(self, first: Callable[[list[int], Assignment], Assignment], done: dict[int, Choice]) -> None:
        """Decide a stretch of figures, keep most of it in `done`, and go on from there."""
        order, position = self._open_figures(), 0
        while position < len(order) and self.left > 0:
            stretch = order[position : position + STRETCH]
            last = position + STRETCH >= len(order)
            keep = stretch if last else stretch[:KEEP]
            self._keep(first(stretch, done), stretch, keep, done)
            position += STRETCH if last else KEEP
            self._tell("casting", position / max(1, len(order)))

    def _keep(self, answer: Assignment, stretch: list[int], keep: list[int], done: dict[int, Choice]) -> None:
        """Take over what was decided for `keep`, and for chores that others already count on."""
        inside, kept = opened(self.problem, stretch), opened(self.problem, keep)
        units = {self.problem.tasks[index].unit for index in done} & {self.problem.tasks[i].unit for i in inside}
        settled = kept | {index for index in inside if self.problem.tasks[index].unit in units}
        for index in settled:
            done.pop(index, None)
        done.update(only(answer, settled))

    def _just_cast(self, stretch: list[int], standing: Assignment) -> Assignment:
        """A first answer for a stretch that only casts what it can: soon there, to have something to keep."""
        return self._decide(stretch, (objective.UNCAST,), standing, self.budget * PART_SHARE).answer

    def _calm(self, stretch: list[int], standing: Assignment) -> Assignment:
        """A first answer that is calm from the start, while there is work to spend on it."""
        if self.left > self.budget * COVER_RESERVE:
            part = self._decide(stretch, self.calm, standing, self.budget * STRETCH_SHARE)
            if part.answer:
                return part.answer
        return self._just_cast(stretch, standing)

    def _mend(self) -> None:
        """Open the surroundings of each uncast figure again, wider the second time."""
        for width in (STRETCH // 2, STRETCH):
            for index in self._uncast():
                if index in self._uncast() and self.left > self.budget * MEND_RESERVE:
                    around = self._around(index, width)
                    part = self._decide(around, self.calm, self.best, self.budget * PART_SHARE)
                    self._accept(part.answer, objective.UNCAST)

    def _bound_uncast(self) -> None:
        """Barred figures can never be cast; beyond them, add up what disjoint stretches cannot hold on their own."""
        self.bounds[objective.UNCAST] = self._barred_weight()
        if self._all_cast():
            return
        for part in self._parts(2 * STRETCH):
            if not frozenset(self._uncast()).isdisjoint(part) and self.left > 0:
                found = self._decide(part, (objective.UNCAST,), {}, self.budget * PART_SHARE, bare=True)
                self.bounds[objective.UNCAST] += found.bound

    def _cast_more(self) -> None:
        """If something is uncast that the bound does not explain, try the whole piece at once, changing little."""
        order = self._open_figures()
        if self._closed(objective.UNCAST) or len(order) > WHOLE_AT_MOST or self.left <= 0:
            return
        closest = (objective.UNCAST, objective.STAY)
        whole = self._decide(order, closest, self.best, self.left * WHOLE_SHARE, alone=True)
        self._accept(whole.answer, objective.UNCAST)
        self.bounds[objective.UNCAST] = max(self.bounds[objective.UNCAST], whole.bound + self._barred_weight())

    # The levels below.

    def _improve(self, level: int) -> None:
        """Better one level without giving up anything of the levels above."""
        order = self._open_figures()
        if not order or self.left <= 0:
            return
        place = self.order.index(level)
        self._tell(f"level {objective.named(self.problem)[place]}", place / len(self.order))
        start, share = self.worked, self.left * LEVEL_SHARES[level]
        self._polish(level, start + share * POLISH_UNTIL)
        if not self._closed(level):
            self._prove(level, share * (1.0 - POLISH_UNTIL))
            self._polish(level, start + share)

    def _prove(self, level: int, effort: float) -> None:
        """The whole piece at once on one core; beside it what disjoint stretches cost at least on their own."""
        order, parts = self._open_figures(), list(self._parts(STRETCH))
        additive = level in objective.ADDITIVE and self._all_cast()
        with self._beside() as ask:
            whole = ask(order, (level,), dict(self.best), effort, alone=True) if len(order) <= WHOLE_AT_MOST else None
            asked = [
                ask(part, (level,), only(self.best, frozenset(part)), effort / len(parts), bare=True, caps=caps)
                for part, caps in zip(parts, self._spare(level, len(parts)), strict=True)
                if additive
            ]
            floors = [future.result() for future in asked]
        self.bounds[level] = max(self.bounds[level], sum(part.bound for part in floors))
        if level == objective.RISK:
            self.risk_floors = [part.bound for part in floors]
        if whole is not None:
            self.bounds[level] = max(self.bounds[level], whole.result().bound)
            self._accept(whole.result().answer, level)
        self.worked += max(whole.result().work if whole else 0.0, sum(part.work for part in floors))

    def _spare(self, level: int, parts: int) -> list[dict[int, int]]:
        """What the levels above may cost in each stretch on its own: everything is cast, so each must cast all of its
        own; for moves, it may carry as much risk as the whole has beyond what the other stretches must carry."""
        floors = self.risk_floors or [0] * parts
        risk = objective.risk_ms(self.problem, self.best) - sum(floors) if level == objective.MOVES else 0
        return [{objective.UNCAST: 0, objective.RISK: risk + own} for own in floors]

    def _polish(self, level: int, until: float) -> None:
        """Decide one neighbourhood after another anew, until a whole round brings nothing."""
        upto = max(self.order.index(level), len(self.calm) - 1) + 1
        aims, shift = self.order[self.order.index(level) : upto], 0
        while not self._closed(level):
            before = objective.count(self.problem, self.best)
            for free in (*self._stretches(shift), *self._pairs_of_players()):
                if self.worked >= until or self.left <= 0:
                    return
                effort = min(POLISH_WORK, until - self.worked)
                self._accept(self._decide(free, aims, self.best, effort).answer, aims[-1])
            if objective.count(self.problem, self.best) == before:
                return
            shift = (shift + STRETCH // 2) % STRETCH

    # Which figures.

    def _open_figures(self) -> list[int]:
        """Whatever counts by itself: figures, and chores that are music too, as cues are."""
        return [task.index for task in self.problem.tasks if task.barred is None and task.weight]

    def _uncast(self) -> list[int]:
        done = {self.problem.tasks[index].unit for index in self.best}
        return [index for index in self._open_figures() if self.problem.tasks[index].unit not in done]

    def _around(self, index: int, width: int) -> list[int]:
        """The figures near one in time, and all that use the same bows as these: a bow lives at one place."""
        order, tasks = self._open_figures(), self.problem.tasks
        start = max(0, min(order.index(index) - width // 2, len(order) - width))
        near = order[start : start + width]
        bows = {tasks[other].bow_key for other in near} - {None}
        return sorted({*near, *(other for other in order if tasks[other].bow_key in bows)})

    def _parts(self, width: int) -> Iterator[list[int]]:
        order = self._open_figures()
        return (order[start : start + width] for start in range(0, len(order), width))

    def _stretches(self, shift: int) -> list[list[int]]:
        order = self._open_figures()
        cuts = [order[max(0, start) : start + STRETCH] for start in range(-shift, len(order), STRETCH)]
        return [stretch for stretch in cuts if stretch]

    def _pairs_of_players(self) -> list[list[int]]:
        """The figures of two players, neighbours in load first; long ones cut to what can be decided at once."""
        mine: dict[int, list[int]] = {player: [] for player in range(len(self.problem.players))}
        for index in sorted(self.best):
            mine[self.best[index].player].append(index)
        busiest = sorted(mine, key=lambda player: (-len(mine[player]), player))
        pairs = [(a, b) for step in range(1, len(busiest)) for a, b in zip(busiest, busiest[step:], strict=False)]
        both = [sorted(mine[a] + mine[b]) for a, b in pairs]
        return [free[start : start + PAIR] for free in both for start in range(0, len(free), PAIR)]

    # How far it is.

    def _closed(self, level: int) -> bool:
        return objective.count(self.problem, self.best)[self.order.index(level)] <= self.bounds[level]

    def _all_cast(self) -> bool:
        return objective.uncast_weight(self.problem, self.best) == self._barred_weight()

    def _barred_weight(self) -> int:
        tasks = self.problem.tasks
        firsts = [tasks[unit[0]] for unit in self.problem.units if all(tasks[i].barred is not None for i in unit)]
        return sum(task.weight for task in firsts)
