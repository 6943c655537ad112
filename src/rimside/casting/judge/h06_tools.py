"""H6 as the judge reads it: every implement is there, fits, and is in one hand at a time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from rimside.casting.judge.plan import (
    TIE_MM,
    TIE_S,
    Breach,
    Plan,
    Stay,
    Task,
    ceil_s,
    floor_s,
    named,
    overlap,
    tool_said,
)
from rimside.kit import Implement, Stock
from rimside.piano.magnets import drivable
from rimside.piano.model import Point
from rimside.pitch import Key, label
from rimside.score.model import Technique


def breaches(plan: Plan) -> Iterator[Breach]:
    """Implements that are not there, do not fit, or are in two hands."""
    yield from _held_stock(plan)
    for task in plan.tasks:
        yield from _fits(plan, task)
        yield from _enough_tools(task)
        yield from (breach for tool in task.tools for breach in _usable(plan, task, tool))
    for stay in plan.stays:
        yield from (breach for tool in stay.tools for breach in _rest_near(stay, tool))
    yield from _shared_tools(plan)


def _h6(message: str, *figures: str) -> Breach:
    return Breach(rule="H6", message=message, figures=figures)


def _held_stock(plan: Plan) -> Iterator[Breach]:
    """No more implements than the kit holds; those of one pitch are counted by kind and pitch."""
    counted: Counter[tuple[str, Key | None]] = Counter()
    for tool in plan.casting.implements:
        stock = plan.stock(tool.kind)
        counted[tool.kind, tool.key if stock is not None and stock.per_pitch else None] += 1
    for (kind, key), number in counted.items():
        stock = plan.stock(kind)
        holds = 0 if stock is None or not _stocks_pitch(stock, key) else stock.count
        if number > holds:
            of = "" if key is None else f" for {label(key)}"
            yield _h6(f"The kit holds {holds} of {kind}{of}; the casting uses {number}.")


def _stocks_pitch(stock: Stock, key: Key | None) -> bool:
    return not stock.per_pitch or (key is not None and (stock.pitches is None or key in stock.pitches))


def _fits(plan: Plan, task: Task) -> Iterator[Breach]:
    figure, fits = task.figure, task.row.fits
    if (fits == "spot") != (figure.spot is not None):
        yield _h6(f"{named(figure)}: this technique is for {'a spot' if fits == 'spot' else 'strings'}.", figure.id)
    for key in figure.keys:
        course = plan.course(key)
        if course is not None and fits in ("plain", "wound") and course.wound != (fits == "wound"):
            yield _h6(f"{named(figure)}: {label(key)} is not a {fits} course.", figure.id)
        if course is not None and figure.technique is Technique.MAGNET_DRIVE and not drivable(course):
            yield _h6(f"{named(figure)}: no magnet pulls {course.material}.", figure.id)
    if figure.technique is Technique.LINE_BOW and len(figure.keys) != 1:
        yield _h6(f"{named(figure)}: one line bows one course.", figure.id)


def _enough_tools(task: Task) -> Iterator[Breach]:
    """One for each striking hand; one for both hands together; one magnet for each course."""
    if not task.row.implement:
        need = 0
    elif task.row.hands == 1:
        need = max(1, task.striking_hands)
    else:
        need = len(task.figure.keys) if task.row.hands == 0 else 1
    given = len(set(task.cast.implements))
    if given != need or len(task.cast.implements) != given:
        yield _h6(f"{named(task.figure)} needs {need} implements and is given {given}.", task.figure.id)


def _usable(plan: Plan, task: Task, tool: Implement) -> Iterator[Breach]:
    figure, stock = task.figure, plan.stock(tool.kind)
    if stock is None or figure.technique not in stock.serves:
        yield _h6(f"{tool_said(tool)} does not serve {named(figure)}.", figure.id)
    elif stock.per_pitch and (tool.key is None or set(figure.keys) != {tool.key}):
        yield _h6(f"{tool_said(tool)} belongs to another course than {named(figure)}.", figure.id)


def _rest_near(stay: Stay, tool: Implement) -> Iterator[Breach]:
    rest_mm = stay.place.at.distance_mm(Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm))
    if rest_mm > stay.player.reach_mm + TIE_MM:
        yield _h6(
            f"{stay.player.name} reaches {stay.player.reach_mm:.1f} mm; from {stay.place.id} the rest of"
            f" {tool_said(tool)} for {stay.name} is {rest_mm:.1f} mm away.",
            *stay.figures,
        )


def _shared_tools(plan: Plan) -> Iterator[Breach]:
    for tool in plan.casting.implements:
        users = [stay for stay in plan.stays if tool.id in {used.id for used in stay.tools}]
        for a, b in combinations(users, 2):
            yield from _handed_on(plan, tool, a, b)


def _handed_on(plan: Plan, tool: Implement, a: Stay, b: Stay) -> Iterator[Breach]:
    names = f"{a.name} and {b.name}"
    gap_s = b.start_s - a.end_s
    need_s = plan.times.put_s.get(tool.kind, 0.0) + plan.times.pick_s.get(tool.kind, 0.0)
    if overlap(a, b):
        yield _h6(f"{tool.id} is wanted for {names} at once.", *a.figures, *b.figures)
    elif a.player.id != b.player.id and need_s > gap_s + TIE_S:
        yield _h6(
            f"{a.player.name} puts {tool.id} back and {b.player.name} takes it in {ceil_s(need_s)}; between {names}"
            f" there are {floor_s(gap_s)}.",
            *a.figures,
            *b.figures,
        )
