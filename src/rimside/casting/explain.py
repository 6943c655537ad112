"""Why a figure is uncast: the rules that stand in the way and the fewest figures that compete with it, proved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from types import ModuleType

from rimside.casting.draft import Draft, opened, touching
from rimside.casting.model import Model
from rimside.casting.objective import kept
from rimside.casting.part import WORK_PER_CONSTRAINT
from rimside.casting.problem import (
    HANDS,
    Assignment,
    Choice,
    Problem,
    Task,
    clearance_mm,
    gap_s,
    held,
    in_order,
    overlap,
)
from rimside.casting.result import Uncast
from rimside.casting.rules import MODEL_RULES, h01_whole, h02_hands
from rimside.casting.rules.h04_change import need_s
from rimside.casting.rules.h05_room import stand_together, too_close
from rimside.casting.rules.h07_clear import share_string
from rimside.casting.scale import TIE_MM, fits
from rimside.casting.solve import Outcome, Status, solve
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM

EFFORT = 6.0
"""Work for the reason of one figure, in the solver's deterministic units."""
SECONDS = 20.0
"""Wall time that guards one question against a slow machine."""
DROPPED_IN_TURN = tuple(rule for rule in MODEL_RULES if rule is not h01_whole)
"""The rules that may be left out to see whether they matter; without H1 an answer could not be read."""
WORDS: Mapping[str, str] = {
    "H2": "all hands in reach are busy",
    "H3": "nobody who is free reaches it",
    "H4": "there is no time to change",
    "H5": "there is no room to stand",
    "H6": "the implements are elsewhere",
    "H7": "the strings are taken",
    "H9": "nobody is free to make it ready",
}
"""What a rule says when no two figures alone tell of it."""
NOT_TRIED = "it was not tried in time"


@dataclass(slots=True)
class Purse:
    """Work that is left for a row of questions; an empty purse answers "out of time"."""

    left: float

    def ask(self, model: Model) -> Outcome:
        """Solve one model, paid by its work and its size."""
        if self.left <= 0.0:
            return Outcome(status=Status.OUT_OF_TIME)
        outcome = solve(model, effort=self.left, seconds=SECONDS)
        self.left -= outcome.effort + WORK_PER_CONSTRAINT * (len(model.clauses) + len(model.rows))
        return outcome

    def fits(self, model: Model) -> bool | None:
        """Whether there is an answer at all; None when that was not settled."""
        outcome = self.ask(model)
        return True if outcome.usable else False if outcome.status is Status.IMPOSSIBLE else None


def why_uncast(problem: Problem, assignment: Assignment, task: Task, *, effort: float = EFFORT) -> Uncast:
    """The reason for one uncast figure: its own rule, or the fewest cast figures that would have to go."""
    if task.barred is not None:
        rule, words = task.barred
        return Uncast(figure=task.work.id, rule=rule, reason=words, rules=(rule,), proved=True)
    purse, case = Purse(effort), _case(problem, assignment, task)
    draft = case.draft(going=case.counted)
    draft.model.objective = [(1, draft.u[index]) for index in sorted(case.counted)]
    outcome = purse.ask(draft.model)
    if outcome.status is Status.IMPOSSIBLE:
        return _impossible_alone(case, purse)
    if not outcome.usable:
        return Uncast(figure=task.work.id, rule="H1", reason="what stands in its way was not found in the time allowed")
    answer = draft.read(list(outcome.values))
    return _told(case, purse, answer, fewest=outcome.status is Status.BEST)


def not_tried(task: Task) -> Uncast:
    """For a figure that a stopped search leaves open: its own rule when it has one."""
    rule, reason = task.barred or ("H1", "the search was stopped before it was decided")
    return Uncast(figure=task.work.id, rule=rule, reason=reason)


