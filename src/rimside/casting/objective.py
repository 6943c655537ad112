"""What makes one correct casting better than another: six levels, each a whole number, lower is better.

Each level is told twice: `count` reads it off an assignment, `Level` functions write it into a draft's model.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise

from rimside.casting.draft import Draft
from rimside.casting.problem import Assignment, Choice, Problem, Task, gap_s, held, overlap
from rimside.casting.rules.h04_change import need_s
from rimside.casting.scale import shortfall_ms, whole_ms, whole_seconds_up

LEVELS = ("1 uncast", "2 risk", "3 moves", "4 returns", "5 memory", "6 load")
UNCAST, RISK, MOVES, RETURNS, MEMORY, LOAD, STAY = range(7)
"""STAY is no level of a casting: it counts the figures whose player, place or lane differs from an earlier answer."""
ADDITIVE = (UNCAST, RISK, MOVES)
"""Levels whose value over disjoint stretches of time adds up to no more than the value of the whole."""
ESSENTIAL_WEIGHT = 1000
LEAN_RISK_MS_PER_S = 100


def lean_risk_ms(task: Task) -> int:
    """Risk of playing a whole figure at a lean."""
    return LEAN_RISK_MS_PER_S * whole_seconds_up(task.length_s)


def kept(earlier: Task, later: Task, a: Choice, b: Choice) -> bool:
    """Whether a player keeps the very same implements from one figure to the next."""
    mine, yours = held(earlier, a), held(later, b)
    return bool(mine) and mine == yours


def change_risk_ms(problem: Problem, earlier: Task, later: Task, a: Choice, b: Choice) -> int:
    """Shortfall of one change against the comfortable reserve."""
    need = need_s(problem, earlier, later, kept(earlier, later, a, b), a.place, b.place)
    return shortfall_ms(gap_s(earlier, later), need, problem.reserve_s)


def _by_player(problem: Problem, assignment: Assignment) -> dict[int, list[Task]]:
    order: dict[int, list[Task]] = defaultdict(list)
    for task in problem.tasks:
        if task.index in assignment:
            order[assignment[task.index].player].append(task)
    return order


def _changes(problem: Problem, assignment: Assignment) -> Iterator[tuple[Task, Task]]:
    horizon_s = problem.horizon_s  # looks at every task, so once is enough
    for tasks in _by_player(problem, assignment).values():
        for number, later in enumerate(tasks):
            for earlier in tasks[:number]:
                if not overlap(earlier, later) and gap_s(earlier, later) < horizon_s:
                    yield earlier, later


def uncast_weight(problem: Problem, assignment: Assignment, among: Iterable[int] | None = None) -> int:
    """Level 1."""
    looked_at = range(len(problem.tasks)) if among is None else among
    return sum(problem.tasks[index].weight for index in looked_at if index not in assignment)


def risk_ms(problem: Problem, assignment: Assignment, free: frozenset[int] | None = None) -> int:
    """Level 2; with `free`, only what these tasks take part in."""
    changes = sum(
        change_risk_ms(problem, a, b, assignment[a.index], assignment[b.index])
        for a, b in _changes(problem, assignment)
        if free is None or a.index in free or b.index in free
    )
    leaning = sum(
        lean_risk_ms(problem.tasks[index])
        for index, choice in assignment.items()
        if (free is None or index in free) and problem.leans(problem.tasks[index], choice)
    )
    return changes + leaning


def moves(problem: Problem, assignment: Assignment) -> int:
    """Level 3."""
    return sum(
        assignment[a.index].place != assignment[b.index].place
        for tasks in _by_player(problem, assignment).values()
        for a, b in pairwise(tasks)
    )


def returns(problem: Problem, assignment: Assignment) -> int:
    """Level 4."""
    who: dict[str, set[int]] = defaultdict(set)
    for index, choice in assignment.items():
        who[problem.tasks[index].figure.motif].add(choice.player)
    return sum(len(players) - 1 for players in who.values())


def memory(problem: Problem, assignment: Assignment) -> int:
    """Level 5."""
    things: dict[int, set[str]] = defaultdict(set)
    for index, choice in assignment.items():
        things[choice.player] |= problem.tasks[index].things
    return max((len(held) for held in things.values()), default=0)


def load_ms(problem: Problem, assignment: Assignment) -> int:
    """Level 6."""
    busy = dict.fromkeys(range(len(problem.players)), 0)
    for index, choice in assignment.items():
        busy[choice.player] += whole_ms(problem.tasks[index].length_s)
    return max(busy.values()) - min(busy.values()) if busy else 0


def count(problem: Problem, assignment: Assignment) -> tuple[int, ...]:
    """All six levels of a whole assignment."""
    return (
        uncast_weight(problem, assignment),
        risk_ms(problem, assignment),
        moves(problem, assignment),
        returns(problem, assignment),
        memory(problem, assignment),
        load_ms(problem, assignment),
    )


Terms = list[tuple[int, int]]


def terms(draft: Draft, level: int, outside: Assignment) -> tuple[Terms, int]:
    """Write one level into the draft: (coefficient, variable) terms and what the rest of the piece adds.

    `outside` holds the choices of every decided task, also of those that the draft leaves out.
    """
    writers = (_uncast_terms, _risk_terms, _move_terms, _return_terms, _memory_terms, _load_terms, _stay_terms)
    return writers[level](draft, outside)


def _uncast_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    return [(task.weight, draft.u[task.index]) for task in draft.tasks if task.index in draft.free], 0


def _risk_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    found: Terms = []
    for earlier, later in draft.in_sequence():
        if draft.can_share_player(earlier, later):
            found += _change_terms(draft, earlier, later)
    for task in draft.tasks:
        if task.index in draft.free and not task.barred:
            found += _lean_terms(draft, task)
    return found, 0


def _change_terms(draft: Draft, earlier: Task, later: Task) -> Terms:
    """One step of risk for each distinct shortfall; a step is climbed when the places (or the change) ask for it."""
    problem, gap = draft.problem, gap_s(earlier, later)
    ways = (False, True) if draft.may_keep(earlier, later) else (False,)
    places = draft.y[earlier.index], draft.y[later.index]
    cost = {
        (way, p, q): shortfall_ms(gap, need_s(problem, earlier, later, way, p, q), problem.reserve_s)
        for way in ways
        for p in places[0]
        for q in places[1]
    }
    worst = int(1000 * problem.reserve_s)
    steps = sorted({value for value in cost.values() if 0 < value <= worst})
    found: Terms = []
    for below, step in zip([0, *steps], steps, strict=False):
        climbed = draft.model.boolean()
        found.append((step - below, climbed))
        for way in ways:
            excuse = draft.unless(earlier, later, way)
            for place, literal in places[0].items():
                easier = [q for q in places[1] if cost[way, place, q] < step]
                if len(easier) < len(places[1]):
                    draft.model.clause([*excuse, climbed, ~literal, *draft.y_in(later, easier)])
    return found


def _lean_terms(draft: Draft, task: Task) -> Terms:
    problem, leaning = draft.problem, draft.model.boolean()
    asked = False
    for player, given in draft.x[task.index].items():
        for lane, laid in draft.v[task.index].items():
            far = task.lanes[lane].distance_mm
            upright = [q for q in draft.y[task.index] if far[q] <= problem.comfortable_mm[player]]
            if len(upright) < len(draft.y[task.index]):
                draft.model.clause([leaning, ~given, ~laid, *draft.y_in(task, upright)])
                asked = True
    return [(lean_risk_ms(task), leaning)] if asked else []


def _move_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    """Each player's path through the places, event by event; a change of place between two events costs one."""
    found: Terms = []
    for player in range(len(draft.problem.players)):
        mine = [task for task in draft.tasks if player in draft.x[task.index]]
        if any(task.index in draft.free for task in mine):
            found += _path_terms(draft, player, mine)
        else:
            found += [(1, moved) for moved in _fixed_moves(draft, mine)]
    return found, 0


