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

NAMES = ("uncast", "risk", "moves", "returns", "memory", "load", "changed")
UNCAST, RISK, MOVES, RETURNS, MEMORY, LOAD, CHANGED, STAY = range(8)
"""CHANGED is a level of refits alone, and comes second there. STAY is no level of a casting: it counts the figures
whose player, place, lane or implements differ from the answer that stands."""
ADDITIVE = (UNCAST, RISK, MOVES)
"""Levels whose value over disjoint stretches of time adds up to no more than the value of the whole."""
ESSENTIAL_WEIGHT = 1000
PLAYER_CHANGED, PLACE_CHANGED, KIND_CHANGED = 4, 2, 1
"""What is hardest to relearn: a figure with another player, then at another place, then with another implement."""
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


def order(problem: Problem) -> tuple[int, ...]:
    """The levels of a problem, the most important first: a refit puts closeness to the old casting second."""
    usual = (UNCAST, RISK, MOVES, RETURNS, MEMORY, LOAD)
    return (UNCAST, CHANGED, *usual[1:]) if problem.liked else usual


def named(problem: Problem) -> tuple[str, ...]:
    """The levels of a problem as files write them."""
    return tuple(f"{number} {NAMES[level]}" for number, level in enumerate(order(problem), start=1))


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
    """What is left out: each unit of which no alternative is in the assignment costs its weight once."""
    tasks = problem.tasks
    looked_at = range(len(tasks)) if among is None else among
    weights = {tasks[index].unit: tasks[index].weight for index in looked_at}
    done = {tasks[index].unit for index in assignment}
    return sum(weight for unit, weight in weights.items() if unit not in done)


def risk_ms(problem: Problem, assignment: Assignment, free: frozenset[int] | None = None) -> int:
    """Tight changes and leans, ms; with `free`, only what these tasks take part in."""
    changes = sum(
        change_risk_ms(problem, a, b, assignment[a.index], assignment[b.index])
        for a, b in _changes(problem, assignment)
        if free is None or a.index in free or b.index in free
    )
    leaning = sum(
        lean_risk_ms(problem.tasks[index])
        for index, choice in assignment.items()
        if (free is None or index in free) and _leans(problem, problem.tasks[index], choice)
    )
    return changes + leaning


def _leans(problem: Problem, task: Task, choice: Choice) -> bool:
    """Whether a figure is played leaning; a chore is short enough not to count."""
    return task.figure is not None and problem.leans(task, choice)


def moves(problem: Problem, assignment: Assignment) -> int:
    """Changes of place."""
    return sum(
        assignment[a.index].place != assignment[b.index].place
        for tasks in _by_player(problem, assignment).values()
        for a, b in pairwise(tasks)
    )


def returns(problem: Problem, assignment: Assignment) -> int:
    """Players of each motif beyond the first."""
    who: dict[str, set[int]] = defaultdict(set)
    for index, choice in assignment.items():
        if problem.tasks[index].motif:
            who[problem.tasks[index].motif].add(choice.player)
    return sum(len(players) - 1 for players in who.values())


def memory(problem: Problem, assignment: Assignment) -> int:
    """What the player with most has to remember."""
    things: dict[int, set[str]] = defaultdict(set)
    for index, choice in assignment.items():
        things[choice.player] |= problem.tasks[index].things
    return max((len(held) for held in things.values()), default=0)


def load_ms(problem: Problem, assignment: Assignment) -> int:
    """Figure time of the busiest player less that of the least busy, ms."""
    busy = dict.fromkeys(range(len(problem.players)), 0)
    for index, choice in assignment.items():
        busy[choice.player] += played_ms(problem.tasks[index])
    return max(busy.values()) - min(busy.values()) if busy else 0


def played_ms(task: Task) -> int:
    """How long a figure lasts, whole ms; a chore is no load."""
    return whole_ms(task.length_s) if task.figure is not None else 0


def changed(problem: Problem, assignment: Assignment) -> int:
    """What a refit gives up of the earlier casting."""
    return sum(change_cost(problem, index, choice) for index, choice in assignment.items() if index in problem.liked)