@dataclass(frozen=True, kw_only=True)
class _Case:
    """One uncast figure with the chores it needs (`own`), and what stands `around` it as it was cast.

    `counted` are those of them that would be missed: figures, and chores that are music too.
    """

    problem: Problem
    task: Task
    own: frozenset[int]
    around: Mapping[int, Choice]
    counted: frozenset[int]

    def draft(
        self,
        *,
        going: Iterable[int] = (),
        gone: Iterable[int] = (),
        rules: Iterable[ModuleType] = MODEL_RULES,
    ) -> Draft:
        """The figure must be cast; `going` may go and `gone` have gone, and with them the chores for them alone."""
        silent, away = self.around.keys() - self.counted, frozenset(gone)
        offered = {index: self.around[index] for index in (*sorted(going), *sorted(silent)) if index not in away}
        decided = {i: choice for i, choice in self.around.items() if i not in offered and i not in away}
        used = (h01_whole, *(rule for rule in rules if rule is not h01_whole))
        draft = Draft(
            self.problem,
            [*self.own, *offered],
            decided,
            must=[self.task.index],
            offered=offered,
            two_hands=h02_hands in used,
        )
        for rule in used:
            rule.add(draft)
        return draft


def _case(problem: Problem, assignment: Assignment, task: Task) -> _Case:
    own = opened(problem, [task.index])
    around = _around(problem, own, assignment)
    counted = frozenset(index for index in around if problem.tasks[index].weight)
    return _Case(problem=problem, task=task, own=own, around=around, counted=counted)


def _around(problem: Problem, own: frozenset[int], assignment: Assignment) -> dict[int, Choice]:
    """All that could be in the way: near in time, with the same bow anywhere in the piece, and tied to it by chores."""
    found = touching(problem, own, assignment)
    bows = {problem.tasks[index].bow_key for index in own} - {None}
    same = (i for i in assignment if problem.tasks[i].bow_key in bows and i not in own)
    found.update((index, assignment[index]) for index in same)
    size = 0
    while size != len(found):
        size = len(found)
        for figure, need in problem.needed:
            tied = {figure, *(slot for way in need.ways for chore in way for slot in problem.slots.get(chore, ()))}
            if not tied.isdisjoint(found):
                found.update((i, assignment[i]) for i in sorted(tied) if i in assignment and i not in own)
    return dict(sorted(found.items()))


def _impossible_alone(case: _Case, purse: Purse) -> Uncast:
    """No other figure is to blame: it could not even be cast alone."""
    core, sure = _core(case, purse, gone=case.counted)
    rule = core[0] if core else "H1"
    words = "no implement for it rests within reach of where it is played" if rule == "H6" else WORDS.get(rule, "")
    reason = "; ".join(part for part in (words, "it could not be cast even alone") if part)
    return Uncast(figure=case.task.work.id, rule=rule, reason=reason, rules=core, proved=sure)


def _told(case: _Case, purse: Purse, answer: Assignment, *, fewest: bool) -> Uncast:
    rivals = sorted(index for index in case.counted if index not in answer)
    if not rivals:
        return Uncast(figure=case.task.work.id, rule="H1", reason=NOT_TRIED)
    needed = all(
        purse.fits(case.draft(gone=[other for other in rivals if other != back]).model) is False for back in rivals
    )
    core, sure = _core(case, purse)
    rule, words = _words(case, answer[case.task.index], rivals, core)
    names = tuple(case.problem.tasks[index].work.id for index in rivals)
    proved = fewest and needed and sure
    doubt = "" if proved else "; there was no time to prove that nothing less is in its way"
    return Uncast(
        figure=case.task.work.id,
        rule=rule,
        reason=f"{words}; it would take the place of {', '.join(names)}{doubt}",
        competing=names,
        rules=core,
        proved=proved,
    )


def _core(case: _Case, purse: Purse, gone: Iterable[int] = ()) -> tuple[tuple[str, ...], bool]:
    """A smallest set of rules that keep the figure out while all others stay, and whether that was settled.

    Leaving out one rule after the other finds a set of which none can be spared; every smaller set is then tried.
    """
    away = tuple(gone)
    core, sure = list(DROPPED_IN_TURN), True
    for rule in DROPPED_IN_TURN:
        fewer = [other for other in core if other is not rule]
        fits_without = purse.fits(case.draft(gone=away, rules=fewer).model)
        if fits_without is False:
            core = fewer
        sure = sure and fits_without is not None
    for size in range(1, len(core)):
        for fewer in map(list, combinations(DROPPED_IN_TURN, size)):
            still_out = purse.fits(case.draft(gone=away, rules=fewer).model)
            if still_out is False:
                return _names(fewer), sure
            sure = sure and still_out is not None
    return _names(core), sure