def _fixed_moves(draft: Draft, tasks: list[Task]) -> list[int]:
    """Variables fixed at 1 for each move among decided tasks, so that the part's value stays whole."""
    places = [draft.decided[task.index].place for task in tasks]
    moved = [draft.model.boolean() for a, b in pairwise(places) if a != b]
    for variable in moved:
        draft.model.fix(variable, 1)
    return moved


def _path_terms(draft: Draft, player: int, tasks: list[Task]) -> Terms:
    model, found = draft.model, []
    before: dict[int, int] | None = None
    places = sorted({place for task in tasks for place in draft.y[task.index]})
    for task in tasks:
        at = {place: model.boolean() for place in places}
        model.equal([(1, literal) for literal in at.values()], 1)
        given = draft.x[task.index][player]
        for place, literal in draft.y[task.index].items():
            model.clause([~given, ~literal, at[place]])
        if before is not None:
            moved = model.boolean()
            found.append((1, moved))
            for place in places:
                model.clause([~at[place], before[place], moved])
        before = at
    return found


def _return_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    problem = draft.problem
    fixed: dict[str, set[int]] = defaultdict(set)
    for index, choice in outside.items():
        if index not in draft.free:
            fixed[problem.tasks[index].figure.motif].add(choice.player)
    by_motif: dict[str, list[Task]] = defaultdict(list)
    for task in draft.tasks:
        if task.index in draft.free:
            by_motif[task.figure.motif].append(task)
    constant = sum(len(players) - 1 for motif, players in fixed.items() if motif not in by_motif)
    found: Terms = []
    for motif, tasks in by_motif.items():
        played, extra = _motif_terms(draft, tasks, fixed[motif])
        found += played
        constant += extra
    return found, constant