def change_cost(problem: Problem, index: int, choice: Choice) -> int:
    """What one figure costs at the level of changes; with another player, all of it is new anyway."""
    liked = problem.liked[index]
    if choice.player != liked.player:
        return PLAYER_CHANGED
    moved = choice.place not in liked.places
    return PLACE_CHANGED * moved + KIND_CHANGED * (problem.tasks[index].kind != liked.kind)


_COUNTS = {
    UNCAST: uncast_weight,
    RISK: risk_ms,
    MOVES: moves,
    RETURNS: returns,
    MEMORY: memory,
    LOAD: load_ms,
    CHANGED: changed,
}


def count(problem: Problem, assignment: Assignment) -> tuple[int, ...]:
    """All levels of a whole assignment, in the problem's order."""
    return tuple(_COUNTS[level](problem, assignment) for level in order(problem))


Terms = list[tuple[int, int]]


def terms(draft: Draft, level: int, outside: Assignment) -> tuple[Terms, int]:
    """Write one level into the draft: (coefficient, variable) terms and what the rest of the piece adds.

    `outside` holds the choices of every decided task, also of those that the draft leaves out.
    """
    return _WRITERS[level](draft, outside)


def _uncast_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    """One term for each unit of free tasks; of several alternatives, all must be left out for it to cost."""
    tasks = draft.problem.tasks
    found: Terms = []
    for unit in draft.units():
        weight = tasks[unit[0]].weight
        if not weight or draft.free.isdisjoint(unit):
            continue
        if len(unit) == 1:
            found.append((weight, draft.u[unit[0]]))
            continue
        undone = draft.model.boolean()
        draft.model.clause([undone, *(~draft.u[index] for index in unit)])
        found.append((weight, undone))
    return found, 0


def _changed_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    """Another player costs one step, another place of the same player another; the kind is settled beforehand."""
    problem, model = draft.problem, draft.model
    constant = sum(change_cost(problem, i, c) for i, c in outside.items() if i in problem.liked and i not in draft.free)
    found: Terms = []
    for index, liked in problem.liked.items():
        if index not in draft.free:
            continue
        strange, moved = model.boolean(), model.boolean()
        found += [(PLAYER_CHANGED, strange), (PLACE_CHANGED, moved)]
        uncast = draft.u[index]
        same = [draft.x[index][liked.player]] if liked.player in draft.x[index] else []
        model.clause([strange, uncast, *same])
        model.clause([moved, strange, uncast, *draft.y_in(problem.tasks[index], liked.places)])
        if problem.tasks[index].kind != liked.kind:
            other = model.boolean()
            found.append((KIND_CHANGED, other))
            model.clause([other, strange, uncast])
    return found, constant


def _risk_terms(draft: Draft, outside: Assignment) -> tuple[Terms, int]:
    found: Terms = []
    for earlier, later in draft.in_sequence():
        if draft.can_share_player(earlier, later):
            found += _change_terms(draft, earlier, later)
    for task in draft.tasks:
        if task.index in draft.free and not task.barred and task.figure is not None:
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
        if index not in draft.free and problem.tasks[index].motif:
            fixed[problem.tasks[index].motif].add(choice.player)
    by_motif: dict[str, list[Task]] = defaultdict(list)
    for task in draft.tasks:
        if task.index in draft.free and task.motif:
            by_motif[task.motif].append(task)
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
    total = sum(played_ms(task) for task in problem.tasks)
    most, least = model.integer(0, total), model.integer(0, total)
    for player in range(len(problem.players)):
        standing = (i for i, choice in outside.items() if i not in draft.free and choice.player == player)
        fixed = sum(played_ms(problem.tasks[index]) for index in standing)
        busy = [
            (played_ms(t), draft.x[t.index][player])
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
        families = [(draft.x, earlier.player), (draft.y, earlier.place), (draft.v, earlier.lane)]
        for family, before in (*families, *((draft.w, implement) for implement in earlier.implements)):
            draft.model.clause([changed, *([family[task.index][before]] if before in family[task.index] else [])])
    return found, 0


_WRITERS = {
    UNCAST: _uncast_terms,
    RISK: _risk_terms,
    MOVES: _move_terms,
    RETURNS: _return_terms,
    MEMORY: _memory_terms,
    LOAD: _load_terms,
    CHANGED: _changed_terms,
    STAY: _stay_terms,
}