def _names(rules: Iterable[ModuleType]) -> tuple[str, ...]:
    return tuple(str(rule.RULE) for rule in rules)


def _words(case: _Case, choice: Choice, rivals: Iterable[int], core: tuple[str, ...]) -> tuple[str, str]:
    """What the figure breaks together with one of those in its way, if two alone tell of it."""
    told = [entry for index in rivals if (entry := _pair_words(case, choice, index)) is not None]
    telling = [entry for entry in told if entry[0] in core]
    if telling or (told and not core):
        return (telling or told)[0]
    rule = core[0] if core else "H2"
    return rule, WORDS.get(rule, WORDS["H2"])


def _pair_words(case: _Case, choice: Choice, rival: int) -> tuple[str, str] | None:
    other, theirs = case.problem.tasks[rival], case.around[rival]
    entry = conflict(case.problem, case.task, choice, other, theirs)
    hurried = _hurry(case.problem, case.task, other, theirs) if entry is not None and entry[0] == "H4" else None
    return hurried or entry


def _hurry(problem: Problem, task: Task, rival: Task, theirs: Choice) -> tuple[str, str] | None:
    """How long the quickest change between a figure and a cast one takes whoever plays that; None when it fits."""
    earlier, later = in_order(task, rival)
    same_tools = task.need > 0 and (task.need, task.kind, task.bow_key) == (rival.need, rival.kind, rival.bow_key)
    reached = (
        place
        for place in task.places
        if any(problem.allows(task, theirs.player, lane, place) for lane in range(len(task.lanes)))
    )
    needs = [need_s(problem, earlier, later, same_tools, place, theirs.place) for place in reached]
    gap = gap_s(earlier, later)
    if not needs or fits(gap, min(needs)):
        return None
    return "H4", f"the change needs at least {min(needs):.1f} s and there are {max(0.0, gap):.1f} s"


def conflict(problem: Problem, a: Task, a_choice: Choice, b: Task, b_choice: Choice) -> tuple[str, str] | None:
    """The rule that two figures break together as they are chosen, with its words; None when they go together."""
    first, second = in_order(a, b)
    mine, yours = (a_choice, b_choice) if first is a else (b_choice, a_choice)
    if overlap(first, second):
        return _together(problem, first, mine, second, yours)
    return _one_after_the_other(problem, first, mine, second, yours)


def _together(problem: Problem, a: Task, mine: Choice, b: Task, yours: Choice) -> tuple[str, str] | None:
    same = mine.player == yours.player
    clear = clearance_mm(a.lanes[mine.lane], b.lanes[yours.lane])
    if share_string(a, b):
        return "H7", "another figure sounds on the same string"
    if same and a.hands + b.hands > HANDS:
        return "H2", "the player's hands are busy"
    if same and mine.place != yours.place:
        return "H2", "the player stands at another place"
    if clear < (OWN_HANDS_CLEARANCE_MM if same else HAND_CLEARANCE_MM) - TIE_MM:
        return "H7", "the hands would be in each other's way"
    if not same and too_close(problem, mine.player, yours.player, mine.place, yours.place):
        return "H5", "there is no room to stand"
    if held(a, mine) & held(b, yours):
        return "H6", "the implement is in another hand"
    return None


def _one_after_the_other(problem: Problem, a: Task, mine: Choice, b: Task, yours: Choice) -> tuple[str, str] | None:
    gap = gap_s(a, b)
    if mine.player == yours.player:
        need = need_s(problem, a, b, kept(a, b, mine, yours), mine.place, yours.place)
        return None if fits(gap, need) else ("H4", f"the change needs {need:.1f} s and there are {max(0.0, gap):.1f} s")
    close = too_close(problem, mine.player, yours.player, mine.place, yours.place)
    if close and stand_together(a, b, problem.settle_s):
        return "H5", "there is no room to stand"
    if held(a, mine) & held(b, yours) and not fits(gap, a.put_s + b.pick_s):
        return "H6", "the implement is not back at its rest"
    return None