def _motif_terms(draft: Draft, tasks: list[Task], already: set[int]) -> tuple[Terms, int]:
    """Players of one motif beyond the first: its players less one when it is played at all."""
    model, found = draft.model, []
    for player in range(len(draft.problem.players)):
        given = [draft.x[t.index][player] for t in tasks if player in draft.x[t.index]]
        if given and player not in already:
            found.append((1, model.any_of(given)))
    if already:
        return found, len(already) - 1
    silent = model.boolean()
    # the motif may be wholly uncast: then it costs nothing, so one is only taken off when someone plays it
    for task in tasks:
        model.clause([~silent, draft.u[task.index]])
    model.at_most([(-1, silent), *((-1, literal) for _, literal in found)], -1)
    return [*found, (1, silent)], -1


def _memory_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    problem, model = draft.problem, draft.model
    fixed: dict[int, set[str]] = defaultdict(set)
    for index, choice in outside.items():
        if index not in draft.free:
            fixed[choice.player] |= problem.tasks[index].things
    everything = {thing for task in problem.tasks for thing in task.things}
    busiest = model.integer(0, len(everything))
    for player in range(len(problem.players)):
        asked: dict[str, list[int]] = defaultdict(list)
        for task in draft.tasks:
            if task.index in draft.free and player in draft.x[task.index]:
                for thing in task.things - fixed[player]:
                    asked[thing].append(draft.x[task.index][player])
        held = [(1, model.any_of(asked[thing])) for thing in sorted(asked)]
        model.at_most([*held, (-1, busiest)], -len(fixed[player]))
    return [(1, busiest)], 0


def _load_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    problem, model = draft.problem, draft.model
    total = sum(whole_ms(task.length_s) for task in problem.tasks)
    most, least = model.integer(0, total), model.integer(0, total)
    for player in range(len(problem.players)):
        standing = (i for i, choice in outside.items() if i not in draft.free and choice.player == player)
        fixed = sum(whole_ms(problem.tasks[index].length_s) for index in standing)
        busy = [
            (whole_ms(t.length_s), draft.x[t.index][player])
            for t in draft.tasks
            if t.index in draft.free and player in draft.x[t.index]
        ]
        model.at_most([*busy, (-1, most)], -fixed)
        model.at_most([*((-c, x) for c, x in busy), (1, least)], fixed)
    return [(1, most), (-1, least)], 0


def _stay_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    """`outside` holds the earlier answer for the free tasks too."""
    found: Terms = []
    for task in draft.tasks:
        earlier = outside.get(task.index)
        if task.index not in draft.free or earlier is None:
            continue
        changed = draft.model.boolean()
        found.append((1, changed))
        families = ((draft.x, earlier.player), (draft.y, earlier.place), (draft.v, earlier.lane))
        for family, before in families:
            draft.model.clause([changed, *([family[task.index][before]] if before in family[task.index] else [])])
    return found, 0
