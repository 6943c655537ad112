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
from itertools import islice
from random import Random
from typing import Any

from rimside.casting import neighbours, objective, refit
from rimside.casting.draft import opened
from rimside.casting.part import Part, decide, only
from rimside.casting.problem import Assignment, Choice, Problem
from rimside.casting.result import Proof
from rimside.casting.solve import load
from rimside.casting.tidy import tidied

STRETCH, KEEP = 20, 14
"""Figures decided at once, and how many of them are kept, while a first casting is built."""
IDLE_AT_MOST = 60
"""Neighbourhoods in a row without gain after which a level is left alone."""
MEND_WIDTHS, FLOOR_SHARE = (STRETCH, 3 * STRETCH, 6 * STRETCH), 0.012
"""Figures opened around an uncast one, one width after the other, and what each question may take of all work."""
WHOLE_AT_MOST = 1000
"""Up to this many figures one model of the whole piece is tried after the stretches."""
WHOLE_SHARE, PART_SHARE = 0.2, 0.1
"""Of all work: the most for one model of the whole piece, or of one stretch, while coverage is sought."""
STRETCH_SHARE, COVER_RESERVE, MEND_RESERVE = 0.08, 0.3, 0.2
"""Of all work: the most for one calm stretch, and what is kept back for coverage alone, and from mending it."""
REFIT_AT_MOST = 800
"""Up to this many figures a refit is decided whole first."""
REFIT_SHARE = 0.6
"""Of the work that is left: the most for the whole piece at once when an earlier casting is refitted."""
LEVEL_SHARES = {
    objective.CHANGED: 0.6,
    objective.RISK: 0.4,
    objective.MOVES: 0.7,
    objective.RETURNS: 0.5,
    objective.MEMORY: 0.5,
    objective.LOAD: 1.0,
}
"""Of the work that is left: what each level may use; the upper ones matter more."""
POLISH_UNTIL = {objective.MOVES: 0.85}
"""Of the work of one level: when the first polishing ends and proving begins, where that is not half of it. Moves are
hard to prove and easy to better."""
POLISH_WORK = 2.0
"""The most for one neighbourhood."""
SECOND_DRAWS = 8
"""Neighbourhoods drawn in search of one that can be decided beside the first."""
WORK_PER_S = 0.85
"""Work that one second of the time limit buys; measured on one core of an ordinary machine."""
CORES = 2
"""Questions asked at one time; the answers do not depend on how many cores there really are."""
HARD_LIMIT, HARD_EXTRA_S = 2.0, 15.0
"""Wall time over the time limit at which the search stops whatever was promised, as a factor; a short one may take so
much longer, for on a slow or busy machine the same answer is worth more than some seconds."""

