"""H6 tools: an implement is in one hand at a time, fits its string, and is taken from a rest within reach."""

from __future__ import annotations

from collections import defaultdict

from rimside.casting.draft import Draft
from rimside.casting.problem import Task, gap_s, overlap
from rimside.casting.rules.h02_hands import sounding_at_start
from rimside.casting.scale import fits
from rimside.kit import Kit, TechniqueRow
from rimside.piano.magnets import drivable
from rimside.piano.model import Piano
from rimside.pitch import label
from rimside.score.model import Figure, Technique

RULE, NAME = "H6", "tools"


def misfit(figure: Figure, row: TechniqueRow, piano: Piano) -> str | None:
    """Why the technique does not suit the strings, or None. Common practice, no published source."""
    if (row.fits == "spot") != (figure.spot is not None):
        return f"a {figure.technique.value} is for {'spots' if row.fits == 'spot' else 'strings'}"
    if figure.technique is Technique.LINE_BOW and len(figure.keys) > 1:
        return "one line bows one course"
    for key in figure.keys:
        wound = piano.course(key).wound
        if figure.technique is Technique.MAGNET_DRIVE and not drivable(piano.course(key)):
            return f"{label(key)} is of {piano.course(key).material}, which no magnet pulls"
        if row.fits == "plain" and wound:
            return f"{label(key)} is wound and a {figure.technique.value} slips on it; it asks for a friction strip"
        if row.fits == "wound" and not wound:
            return f"{label(key)} is plain and a {figure.technique.value} needs a wound string"
    return None


def lacking(figure: Figure, row: TechniqueRow, kit: Kit, need: int, together: int) -> str | None:
    """Why the kit has no implement for it, or None."""
    if not row.implement:
        return None
    stock = [s for s in kit.serving(figure.technique) if s.count > 0]
    stock = [s for s in stock if s.pitches is None or set(figure.keys) <= s.pitches]
    if not stock:
        at = f" for {label(figure.keys[0])}" if figure.keys else ""
        return f"the kit holds no {figure.technique.value}{at}"
    if figure.technique is Technique.STICK_BOW and together > max(s.sides for s in stock):
        return f"{together} courses at once need a stick with as many sides"
    if not any(s.per_pitch for s in stock) and sum(s.count for s in stock) < need:
        return f"it takes {need} and the kit holds {sum(s.count for s in stock)}"
    return None


def add(draft: Draft) -> None:
    """Each figure takes what it needs; nothing is in two hands at once; the rest is in reach."""
    for task in draft.tasks:
        if task.bow_key is None and task.need:
            _take(draft, task)
    _one_place_for_each_bow(draft)
    _no_more_than_there_are(draft)
    for a, b in draft.neighbours():
        if may_share(a, b) and not (not overlap(a, b) and fits(gap_s(a, b), a.put_s + b.pick_s)):
            _not_in_two_hands(draft, a, b)


def may_share(a: Task, b: Task) -> bool:
    """Whether two figures could be given the very same implement."""
    if a.bow_key is not None or b.bow_key is not None:
        return a.bow_key == b.bow_key and a.kind == b.kind
    return not set(a.implements).isdisjoint(b.implements)


def _take(draft: Draft, task: Task) -> None:
    problem, model = draft.problem, draft.model
    model.equal([(1, w) for w in draft.w[task.index].values()] + [(task.need, draft.u[task.index])], task.need)
    for implement in task.taking:
        model.clause([draft.u[task.index], draft.w[task.index][implement]])
    for implement, taken in draft.w[task.index].items():
        for player, given in draft.x[task.index].items():
            near = [q for q in draft.y[task.index] if problem.rest_mm[implement][q] <= problem.full_mm[player]]
            if len(near) < len(draft.y[task.index]):
                model.clause([~taken, ~given, *draft.y_in(task, near)])


def _one_place_for_each_bow(draft: Draft) -> None:
    """Each bow lives at one place in the piano: a pitch has no more lanes than bows."""
    by_key: dict[int, list[Task]] = defaultdict(list)
    for task in draft.tasks:
        if task.bow_key is not None:
            by_key[task.bow_key].append(task)
    for tasks in by_key.values():
        laid: dict[float, list[int]] = defaultdict(list)
        for task in tasks:
            for lane, literal in draft.v[task.index].items():
                laid[task.lanes[lane].mark_mm].append(literal)
        if len(laid) > tasks[0].bow_count:
            used = [draft.model.any_of(laid[mark]) for mark in sorted(laid)]
            draft.model.at_most([(1, literal) for literal in used], tasks[0].bow_count)


def _no_more_than_there_are(draft: Draft) -> None:
    """Implied by the implements one by one, said at once so that a bound is found sooner."""
    for task in draft.tasks:
        if task.bow_key is not None or not task.need or task.barred is not None:
            continue
        together = [t for t in sounding_at_start(task, draft.tasks) if t.kind == task.kind and t.need]
        spare = draft.problem.counts[task.kind] - sum(t.need for t in together)
        if spare < 0:
            # what is cast takes its need, so what is uncast must make up for what is lacking
            draft.model.at_most([(-t.need, draft.u[t.index]) for t in together], spare)


def _not_in_two_hands(draft: Draft, a: Task, b: Task) -> None:
    """One implement is in one hand at a time; from player to player it goes by way of its rest."""
    excuse = [draft.same(a, b)] if not overlap(a, b) and draft.can_share_player(a, b) else []
    mine, yours = draft.held(a), draft.held(b)
    for implement in mine.keys() & yours.keys():
        draft.model.clause([*excuse, ~mine[implement], ~yours[implement]])
