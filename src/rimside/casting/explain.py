"""Why a figure is uncast: the rule that stands in the way and the figures that compete with it."""

from __future__ import annotations

from rimside.casting.draft import Draft, touching
from rimside.casting.objective import kept
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
from rimside.casting.rules import MODEL_RULES
from rimside.casting.rules.h04_change import need_s
from rimside.casting.rules.h05_room import stand_together, too_close
from rimside.casting.rules.h07_clear import share_string
from rimside.casting.scale import TIE_MM, fits
from rimside.casting.solve import solve
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM

EFFORT, SECONDS = 4.0, 20.0


def why_uncast(problem: Problem, assignment: Assignment, task: Task) -> Uncast:
    """The reason for one uncast figure: its own rule, or the fewest cast figures that would have to go."""
    if task.barred is not None:
        return Uncast(figure=task.work.id, rule=task.barred[0], reason=task.barred[1])
    around = touching(problem, [task.index], assignment)
    draft = Draft(problem, [task.index, *around], {}, must=[task.index], offered=around)
    for rule in MODEL_RULES:
        rule.add(draft)
    draft.model.objective = [(1, draft.u[index]) for index in around]
    outcome = solve(draft.model, effort=EFFORT, seconds=SECONDS)
    if not outcome.usable:
        return Uncast(figure=task.work.id, rule="H2", reason="no place was found for it in the time allowed")
    answer = draft.read(list(outcome.values))
    rivals = sorted(index for index in around if index not in answer)
    return _told(problem, task, answer[task.index], {index: around[index] for index in rivals})


def not_tried(task: Task) -> Uncast:
    """For a figure that a stopped search leaves open: its own rule when it has one."""
    rule, reason = task.barred or ("H1", "the search was stopped before it was decided")
    return Uncast(figure=task.work.id, rule=rule, reason=reason)


def _told(problem: Problem, task: Task, choice: Choice, rivals: dict[int, Choice]) -> Uncast:
    found = [conflict(problem, task, choice, problem.tasks[index], rival) for index, rival in rivals.items()]
    rule, words = next((entry for entry in found if entry is not None), ("H2", "all hands in reach are busy"))
    names = tuple(problem.tasks[index].work.id for index in rivals)
    return Uncast(
        figure=task.work.id,
        rule=rule,
        reason=f"{words}; it would take the place of {', '.join(names)}" if names else "it was not tried in time",
        competing=names,
    )


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