Progress = Callable[[str, float], None]
Floor = tuple[list[int], int]
"""A stretch, and what it leaves out at least."""


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
    chance: Random = field(init=False)
    worked: float = 0.0
    started_s: float = field(default_factory=time.monotonic)

    def __post_init__(self) -> None:
        self.chance = Random(self.seed)

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
        self._settle_uncast()
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
        if not self.problem.liked or self.depth < 2 or not 0 < len(order) <= REFIT_AT_MOST:
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
        return max(0.0, self.budget - self.worked) if self.spent_s < self.wall_s else 0.0

    @property
    def wall_s(self) -> float:
        """Wall time at which the search stops in any case."""
        return max(HARD_LIMIT * self.seconds, self.seconds + HARD_EXTRA_S)

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
        seconds = self.wall_s - self.spent_s
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
        for index in done.keys() - tidied(self.problem, done).keys():
            del done[index]

    def _just_cast(self, stretch: list[int], standing: Assignment) -> Assignment:
        """A first answer for a stretch that only casts what it can: soon there, to have something to keep."""
        few = self.budget * FLOOR_SHARE
        return self._decide(stretch, (objective.UNCAST,), standing, few, otherwise=2.0 * few).answer

    def _calm(self, stretch: list[int], standing: Assignment) -> Assignment:
        """A first answer that is calm from the start, while there is work to spend on it."""
        if self.left > self.budget * COVER_RESERVE:
            part = self._decide(stretch, self.calm, standing, self.budget * STRETCH_SHARE)
            if part.answer:
                return part.answer
        return self._just_cast(stretch, standing)

    def _settle_uncast(self) -> None:
        """Ask disjoint stretches what they cannot hold on their own; mend where more is left out, and ask wider."""
        floors = [(part, self._floor(part)) for part in self._parts(2 * STRETCH)]
        for width in MEND_WIDTHS:
            loose = [number for number, (part, floor) in enumerate(floors) if self._left_out(part) > floor]
            for number in loose:
                self._mend(floors[number], width)
            loose = [number for number in loose if self._left_out(floors[number][0]) > floors[number][1]]
            floors = list(self._joined(floors, loose))
        self.bounds[objective.UNCAST] = self._barred_weight() + sum(floor for _, floor in floors)

    def _floor(self, part: list[int]) -> int:
        """What a stretch leaves out at least, whatever happens elsewhere."""
        if not self._left_out(part) or self.left <= 0:
            return 0
        few = self.budget * FLOOR_SHARE
        return self._decide(part, (objective.UNCAST,), {}, few, bare=True, otherwise=2.0 * few).bound

    def _left_out(self, part: list[int]) -> int:
        return objective.uncast_weight(self.problem, self.best, part)

    def _mend(self, loose: tuple[list[int], int], width: int) -> None:
        """Open the surroundings of each figure that a stretch leaves out without need; change as little as casts it."""
        closest, (part, floor) = (objective.UNCAST, objective.STAY), loose
        for index in part:
            if index in self._uncast() and self._left_out(part) > floor and self.left > self.budget * MEND_RESERVE:
                few = self.budget * FLOOR_SHARE
                found = self._decide(self._around(index, width), closest, self.best, few, otherwise=few)
                self._accept(found.answer, objective.UNCAST)

    def _joined(self, floors: list[Floor], loose: list[int]) -> Iterator[Floor]:
        """Each loose stretch with the two beside it, asked again; the others as they are."""
        number = 0
        while number < len(floors):
            until = number + 1
            while until < len(floors) and any(abs(until - one) <= 1 for one in loose if one in (until - 1, until)):
                until += 1
            joined = [index for part, _ in floors[number:until] for index in part]
            floor = sum(floor for _, floor in floors[number:until])
            yield joined, max(floor, self._floor(joined)) if until > number + 1 else floor
            number = until

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
        last = level == self.order[min(self.depth, len(self.order)) - 1]
        start, share = self.worked, self.left * (1.0 if last else LEVEL_SHARES[level])
        polish = POLISH_UNTIL.get(level, 0.5)
        self._polish(level, start + share * polish)
        if not self._closed(level):
            self._prove(level, share * (1.0 - polish))
            self._polish(level, start + share)

    def _prove(self, level: int, effort: float) -> None:
        """The whole piece at once on one core; beside it what disjoint stretches cost at least on their own."""
        order, parts = self._open_figures(), list(self._parts(2 * STRETCH if level == objective.MOVES else STRETCH))
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
        narrow = self.risk_floors or [0] * parts
        joined = -(-len(narrow) // parts)  # stretches of the level of risk may be shorter
        floors = [sum(narrow[start : start + joined]) for start in range(0, len(narrow), joined)]
        risk = objective.risk_ms(self.problem, self.best) - sum(floors) if level == objective.MOVES else 0
        return [{objective.UNCAST: 0, objective.RISK: risk + own} for own in floors]

    def _polish(self, level: int, until: float) -> None:
        """Decide one neighbourhood after another anew, two at once, until so many brought nothing."""
        upto = max(self.order.index(level), len(self.calm) - 1) + 1
        aims, idle = self.order[self.order.index(level) : upto], 0
        with self._beside() as ask:
            while not self._closed(level) and idle < IDLE_AT_MOST and self.worked < until and self.left > 0:
                frees = self._drawn(level)
                before, effort = objective.count(self.problem, self.best), min(POLISH_WORK, until - self.worked)
                asked = [ask(free, aims, self.best, effort) for free in frees]
                parts = [future.result() for future in asked]
                self._merge(frees, [part.answer for part in parts], aims[-1])
                self.worked += max(part.work for part in parts)
                idle = idle + len(frees) if objective.count(self.problem, self.best) == before else 0

    def _drawn(self, level: int) -> list[list[int]]:
        """One neighbourhood, and beside it a second that has nothing to do with it, if one is soon found."""
        order = self._open_figures()
        first, *others = (
            neighbours.drawn(self.problem, self.best, order, level, self.chance) for _ in range(SECOND_DRAWS + 1)
        )
        apart = (free for free in others if neighbours.apart(self.problem, self.best, first, free))
        return [first, *islice(apart, CORES - 1)]

    def _merge(self, frees: list[list[int]], answers: list[Assignment], level: int) -> None:
        """Take what each neighbourhood brought; they touch nothing in common, so each stands by itself."""
        for free, answer in zip(frees, answers, strict=True):
            if answer:
                inside = opened(self.problem, free)
                rest = {index: choice for index, choice in self.best.items() if index not in inside}
                self._accept({**rest, **only(answer, inside)}, level)

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

    # How far it is.

    def _closed(self, level: int) -> bool:
        return objective.count(self.problem, self.best)[self.order.index(level)] <= self.bounds[level]

    def _all_cast(self) -> bool:
        return objective.uncast_weight(self.problem, self.best) == self._barred_weight()

    def _barred_weight(self) -> int:
        tasks = self.problem.tasks
        firsts = [tasks[unit[0]] for unit in self.problem.units if all(tasks[i].barred is not None for i in unit)]
        return sum(task.weight for task in firsts)
