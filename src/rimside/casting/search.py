"""How a casting is found: stretch by stretch, then mended, then made better level by level; every bound is kept."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from rimside.casting import objective
from rimside.casting.draft import Draft, touching
from rimside.casting.problem import Assignment, Choice, Problem
from rimside.casting.result import Proof
from rimside.casting.rules import MODEL_RULES
from rimside.casting.solve import Outcome, Status, solve

STRETCH, KEEP = 26, 20
"""Figures decided at once, and how many of them are kept, while a first casting is built."""
WHOLE_SHARE = 0.3
"""Of the time that is left: how much for one model of the whole piece when something is uncast."""
POLISH_UNTIL, FLOORS_UNTIL = 0.6, 0.8
"""Of the time of one level: when polishing ends, and when the floors of stretches are counted."""
STRETCH_S = 3.0
PAIR = 2 * STRETCH
WHOLE_AT_MOST = 400
"""Up to this many figures one model of the whole piece is tried after the stretches."""

Progress = Callable[[str, float], None]


@dataclass(slots=True)
class Search:
    """The state of one search. `best` is always a correct casting, so that stopping at any time keeps it."""

    problem: Problem
    seconds: float
    seed: int = 0
    progress: Progress | None = None
    best: dict[int, Choice] = field(default_factory=dict)
    bounds: list[int] = field(default_factory=lambda: [0] * len(objective.LEVELS))
    started_s: float = field(default_factory=time.monotonic)

    def run(self) -> None:
        """Fill `best` and `bounds`."""
        self._build_up()
        self._mend()
        self._bound_uncast()
        self._cast_more()
        for level in range(1, len(objective.LEVELS)):
            self._improve(level)

    @property
    def spent_s(self) -> float:
        """Wall time since the start."""
        return time.monotonic() - self.started_s

    @property
    def left_s(self) -> float:
        """Wall time that is left."""
        return self.seconds - self.spent_s

    def proofs(self) -> tuple[Proof, ...]:
        """Value and bound of every level for `best`."""
        values = objective.count(self.problem, self.best)
        return tuple(
            Proof(level=name, value=value, bound=min(value, bound))
            for name, value, bound in zip(objective.LEVELS, values, self.bounds, strict=True)
        )

    def _tell(self, what: str, share: float) -> None:
        if self.progress is not None:
            self.progress(what, min(1.0, share))

    def _build_up(self) -> None:
        """Decide a stretch of figures, keep most of it, and go on from there."""
        order = self._open_figures()
        position = 0
        while position < len(order) and self.left_s > 0:
            stretch = order[position : position + STRETCH]
            last = position + STRETCH >= len(order)
            answer = self._solve_part(stretch, objective.UNCAST, self.best, self.seconds / 10).answer
            keep = stretch if last else stretch[:KEEP]
            self.best.update({index: answer[index] for index in keep if index in answer})
            position += STRETCH if last else KEEP
            self._tell("casting", position / max(1, len(order)))

    def _mend(self) -> None:
        """Open the surroundings of each uncast figure again, wider each time."""
        for width in (STRETCH, 2 * STRETCH):
            for index in self._uncast():
                if index in self.best or self.left_s < self.seconds * 0.6:
                    continue
                self._replace(self._around(index, width), objective.UNCAST, self.seconds / 10)

    def _uncast(self) -> list[int]:
        return [t.index for t in self.problem.tasks if t.barred is None and t.index not in self.best]

    def _around(self, index: int, width: int) -> list[int]:
        order = self._open_figures()
        middle = order.index(index)
        start = max(0, min(middle - width // 2, len(order) - width))
        return order[start : start + width]

    def _bound_uncast(self) -> None:
        """Barred figures can never be cast; beyond them, add up what disjoint stretches cannot hold on their own."""
        barred = self._barred_weight()
        value = objective.uncast_weight(self.problem, self.best)
        self.bounds[objective.UNCAST] = barred
        if value > barred:
            self.bounds[objective.UNCAST] += sum(
                max(0, self._solve_part(part, objective.UNCAST, {}, self.seconds / 12).bound)
                for part in self._parts(2 * STRETCH)
                if any(index not in self.best for index in part)
            )

    def _cast_more(self) -> None:
        """If something is uncast that the bound does not explain, try the whole piece at once."""
        order = self._open_figures()
        gap = objective.uncast_weight(self.problem, self.best) > self.bounds[objective.UNCAST]
        if gap and len(order) <= WHOLE_AT_MOST and self.left_s > 0:
            whole = self._solve_part(order, objective.UNCAST, self.best, self.left_s * WHOLE_SHARE, whole=True)
            self._accept(whole.answer, objective.UNCAST)
            self.bounds[objective.UNCAST] = max(self.bounds[objective.UNCAST], whole.bound + self._barred_weight())

    def _parts(self, width: int) -> Iterator[list[int]]:
        order = self._open_figures()
        return (order[start : start + width] for start in range(0, len(order), width))

    def _improve(self, level: int) -> None:
        """Better one level without giving up anything of the levels above: the whole at once, then stretches."""
        order = self._open_figures()
        if not order:
            return
        started, share = time.monotonic(), self.left_s / (len(objective.LEVELS) - level)
        self._tell(f"level {objective.LEVELS[level]}", level / len(objective.LEVELS))
        self._polish(level, started + share * POLISH_UNTIL)
        if level in objective.ADDITIVE and self._all_cast():
            self.bounds[level] = max(self.bounds[level], sum(self._floors(level, started + share * FLOORS_UNTIL)))
        left = started + share - time.monotonic()
        if len(order) <= WHOLE_AT_MOST and left > 0 and not self._closed(level):
            whole = self._solve_part(order, level, self.best, left, whole=True)
            self.bounds[level] = max(self.bounds[level], whole.bound)
            self._accept(whole.answer, level)

    def _closed(self, level: int) -> bool:
        return objective.count(self.problem, self.best)[level] <= self.bounds[level]

    def _polish(self, level: int, until_s: float) -> None:
        """Decide one neighbourhood after another anew, until a whole round brings nothing."""
        shift = 0
        while time.monotonic() < until_s:
            before = objective.count(self.problem, self.best)
            for free in (*self._stretches(shift), *self._pairs_of_players()):
                left = until_s - time.monotonic()
                if left <= 0:
                    return
                self._accept(self._solve_part(free, level, self.best, min(left, STRETCH_S)).answer, level)
            if objective.count(self.problem, self.best) == before:
                return
            shift = (shift + STRETCH // 2) % STRETCH

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

    def _floors(self, level: int, until_s: float) -> list[int]:
        """What each of the disjoint stretches costs at least on its own; together no more than the whole.

        Everything is cast, so each stretch must cast all of its own too. For moves, a stretch may carry as much risk
        as the whole has beyond what the other stretches must carry.
        """
        parts = list(self._parts(STRETCH))
        spare = [0] * len(parts)
        if level == objective.MOVES:
            risks = self._floors(objective.RISK, time.monotonic() + max(0.0, until_s - time.monotonic()) / 2)
            spare = [objective.risk_ms(self.problem, self.best) - sum(risks) + own for own in risks]
        floors = []
        for number, part in enumerate(parts):
            left = max(0.0, until_s - time.monotonic()) / (len(parts) - number)
            standing = _only(self.best, frozenset(part))
            caps = {objective.UNCAST: 0, objective.RISK: spare[number]}
            found = self._solve_part(part, level, standing, left, whole=True, caps=caps) if left > 0 else None
            floors.append(found.bound if found else 0)
        return floors

    def _all_cast(self) -> bool:
        return objective.uncast_weight(self.problem, self.best) == self._barred_weight()

    def _barred_weight(self) -> int:
        return sum(task.weight for task in self.problem.tasks if task.barred is not None)

    def _open_figures(self) -> list[int]:
        return [task.index for task in self.problem.tasks if task.barred is None]

    def _replace(self, free: list[int], level: int, seconds: float) -> None:
        self._accept(self._solve_part(free, level, self.best, seconds).answer, level)

    def _accept(self, answer: Assignment, level: int) -> None:
        """Take an answer only when it is better in the order of the levels up to this one."""
        if not answer:
            return
        new = objective.count(self.problem, answer)[: level + 1]
        if new < objective.count(self.problem, self.best)[: level + 1]:
            self.best = dict(answer)

    def _solve_part(
        self,
        free: list[int],
        level: int,
        standing: Assignment,
        seconds: float,
        *,
        whole: bool = False,
        caps: Mapping[int, int] | None = None,
    ) -> Part:
        """Decide `free` anew at one level, everything else in `standing` kept, the levels above not made worse.

        `whole` leaves everything else out instead; `caps` replaces what the levels above may cost.
        """
        problem, inside = self.problem, frozenset(free)
        context = {} if whole else touching(problem, free, standing)
        draft = Draft(problem, free, context)
        for rule in MODEL_RULES:
            rule.add(draft)
        for upper in range(level):
            terms, constant = objective.terms(draft, upper, standing)
            cap = caps[upper] if caps is not None else self._cap(upper, standing, inside)
            draft.model.at_most(terms, cap - constant)
        draft.model.objective, draft.model.offset = objective.terms(draft, level, standing)
        if any(index in standing for index in free):
            draft.assume(standing)
        outcome = solve(draft.model, seconds=min(seconds, max(0.1, self.left_s)), seed=self.seed)
        rest = {index: choice for index, choice in standing.items() if index not in inside}
        answer = {**rest, **draft.read(list(outcome.values))} if outcome.usable else {}
        return Part(outcome=outcome, answer=answer)

    def _cap(self, level: int, standing: Assignment, inside: frozenset[int]) -> int:
        problem = self.problem
        if level == objective.UNCAST:
            return objective.uncast_weight(problem, standing, inside)
        if level == objective.RISK:
            return objective.risk_ms(problem, standing, inside)
        if level == objective.MOVES:
            return objective.moves(problem, {**touching(problem, inside, standing), **_only(standing, inside)})
        return objective.count(problem, standing)[level]


def _only(assignment: Assignment, inside: frozenset[int]) -> dict[int, Choice]:
    return {index: choice for index, choice in assignment.items() if index in inside}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The answer for the whole piece after one part was decided anew, and what the solver said."""

    outcome: Outcome
    answer: dict[int, Choice]

    @property
    def bound(self) -> int:
        """The proven bound, 0 when the solver found none (no level is ever below 0)."""
        return max(0, self.outcome.bound or 0)

    @property
    def closed(self) -> bool:
        """Whether the part is proved best."""
        return self.outcome.status is Status.BEST
