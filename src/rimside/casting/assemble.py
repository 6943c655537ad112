"""From the solver's indices back to names: hands, implements, contacts, and the casting that people read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from rimside.casting.chore import Chore
from rimside.casting.explain import not_tried
from rimside.casting.hands import Hands, share_hands
from rimside.casting.mends import all_uncast
from rimside.casting.problem import Assignment, Choice, Problem, Task
from rimside.casting.question import Question
from rimside.casting.result import CastChore, CastFigure, Casting, PedalAction, Proof, Uncast
from rimside.casting.scale import written_mm
from rimside.kit import Implement, Times
from rimside.pitch import Key, label
from rimside.score.model import PedalSpan

Bow = tuple[str, Key, float]


def assemble(
    problem: Problem,
    assignment: Assignment,
    proof: tuple[Proof, ...],
    pedals: tuple[PedalAction, ...],
    seconds: float,
    *,
    explain: bool = True,
    question: Question | None = None,
    before: Hands | None = None,
) -> Casting:
    """The casting that an assignment means; without `explain` the uncast figures come without competitors, at once.

    With the `question` that the problem was built from, what would mend the uncast figures is sought too. `before` are
    the hands of an earlier casting, kept where they can be.
    """
    bows = _name_bows(problem, assignment)
    hands = share_hands(problem, assignment, before)
    figures = [index for index in sorted(assignment) if problem.tasks[index].figure is not None]
    chores = [index for index in sorted(assignment) if problem.tasks[index].figure is None]
    piano = problem.piano
    return Casting(
        piano=piano.name,
        a4_hz=piano.a4_hz,
        players=problem.players,
        places=piano.places,
        rim_length_mm=piano.rim_length_mm,
        figures=tuple(task.figure for task in problem.tasks if task.figure is not None),
        implements=(*bows.values(), *_used(problem, assignment)),
        cast=tuple(_cast_figure(problem, index, assignment[index], hands[index], bows) for index in figures),
        chores=(
            *(_cast_chore(problem, index, assignment, hands[index], bows) for index in chores),
            *_left_undone(problem, assignment),
        ),
        pedals=pedals,
        uncast=all_uncast(problem, assignment, question) if explain else _open(problem, assignment),
        times=_times(problem),
        proof=proof,
        seconds=seconds,
        pins=problem.pins,
    )


def _open(problem: Problem, assignment: Assignment) -> tuple[Uncast, ...]:
    left = (task for task in problem.tasks if task.figure is not None and task.index not in assignment)
    return tuple(not_tried(task) for task in left)


def pedal_actions(pedals: tuple[PedalSpan, ...], by: str) -> tuple[PedalAction, ...]:
    """The pedals as they are held; `by` is the same for all."""
    return tuple(PedalAction(pedal=span.pedal.value, down_s=span.down_s, up_s=span.up_s, by=by) for span in pedals)


def _cast_figure(
    problem: Problem, index: int, choice: Choice, hands: tuple[str, ...], bows: dict[Bow, Implement]
) -> CastFigure:
    task = problem.tasks[index]
    return CastFigure(
        figure=task.work.id,
        player=problem.players[choice.player].id,
        place=problem.piano.places[choice.place].id,
        hands=hands,
        implements=_taken(problem, task, choice, bows),
        contacts=task.lanes[choice.lane].contacts,
    )


def _cast_chore(
    problem: Problem, index: int, assignment: Assignment, hands: tuple[str, ...], bows: dict[Bow, Implement]
) -> CastChore:
    task, choice = problem.tasks[index], assignment[index]
    chore = task.work
    assert isinstance(chore, Chore)
    return CastChore(
        id=chore.id,
        kind=chore.kind.value,
        start_s=task.start_s,
        end_s=task.end_s,
        player=problem.players[choice.player].id,
        place=problem.piano.places[choice.place].id,
        hands=hands,
        target=chore.target,
        feet=chore.feet,
        implements=_taken(problem, task, choice, bows),
        contacts=task.lanes[choice.lane].contacts,
        needed_by=tuple(
            problem.tasks[i].work.id for i in sorted({*_needing(problem, chore, assignment)}) if i in assignment
        ),
    )


def _left_undone(problem: Problem, assignment: Assignment) -> Iterator[CastChore]:
    """Chores that are music too, as cues are, and that nobody does."""
    for slots in problem.slots.values():
        task = problem.tasks[slots[0]]
        if task.weight and all(slot not in assignment for slot in slots):
            assert isinstance(task.work, Chore)
            yield CastChore(
                id=task.work.id,
                kind=task.work.kind.value,
                start_s=task.start_s,
                end_s=task.end_s,
                player=None,
                place=None,
                hands=(),
                target=task.work.target,
                reason=task.barred[1] if task.barred is not None else "nobody stands still at its moment",
            )


def _needing(problem: Problem, chore: Chore, assignment: Assignment) -> Iterator[int]:
    """The figures that cannot be played without a chore: for a mute, all that are played until it changes again."""
    yield from (index for index, need in problem.needed if chore.id in need.chores)
    for muting in problem.mutings:
        if chore.id in muting.chores:
            run = muting.chores.index(chore.id) + 1
            later = (n for n in range(run, len(muting.chores)) if _done(problem, muting.chores[n], assignment))
            until = next(later, len(muting.chores)) + 1
            yield from (problem.numbers[name] for same in muting.runs[run:until:2] for name in same)


def _done(problem: Problem, chore: str, assignment: Assignment) -> bool:
    return any(slot in assignment for slot in problem.slots[chore])


def _taken(problem: Problem, task: Task, choice: Choice, bows: dict[Bow, Implement]) -> tuple[str, ...]:
    own = (bows[_bow(task, choice)].id,) if task.bow_key is not None else ()
    return (*own, *(problem.implements[number].id for number in choice.implements))


def _bow(task: Task, choice: Choice) -> Bow:
    assert task.bow_key is not None
    return task.kind, task.bow_key, task.lanes[choice.lane].mark_mm


def _name_bows(problem: Problem, assignment: Assignment) -> dict[Bow, Implement]:
    """One implement for each pitch and lane in use; a second of one pitch is called b."""
    used = sorted({_bow(problem.tasks[i], c) for i, c in assignment.items() if problem.tasks[i].bow_key is not None})
    named: dict[Bow, Implement] = {}
    seen: dict[tuple[str, Key], int] = defaultdict(int)
    for kind, key, mark_mm in used:
        letter = "" if seen[kind, key] == 0 else f" {'abcdefgh'[seen[kind, key]]}"
        seen[kind, key] += 1
        at = problem.piano.course(key).at(mark_mm)
        named[kind, key, mark_mm] = Implement(
            id=f"{kind} {label(key)}{letter}",
            kind=kind,
            rest_x_mm=written_mm(at.x_mm),
            rest_y_mm=written_mm(at.y_mm),
            key=key,
            from_near_end_mm=mark_mm,
        )
    return named


def _used(problem: Problem, assignment: Assignment) -> list[Implement]:
    taken = {number for choice in assignment.values() for number in choice.implements}
    return [problem.implements[number] for number in sorted(taken)]


def _times(problem: Problem) -> Times:
    """The times with every kind in use written out, so that the casting can be checked on its own."""
    times = problem.kit.times
    kinds = sorted({task.kind for task in problem.tasks if task.kind})
    return Times(
        walk_mm_per_s=times.walk_mm_per_s,
        turn_s=times.turn_s,
        settle_s=times.settle_s,
        pick_s={kind: problem.kit.pick_s(kind) for kind in kinds},
        put_s={kind: problem.kit.put_s(kind) for kind in kinds},
        measured=times.measured,
    )
