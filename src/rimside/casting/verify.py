"""The judge: whether a casting is correct, and what it is worth, told from the casting alone.

It shares nothing with the solver but the domain objects. Every rule is judged in the slowest and most obvious way, as
`docs/decisions/0001-exact-meanings.md` words it. Rules H1 to H12 are the rules of that page (H9, mutes and their
chores, is judged where chores are made); the others ask whether the casting refers to things that exist and whether
its own figures are true.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from rimside import people
from rimside.casting.result import CastFigure, Casting, CastPlayer, Contact, PedalAction
from rimside.kit import (
    DEFAULT_PICK_S,
    DEFAULT_PUT_S,
    HAND_CLEARANCE_MM,
    OWN_HANDS_CLEARANCE_MM,
    PERMISSIONS,
    TARGET_WIDTH_MM,
    Implement,
    Kit,
    Stock,
    TechniqueRow,
    Times,
)
from rimside.people import LEAN_LIMIT_S, Player
from rimside.piano.access import OVER_HEIGHT_MM, OVERHEAD_CLEARANCE_MM, Window
from rimside.piano.model import Course, Piano, Place, Point, Strut
from rimside.pitch import Key, label
from rimside.score.model import Figure, Mute, Pedal, Technique

TIE_S = 1e-6
"""Moments closer than this are one moment."""
TIE_MM = 0.5
"""Lengths closer than this are one length to a hand or a foot."""
WHOLE_TIE = 1e-3
"""Left over from adding fractions, in whole ms and mm: 0.001 ms and 0.001 mm."""
RESERVE_S = 1.0
"""The comfortable reserve of a change."""
LEAN_RISK_MS_PER_S = 100
ESSENTIAL_WEIGHT = 1000
CHANGE_WEIGHTS = {"player": 4, "place": 2, "implement": 1}
"""What each change of a refit costs."""
HANDS = ("left", "right")
KEY_PITCH_MM = 1225.0 / 88.0
"""Mean distance of neighbouring keys. Source: mean pitch per key at the hammers, as for `kit.TARGET_WIDTH_MM`."""
KEY_LENGTH_MM = 160.0
KEY_ASIDE_MM = 25.0
"""How far a finger may be from the middle of its key. Our assumption: one white key's width."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """One way in which a casting breaks a rule, said as a player would say it, with the figures it is about."""

    rule: str
    message: str
    figures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule: its short name, its name in plain words, and what finds its breaches."""

    id: str
    name: str
    breaches: Callable[[_Plan], Iterator[Breach]]


def verify(casting: Casting, piano: Piano, players: tuple[Player, ...], kit: Kit) -> tuple[Breach, ...]:
    """Every breach of every rule; empty when the casting is correct.

    Parameters
    ----------
    casting : the plan to judge.
    piano, players, kit : what the plan was made for; the players may be more than the casting uses.
    """
    plan = _plan(casting, piano, players, kit)
    return tuple(breach for rule in RULES for breach in rule.breaches(plan))


def levels(casting: Casting, kit: Kit) -> tuple[int, ...]:
    """The six levels of the objective, recomputed from the casting alone; lower is better.

    Returns uncast, risk (ms), moves, returns, memory and load (ms), in this order.
    """
    tasks = _tasks(casting, kit)
    return (
        _uncast_level(casting),
        _risk_level(casting, tasks),
        _moves_level(tasks),
        _returns_level(tasks),
        _memory_level(tasks),
        _load_level(casting, tasks),
    )


# The plan as the judge sees it: rows joined with what their ids refer to.


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """One cast row joined with its figure, player, place, implements and technique row."""

    figure: Figure
    cast: CastFigure
    player: CastPlayer
    place: Place
    tools: tuple[Implement, ...]
    row: TechniqueRow

    def contacts(self, role: str) -> tuple[Contact, ...]:
        return tuple(contact for contact in self.cast.contacts if contact.role == role)

    @property
    def extra_hands(self) -> int:
        """Hands that touch a node or mute, and so make no stroke."""
        return (self.figure.touch is not None) + (self.figure.mute is Mute.FINGER)

    @property
    def striking_hands(self) -> int:
        return len(self.cast.hands) - self.extra_hands


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stay:
    """A player busy at one place for a time: a figure or a chore."""

    name: str
    start_s: float
    end_s: float
    player: CastPlayer
    place: Place
    hands: tuple[str, ...]
    tools: tuple[Implement, ...]
    bar: str
    figures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """A casting with what it was made for; `tasks` and `stays` leave out rows whose ids lead nowhere."""

    casting: Casting
    piano: Piano
    people: Mapping[str, Player]
    kit: Kit
    tasks: tuple[_Task, ...]
    stays: tuple[_Stay, ...]

    @property
    def times(self) -> Times:
        return self.casting.times

    def course(self, key: Key | None) -> Course | None:
        return next((course for course in self.piano.courses if course.key == key), None)

    def stock(self, kind: str) -> Stock | None:
        return next((stock for stock in self.kit.stock if stock.kind == kind), None)


def _plan(casting: Casting, piano: Piano, players: tuple[Player, ...], kit: Kit) -> _Plan:
    tasks = _tasks(casting, kit)
    stays = sorted((*_figure_stays(tasks), *_chore_stays(casting)), key=lambda stay: (stay.start_s, stay.end_s))
    people_by_id = {player.id: player for player in players}
    return _Plan(casting=casting, piano=piano, people=people_by_id, kit=kit, tasks=tasks, stays=tuple(stays))


def _tasks(casting: Casting, kit: Kit) -> tuple[_Task, ...]:
    figures = {figure.id: figure for figure in casting.figures}
    players = {player.id: player for player in casting.players}
    places = {place.id: place for place in casting.places}
    tools = {implement.id: implement for implement in casting.implements}
    found = [
        _Task(
            figure=figures[cast.figure],
            cast=cast,
            player=players[cast.player],
            place=places[cast.place],
            tools=tuple(tools[name] for name in cast.implements if name in tools),
            row=kit.rows[figures[cast.figure].technique],
        )
        for cast in casting.cast
        if cast.figure in figures and cast.player in players and cast.place in places
    ]
    return tuple(sorted(found, key=lambda task: (task.figure.start_s, task.figure.end_s, task.figure.id)))


def _figure_stays(tasks: Sequence[_Task]) -> Iterator[_Stay]:
    for task in tasks:
        yield _Stay(
            name=_said(task.figure),
            start_s=task.figure.start_s,
            end_s=task.figure.end_s,
            player=task.player,
            place=task.place,
            hands=task.cast.hands,
            tools=task.tools,
            bar=f"bar {task.figure.bar}",
            figures=(task.figure.id,),
        )


def _chore_stays(casting: Casting) -> Iterator[_Stay]:
    players = {player.id: player for player in casting.players}
    places = {place.id: place for place in casting.places}
    for chore in casting.chores:
        if chore.player in players and chore.place in places:
            yield _Stay(
                name=f"the chore {chore.id} ({chore.kind})",
                start_s=chore.start_s,
                end_s=chore.end_s,
                player=players[chore.player],
                place=places[chore.place],
                hands=chore.hands,
                tools=(),
                bar=f"the chore {chore.id}",
                figures=(),
            )


# Words.


def _said(figure: Figure) -> str:
    where = figure.spot or " ".join(label(key) for key in figure.keys)
    return f"{figure.id} ({figure.technique.value} {where}, bar {figure.bar})"


def _tool_said(tool: Implement) -> str:
    return f"the {tool.kind}" if tool.key is None else f"the {label(tool.key)} {tool.kind}"


def _up_s(value_s: float) -> str:
    return f"{math.ceil(1000.0 * value_s - WHOLE_TIE) / 1000.0:g} s"


def _down_s(value_s: float) -> str:
    return f"{math.floor(1000.0 * value_s + WHOLE_TIE) / 1000.0:g} s"


def _joined(deeds: Sequence[str]) -> str:
    return deeds[0] if len(deeds) == 1 else ", ".join(deeds[:-1]) + " and " + deeds[-1]


# Time and space.


def _overlap(a: _Stay, b: _Stay, before_s: float = 0.0) -> bool:
    """Whether two stays share a moment, each begun `before_s` early; both are half-open in time."""
    return a.start_s - before_s < b.end_s - TIE_S and b.start_s - before_s < a.end_s - TIE_S


def _tasks_overlap(a: Figure, b: Figure) -> bool:
    return a.start_s < b.end_s - TIE_S and b.start_s < a.end_s - TIE_S


def _task_pairs(tasks: Iterable[_Task]) -> Iterator[tuple[_Task, _Task]]:
    """Overlapping tasks, the earlier start first."""
    return (pair for pair in combinations(tasks, 2) if _tasks_overlap(pair[0].figure, pair[1].figure))


def _by_player(stays: Iterable[_Stay]) -> Iterator[tuple[_Stay, ...]]:
    found: dict[str, list[_Stay]] = {}
    for stay in stays:
        found.setdefault(stay.player.id, []).append(stay)
    return (tuple(group) for group in found.values())


def _at(contact: Contact) -> Point:
    return Point(x_mm=contact.x_mm, y_mm=contact.y_mm)


def _reach_need_mm(task: _Task) -> float:
    """The farthest contact from the place; 0 without any."""
    return max((task.place.at.distance_mm(_at(contact)) for contact in task.cast.contacts), default=0.0)


def _along_rim_mm(casting: Casting, a: Place, b: Place) -> float:
    apart_mm = abs(a.along_rim_mm - b.along_rim_mm) % casting.rim_length_mm
    return min(apart_mm, casting.rim_length_mm - apart_mm)


# H1.


def _whole(plan: _Plan) -> Iterator[Breach]:
    cast = Counter(row.figure for row in plan.casting.cast)
    uncast = Counter(row.figure for row in plan.casting.uncast)
    for figure in plan.casting.figures:
        given, left = cast[figure.id], uncast[figure.id]
        if given + left == 0:
            yield _h1(figure, "nobody plays it, and it is not listed as uncast")
        elif given > 1:
            yield _h1(figure, f"it is given {given} times")
        elif given and left:
            yield _h1(figure, "it is given to a player and listed as uncast")
        elif left > 1:
            yield _h1(figure, f"it is listed as uncast {left} times")
    for row in plan.casting.uncast:
        if not (row.rule.strip() and row.reason.strip()):
            yield Breach(rule="H1", message=f"{row.figure} is uncast without a reason.", figures=(row.figure,))


def _h1(figure: Figure, what: str) -> Breach:
    return Breach(rule="H1", message=f"{_said(figure)}: {what}.", figures=(figure.id,))


# H2.


def _hands(plan: _Plan) -> Iterator[Breach]:
    yield from (breach for task in plan.tasks for breach in _own_hands(plan, task))
    for group in _by_player(plan.stays):
        for a, b in combinations(group, 2):
            if _overlap(a, b):
                yield from _together(a, b)


def _hands_needed(plan: _Plan, task: _Task) -> int:
    """Hands that a figure asks for however slow it is; H10 asks for a second one when it is fast."""
    bowed = task.figure.technique is Technique.LINE_BOW
    return (plan.kit.line_bow_hands if bowed else task.row.hands) + task.extra_hands


def _own_hands(plan: _Plan, task: _Task) -> Iterator[Breach]:
    need, given = _hands_needed(plan, task), len(set(task.cast.hands))
    if need > len(HANDS):
        yield _h2(f"{_said(task.figure)} needs {need} hands; nobody has more than two.", task.figure.id)
    elif given < need:
        yield _h2(
            f"{task.player.name} needs {need} hands for {_said(task.figure)} and is given {given}.", task.figure.id
        )


def _together(a: _Stay, b: _Stay) -> Iterator[Breach]:
    if shared := set(a.hands) & set(b.hands):
        hands = " and ".join(sorted(shared))
        yield _h2(f"{a.player.name}'s {hands} hand is asked for {a.name} and {b.name} at once.", *a.figures, *b.figures)
    if a.place.id != b.place.id:
        where = f"at {a.place.id} for {a.name} and at {b.place.id} for {b.name}"
        yield _h2(f"{a.player.name} would have to stand {where} at once.", *a.figures, *b.figures)


def _h2(message: str, *figures: str) -> Breach:
    return Breach(rule="H2", message=message, figures=figures)


# H3.


def _reach(plan: _Plan) -> Iterator[Breach]:
    for task in plan.tasks:
        yield from _near_enough(plan, task)
        yield from _all_met(task)
        yield from _keyboard(task)
        for contact in task.cast.contacts:
            if (course := plan.course(contact.key)) is not None and contact.from_near_end_mm is not None:
                yield from _open(plan, task, contact, course, contact.from_near_end_mm)


def _h3(task: _Task, message: str) -> Breach:
    return Breach(rule="H3", message=message, figures=(task.figure.id,))


def _near_enough(plan: _Plan, task: _Task) -> Iterator[Breach]:
    need_mm, full_mm = _reach_need_mm(task), task.player.reach_mm
    where = f"{_said(task.figure)} from {task.place.id}"
    if need_mm > full_mm + TIE_MM:
        yield _h3(task, f"{task.player.name} reaches {full_mm:.1f} mm; {where} is {need_mm:.1f} mm away.")
    leans = need_mm > task.player.comfortable_reach_mm + TIE_MM
    lasts_s = task.figure.end_s - task.figure.start_s
    if leans and lasts_s > LEAN_LIMIT_S + TIE_S:
        yield _h3(task, f"{task.player.name} would lean {_up_s(lasts_s)} for {where}; {LEAN_LIMIT_S:g} s is the most.")


def _all_met(task: _Task) -> Iterator[Breach]:
    """Each course is played, touched and muted as the figure says, and nothing else is."""
    figure = task.figure
    courses: set[Key | str | None] = {figure.spot} if figure.spot is not None else set(figure.keys)
    wanted = {
        "play": courses,
        "touch": courses if figure.touch is not None else set(),
        "mute": courses if figure.mute is Mute.FINGER else set(),
    }
    for role, expected in wanted.items():
        met = {contact.spot if contact.key is None else contact.key for contact in task.contacts(role)}
        if met != expected:
            said = " ".join(sorted(_met_said(thing) for thing in expected ^ met))
            yield _h3(task, f"{_said(task.figure)}: its {role} contacts do not agree with it about {said}.")


def _met_said(thing: Key | str | None) -> str:
    return label(Key(thing)) if isinstance(thing, int) else str(thing)


def _keyboard(task: _Task) -> Iterator[Breach]:
    at_keys = [c for c in task.contacts("play") if c.key is not None and c.from_near_end_mm is None]
    if task.row.at_keyboard and not task.place.at_keyboard:
        yield _h3(task, f"{task.player.name} cannot play {_said(task.figure)}: {task.place.id} is not at the keyboard.")
    if task.row.at_keyboard and len(at_keys) < len(task.contacts("play")):
        yield _h3(task, f"{_said(task.figure)} is played on the keys, not on the strings.")
    if not task.row.at_keyboard and at_keys:
        yield _h3(task, f"{_said(task.figure)} is played on the strings, and it is not said where along them.")


def _open(plan: _Plan, task: _Task, contact: Contact, course: Course, at_mm: float) -> Iterator[Breach]:
    if contact.role == "touch":
        closed = _off_node(task.figure, course, at_mm) or _covered(plan.piano, course, at_mm, 0.0, damper=True)
    else:
        closed = _closed(plan.piano, course, task.row.window, at_mm)
    if closed:
        yield _h3(task, f"{_said(task.figure)}: at {at_mm:.1f} mm on {label(course.key)} {closed}.")


def _off_node(figure: Figure, course: Course, at_mm: float) -> str | None:
    if figure.touch is None:
        return None
    node_mm = course.length_mm * figure.touch.k / figure.touch.n
    away = abs(at_mm - node_mm) > TIE_MM
    return f"the finger misses node {figure.touch.k}/{figure.touch.n} at {node_mm:.1f} mm" if away else None


def _closed(piano: Piano, course: Course, window: Window, at_mm: float) -> str | None:
    """Why a tool may not work here, or None.

    The contact itself keeps clear of the two ends; all that the tool covers keeps clear of what is in the way.
    """
    length_mm = course.length_mm
    if not window.from_share * length_mm - TIE_MM <= at_mm <= window.to_share * length_mm + TIE_MM:
        return "the technique does not work"
    if at_mm < window.clear_of_near_mm - TIE_MM:
        return f"it is nearer than {window.clear_of_near_mm:g} mm to the near end"
    if at_mm > length_mm - window.clear_of_far_mm + TIE_MM:
        return f"it is nearer than {window.clear_of_far_mm:g} mm to the far end"
    return _covered(piano, course, at_mm, window.half_width_mm, damper=window.clear_of_damper)


def _covered(piano: Piano, course: Course, at_mm: float, half_mm: float, *, damper: bool) -> str | None:
    """What lies over the `half_mm` to both sides of a contact, in words, or None."""
    felt = course.damper
    low_mm, high_mm = at_mm - half_mm + TIE_MM, at_mm + half_mm - TIE_MM
    if damper and felt is not None and low_mm < felt.to_mm and high_mm > felt.from_mm:
        return "the damper felt is in the way"
    for strut in piano.struts:
        if any(_in_band(course.at(mm), strut) for mm in _steps(low_mm, high_mm, course.length_mm)):
            return f"{strut.name} is in the way"
    for section, (first_mm, last_mm) in _strings_over(piano, course).items():
        if low_mm < last_mm + OVERHEAD_CLEARANCE_MM and high_mm > first_mm - OVERHEAD_CLEARANCE_MM:
            return f"the strings of the {section} pass over it"
    return None


def _steps(low_mm: float, high_mm: float, length_mm: float) -> list[float]:
    """Points of the speaking length, every mm from one edge of the tool to the other; its middle when it is thin."""
    if low_mm >= high_mm:
        return [(low_mm + high_mm) / 2.0]
    steps = [*(low_mm + step for step in range(math.ceil(high_mm - low_mm))), high_mm]
    return [mm for mm in steps if 0.0 <= mm <= length_mm]


def _strings_over(piano: Piano, course: Course) -> dict[str, tuple[float, float]]:
    """For each higher section that crosses a course: the first and the last crossing string, mm from its near end."""
    found: dict[str, list[float]] = {}
    for other in piano.courses:
        if other.section != course.section and other.height_mm >= course.height_mm + OVER_HEIGHT_MM:
            found.setdefault(other.section, []).extend(_crossing_mm(course, other))
    return {section: (min(edges), max(edges)) for section, edges in found.items() if edges}


def _crossing_mm(course: Course, other: Course) -> tuple[float, ...]:
    """The two edges of another course where it crosses this one, mm from the near end; none when they do not cross."""
    (near_along, near_aside), (far_along, far_aside) = (_beside_mm(course, end) for end in (other.near, other.far))
    if near_aside * far_aside > 0.0 or near_aside == far_aside:
        return ()
    plan_mm = course.near.distance_mm(course.far)
    along_mm = near_along + near_aside / (near_aside - far_aside) * (far_along - near_along)
    if not 0.0 <= along_mm <= plan_mm:
        return ()
    sine = max(0.05, abs(far_aside - near_aside) / other.near.distance_mm(other.far))
    half_mm = ((other.strings - 1) * other.spacing_mm + (other.wrap_mm or other.wire_mm)) / 2.0 / sine
    at_mm = along_mm * course.length_mm / plan_mm
    return (at_mm - half_mm, at_mm + half_mm)


def _beside_mm(course: Course, point: Point) -> tuple[float, float]:
    """A point seen from a course: how far along it and how far to its left, mm."""
    plan_mm = course.near.distance_mm(course.far)
    ux, uy = (course.far.x_mm - course.near.x_mm) / plan_mm, (course.far.y_mm - course.near.y_mm) / plan_mm
    px, py = point.x_mm - course.near.x_mm, point.y_mm - course.near.y_mm
    return (px * ux + py * uy, py * ux - px * uy)


def _in_band(point: Point, strut: Strut) -> bool:
    dx_mm, dy_mm = strut.end.x_mm - strut.start.x_mm, strut.end.y_mm - strut.start.y_mm
    long_mm = math.hypot(dx_mm, dy_mm)
    px_mm, py_mm = point.x_mm - strut.start.x_mm, point.y_mm - strut.start.y_mm
    along_mm = (px_mm * dx_mm + py_mm * dy_mm) / long_mm
    aside_mm = abs(px_mm * dy_mm - py_mm * dx_mm) / long_mm
    return 0.0 <= along_mm <= long_mm and aside_mm < strut.width_mm / 2.0


# H4.


def _changes(plan: _Plan) -> Iterator[Breach]:
    for group in _by_player(plan.stays):
        for f, g in combinations(group, 2):
            gap_s = g.start_s - f.end_s
            need_s = _change_s(plan.casting, f, g)
            if not _overlap(f, g) and need_s > gap_s + TIE_S:
                deeds = _joined(_deeds(f, g))
                message = f"{f.player.name} needs {_up_s(need_s)} to {deeds}; {g.bar} leaves {_down_s(gap_s)}."
                yield Breach(rule="H4", message=message, figures=(*f.figures, *g.figures))


def _change_s(casting: Casting, f: _Stay, g: _Stay) -> float:
    """Time from the end of one stay to the start of the next of one player."""
    times = casting.times
    need_s = times.settle_s
    if f.place.id != g.place.id:
        need_s += times.turn_s + _along_rim_mm(casting, f.place, g.place) / times.walk_mm_per_s
    return need_s if _kept(f, g) else need_s + _longest_s(times.put_s, f.tools) + _longest_s(times.pick_s, g.tools)


def _kept(f: _Stay, g: _Stay) -> bool:
    """Whether both use implements and use the same."""
    return bool(f.tools) and {tool.id for tool in f.tools} == {tool.id for tool in g.tools}


def _longest_s(by_kind: Mapping[str, float], tools: Sequence[Implement]) -> float:
    return max((by_kind.get(tool.kind, 0.0) for tool in tools), default=0.0)


def _deeds(f: _Stay, g: _Stay) -> list[str]:
    deeds = [] if _kept(f, g) else [f"put down {_tool_said(tool)}" for tool in f.tools]
    if f.place.id != g.place.id:
        deeds.append(f"walk to {g.place.id}")
    if not _kept(f, g):
        deeds += [f"pick up {_tool_said(tool)}" for tool in g.tools]
    return [*deeds, "settle"]


# H5.


def _room(plan: _Plan) -> Iterator[Breach]:
    settle_s = plan.times.settle_s
    for a, b in combinations(plan.stays, 2):
        if a.player.id == b.player.id or not _overlap(a, b, settle_s):
            continue
        need_mm = (a.player.shoulder_breadth_mm + b.player.shoulder_breadth_mm) / 2.0
        apart_mm = min(a.place.at.distance_mm(b.place.at), _along_rim_mm(plan.casting, a.place, b.place))
        if apart_mm < need_mm - TIE_MM:
            yield Breach(
                rule="H5",
                message=f"{a.player.name} at {a.place.id} for {a.name} and {b.player.name} at {b.place.id} for {b.name}"
                f" have {apart_mm:.1f} mm between them; their shoulders need {need_mm:.1f} mm.",
                figures=(*a.figures, *b.figures),
            )


# H6.


def _tools(plan: _Plan) -> Iterator[Breach]:
    yield from _held_stock(plan)
    for task in plan.tasks:
        yield from _fits(plan, task)
        yield from _enough_tools(task)
        yield from (breach for tool in task.tools for breach in _usable(plan, task, tool))
    yield from _shared_tools(plan)


def _h6(message: str, *figures: str) -> Breach:
    return Breach(rule="H6", message=message, figures=figures)


def _held_stock(plan: _Plan) -> Iterator[Breach]:
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


def _fits(plan: _Plan, task: _Task) -> Iterator[Breach]:
    figure, fits = task.figure, task.row.fits
    if (fits == "spot") != (figure.spot is not None):
        yield _h6(f"{_said(figure)}: this technique is for {'a spot' if fits == 'spot' else 'strings'}.", figure.id)
    for key in figure.keys:
        course = plan.course(key)
        if course is not None and fits in ("plain", "wound") and course.wound != (fits == "wound"):
            yield _h6(f"{_said(figure)}: {label(key)} is not a {fits} course.", figure.id)
    if figure.technique is Technique.LINE_BOW and len(figure.keys) != 1:
        yield _h6(f"{_said(figure)}: one line bows one course.", figure.id)


def _enough_tools(task: _Task) -> Iterator[Breach]:
    """One for each striking hand; one for both hands together; one magnet for each course."""
    if not task.row.implement:
        need = 0
    elif task.row.hands == 1:
        need = max(1, task.striking_hands)
    else:
        need = len(task.figure.keys) if task.row.hands == 0 else 1
    given = len(set(task.cast.implements))
    if given != need or len(task.cast.implements) != given:
        yield _h6(f"{_said(task.figure)} needs {need} implements and is given {given}.", task.figure.id)


def _usable(plan: _Plan, task: _Task, tool: Implement) -> Iterator[Breach]:
    figure, stock = task.figure, plan.stock(tool.kind)
    if stock is None or figure.technique not in stock.serves:
        yield _h6(f"{_tool_said(tool)} does not serve {_said(figure)}.", figure.id)
    elif stock.per_pitch and (tool.key is None or set(figure.keys) != {tool.key}):
        yield _h6(f"{_tool_said(tool)} belongs to another course than {_said(figure)}.", figure.id)
    rest_mm = task.place.at.distance_mm(Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm))
    if rest_mm > task.player.reach_mm + TIE_MM:
        yield _h6(
            f"{task.player.name} reaches {task.player.reach_mm:.1f} mm; from {task.place.id} the rest of"
            f" {_tool_said(tool)} for {_said(figure)} is {rest_mm:.1f} mm away.",
            figure.id,
        )


def _shared_tools(plan: _Plan) -> Iterator[Breach]:
    for tool in plan.casting.implements:
        users = [task for task in plan.tasks if tool.id in task.cast.implements]
        for a, b in combinations(users, 2):
            yield from _handed_on(plan, tool, a, b)


def _handed_on(plan: _Plan, tool: Implement, a: _Task, b: _Task) -> Iterator[Breach]:
    names = f"{_said(a.figure)} and {_said(b.figure)}"
    gap_s = b.figure.start_s - a.figure.end_s
    need_s = plan.times.put_s.get(tool.kind, 0.0) + plan.times.pick_s.get(tool.kind, 0.0)
    if _tasks_overlap(a.figure, b.figure):
        yield _h6(f"{tool.id} is wanted for {names} at once.", a.figure.id, b.figure.id)
    elif a.player.id != b.player.id and need_s > gap_s + TIE_S:
        yield _h6(
            f"{a.player.name} puts {tool.id} back and {b.player.name} takes it in {_up_s(need_s)}; between {names}"
            f" there are {_down_s(gap_s)}.",
            a.figure.id,
            b.figure.id,
        )


# H7.


def _clear(plan: _Plan) -> Iterator[Breach]:
    for a, b in _task_pairs(plan.tasks):
        yield from _one_at_a_course(a, b)
        one = a.player.id == b.player.id
        need_mm = OWN_HANDS_CLEARANCE_MM if one else HAND_CLEARANCE_MM
        apart_mm = min((_at(p).distance_mm(_at(q)) for p in a.cast.contacts for q in b.cast.contacts), default=math.inf)
        if apart_mm < need_mm - TIE_MM:
            whose = f"{a.player.name}'s own hands" if one else f"{a.player.name}'s and {b.player.name}'s hands"
            yield _h7(f"{whose} need {need_mm:g} mm between them and have {apart_mm:.1f} mm", a, b)


def _one_at_a_course(a: _Task, b: _Task) -> Iterator[Breach]:
    if shared := sorted(set(a.figure.keys) & set(b.figure.keys)):
        yield _h7(f"{' '.join(label(key) for key in shared)} would be played twice at once", a, b)
    if a.figure.spot is not None and a.figure.spot == b.figure.spot:
        yield _h7(f"{a.figure.spot} would be played twice at once", a, b)


def _h7(what: str, a: _Task, b: _Task) -> Breach:
    message = f"{what}: {_said(a.figure)} and {_said(b.figure)}."
    return Breach(rule="H7", message=message, figures=(a.figure.id, b.figure.id))


# H8.


def _dampers(plan: _Plan) -> Iterator[Breach]:
    spans = _raised(plan)
    for task in plan.tasks:
        damped = [key for key in task.figure.keys if (c := plan.course(key)) is not None and c.damper is not None]
        if task.row.damper_up and damped and not _held_up(spans, task.figure.start_s, task.figure.end_s):
            names = " ".join(label(key) for key in damped)
            message = f"{_said(task.figure)}: no pedal keeps the damper of {names} up for its whole length."
            yield Breach(rule="H8", message=message, figures=(task.figure.id,))


def _raised(plan: _Plan) -> list[PedalAction]:
    """When all dampers are up: the damper pedal is down, or the sostenuto pedal went down after it and has them."""
    pedals = [action for action in plan.casting.pedals if action.pedal in plan.piano.pedals]
    open_spans = [action for action in pedals if action.pedal == Pedal.DAMPER]
    caught = [
        action
        for action in pedals
        if action.pedal == Pedal.SOSTENUTO
        and any(span.down_s < action.down_s - TIE_S and action.down_s < span.up_s - TIE_S for span in open_spans)
    ]
    return sorted((*open_spans, *caught), key=lambda action: action.down_s)


def _held_up(spans: Sequence[PedalAction], start_s: float, end_s: float) -> bool:
    """Whether spans hold without a break; one that begins just when the other ends lets the dampers fall."""
    held_s = max((span.up_s for span in spans if span.down_s <= start_s + TIE_S), default=-math.inf)
    if held_s <= start_s:
        return False
    for span in spans:
        if span.down_s < held_s - TIE_S:
            held_s = max(held_s, span.up_s)
    return held_s >= end_s - TIE_S


# H10.


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hit:
    """What one hand does at one moment: where its middle is, and which courses it sounds."""

    onset_s: float
    at: Point | None
    keys: frozenset[Key]


def _rate(plan: _Plan) -> Iterator[Breach]:
    for task in plan.tasks:
        why = _courses_too_fast(task) if task.row.hands == 0 else _too_fast(task, _at_once(plan, task))
        if why:
            message = f"{task.player.name} cannot play {_said(task.figure)}: {why}."
            yield Breach(rule="H10", message=message, figures=(task.figure.id,))


def _moments(figure: Figure) -> list[tuple[float, frozenset[Key]]]:
    """The moments of attack with the courses of each."""
    found: list[tuple[float, frozenset[Key]]] = []
    for stroke in sorted(figure.strokes, key=lambda stroke: stroke.onset_s):
        keys = frozenset() if stroke.key is None else frozenset({stroke.key})
        if found and stroke.onset_s - found[-1][0] <= TIE_S:
            found[-1] = (found[-1][0], found[-1][1] | keys)
        else:
            found.append((stroke.onset_s, keys))
    return found


def _at_once(plan: _Plan, task: _Task) -> int:
    """Courses that one hand sounds at once: what the technique allows, and a stick no more than it has sides."""
    if task.row.neighbours == 1 or not task.row.implement:
        return task.row.neighbours
    sides = [stock.sides for tool in task.tools if (stock := plan.stock(tool.kind)) is not None]
    return min([task.row.neighbours, *sides])


def _grips(keys: frozenset[Key], row: TechniqueRow, at_once: int) -> list[frozenset[Key]]:
    """The courses of one moment shared out among as few hands as can hold them, from the lowest up."""
    span, left, grips = max(row.span_keys, at_once), sorted(keys), list[frozenset[Key]]()
    while left:
        grip = [key for key in left if key < left[0] + span][:at_once]
        grips.append(frozenset(grip))
        left = left[len(grip) :]
    return grips or [frozenset()]


def _too_fast(task: _Task, at_once: int) -> str | None:
    """Why the striking hands cannot keep up; two hands of one tool move as one."""
    hands = 1 if task.row.hands > 1 else task.striking_hands
    moments = [(onset_s, _grips(keys, task.row, at_once)) for onset_s, keys in _moments(task.figure)]
    widest = max(len(grips) for _, grips in moments)
    if widest > hands:
        return f"one moment asks for {widest} hands and {max(hands, 0)} can strike"
    firsts = [_shared_out(task, moments, hands, first) for first in range(hands)]
    reasons = [next((why for hits in way if (why := _hand_too_fast(task.row, hits))), None) for way in firsts]
    return None if None in reasons else reasons[0]


def _shared_out(
    task: _Task, moments: Sequence[tuple[float, list[frozenset[Key]]]], hands: int, first: int
) -> list[list[_Hit]]:
    """What each hand does: strokes in turn from hand `first` on; a moment that needs all hands gets all."""
    given: list[list[_Hit]] = [[] for _ in range(hands)]
    turn = first
    for onset_s, grips in moments:
        if len(grips) == 1:
            given[turn].append(_hit(task, onset_s, grips[0]))
            turn = (turn + 1) % hands
        else:
            for hand, grip in enumerate(grips):
                given[hand].append(_hit(task, onset_s, grip))
    return given


def _hit(task: _Task, onset_s: float, keys: frozenset[Key]) -> _Hit:
    points = [_at(contact) for contact in task.contacts("play") if contact.key in keys]
    if not points:
        return _Hit(onset_s=onset_s, at=None, keys=keys)
    x_mm, y_mm = (sum(values) / len(points) for values in zip(*((p.x_mm, p.y_mm) for p in points), strict=True))
    return _Hit(onset_s=onset_s, at=Point(x_mm=x_mm, y_mm=y_mm), keys=keys)


def _hand_too_fast(row: TechniqueRow, hits: Sequence[_Hit]) -> str | None:
    for a, b in pairwise(hits):
        gap_s, need_s = b.onset_s - a.onset_s, 1.0 / row.repeat_limit_hz
        if need_s > gap_s + TIE_S:
            return f"a hand would strike twice in {_down_s(gap_s)}, and needs {_up_s(need_s)}"
        leap_s = _leap_s(row, a, b)
        if leap_s > gap_s + TIE_S:
            return f"a hand would leap to another course in {_down_s(gap_s)}, and needs {_up_s(leap_s)}"
    return None


def _leap_s(row: TechniqueRow, a: _Hit, b: _Hit) -> float:
    """Fitts's line between two courses; a hand on the keys need not leap within its own span."""
    if a.keys == b.keys or a.at is None or b.at is None:
        return 0.0
    leap_mm = a.at.distance_mm(b.at)
    within_span = row.at_keyboard and leap_mm <= row.span_keys * KEY_PITCH_MM
    return 0.0 if within_span else people.fitts_s(leap_mm, TARGET_WIDTH_MM)


def _courses_too_fast(task: _Task) -> str | None:
    """A technique without hands repeats on each course by itself."""
    for key in task.figure.keys:
        onsets_s = sorted(stroke.onset_s for stroke in task.figure.strokes if stroke.key == key)
        hits = [_Hit(onset_s=onset_s, at=None, keys=frozenset({key})) for onset_s in onsets_s]
        if why := _hand_too_fast(task.row, hits):
            return why
    return None


# H11.


def _permission(plan: _Plan) -> Iterator[Breach]:
    owner = plan.piano.permissions
    for task in plan.tasks:
        for name in sorted(_permissions(task) - owner.allowed):
            yield _h11(
                f"{_said(task.figure)}: the owner has not allowed {PERMISSIONS.get(name, name)}.", task.figure.id
            )
        if task.figure.spot in owner.forbidden_spots:
            yield _h11(f"{_said(task.figure)}: the owner has barred this spot.", task.figure.id)
    if "wedge" not in owner.allowed and any(action.by == "wedge" for action in plan.casting.pedals):
        yield _h11(f"The owner has not allowed {PERMISSIONS['wedge']}.")


def _permissions(task: _Task) -> frozenset[str]:
    fingers = task.figure.touch is not None or task.figure.mute is Mute.FINGER
    asked = {
        task.row.permission,
        "touch" if fingers else None,
        "mutes" if task.figure.mute is Mute.MOULDED else None,
    }
    return frozenset(name for name in asked if name is not None)


def _h11(message: str, *figures: str) -> Breach:
    return Breach(rule="H11", message=message, figures=figures)


# H12.


def _skill(plan: _Plan) -> Iterator[Breach]:
    for task in plan.tasks:
        person = plan.people.get(task.player.id)
        if person is not None and not person.plays(task.figure.technique):
            message = f"{person.name} does not play {task.figure.technique.value}: {_said(task.figure)}."
            yield Breach(rule="H12", message=message, figures=(task.figure.id,))


# Whether the casting is about things that exist.


def _ids(plan: _Plan) -> Iterator[Breach]:
    casting = plan.casting
    known = {
        "figure": [figure.id for figure in casting.figures],
        "player": [player.id for player in casting.players],
        "place": [place.id for place in casting.places],
        "implement": [implement.id for implement in casting.implements],
        "chore": [chore.id for chore in casting.chores],
    }
    for what, names in known.items():
        for name in (name for name, number in Counter(names).items() if number > 1):
            yield Breach(rule="ids", message=f"Two of the {what}s are called {name}.", figures=())
    for what, name, figures in _references(casting):
        if name not in known[what]:
            yield Breach(rule="ids", message=f"There is no {what} {name}.", figures=figures)
    yield from _odd_hands(casting)


def _references(casting: Casting) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Every id that one row uses for another: what it is, its name, and the figure that uses it."""
    for row in casting.cast:
        about = (row.figure,)
        yield from (("figure", row.figure, about), ("player", row.player, about), ("place", row.place, about))
        yield from (("implement", name, about) for name in row.implements)
    for left in casting.uncast:
        yield from (("figure", name, (left.figure,)) for name in (left.figure, *left.competing))
    for chore in casting.chores:
        yield from () if chore.player is None else (("player", chore.player, ()),)
        yield from () if chore.place is None else (("place", chore.place, ()),)
    for action in casting.pedals:
        yield from () if action.by in ("wedge", "unassigned") else (("player", action.by, ()),)


def _odd_hands(casting: Casting) -> Iterator[Breach]:
    for row in casting.cast:
        if len(set(row.hands)) != len(row.hands) or not set(row.hands) <= set(HANDS):
            yield Breach(
                rule="ids", message=f"{row.figure}: hands are left and right, each once.", figures=(row.figure,)
            )


def _people(plan: _Plan) -> Iterator[Breach]:
    """Bodies are what `people.py` gives on this piano; a measured reach goes before an estimate."""
    for player in plan.casting.players:
        if (person := plan.people.get(player.id)) is None:
            yield Breach(rule="people", message=f"Nobody in the ensemble is called {player.id}.", figures=())
            continue
        reach = person.reach(plan.piano.string_plane_mm)
        pairs = {
            "stature": (player.stature_mm, person.stature_mm),
            "full reach": (player.reach_mm, reach.full_mm),
            "comfortable reach": (player.comfortable_reach_mm, reach.comfortable_mm),
            "shoulder height": (player.shoulder_height_mm, person.shoulder_height_mm),
            "shoulder breadth": (player.shoulder_breadth_mm, person.shoulder_breadth_mm),
        }
        for what, (says, true) in pairs.items():
            if abs(says - true) > TIE_MM:
                message = f"{player.name}'s {what} is {true:.1f} mm on this piano; the casting says {says:.1f} mm."
                yield Breach(rule="people", message=message, figures=())


def _same_piano(plan: _Plan) -> Iterator[Breach]:
    casting, piano = plan.casting, plan.piano
    if casting.piano != piano.name or abs(casting.a4_hz - piano.a4_hz) > TIE_S:
        message = f"The casting is for {casting.piano} at {casting.a4_hz:g} Hz, not {piano.name} at {piano.a4_hz:g} Hz."
        yield Breach(rule="piano", message=message, figures=())
    if abs(casting.rim_length_mm - piano.rim_length_mm) > TIE_MM:
        yield Breach(rule="piano", message="The way round the rim is not this piano's.", figures=())
    there = {place.id: place for place in piano.places}
    for place in casting.places:
        if place.id not in there or not _same_place(place, there[place.id]):
            yield Breach(rule="piano", message=f"The place {place.id} is not where this piano has it.", figures=())
    for task in plan.tasks:
        if missing := [key for key in task.figure.keys if plan.course(key) is None]:
            names = " ".join(label(key) for key in missing)
            yield Breach(rule="piano", message=f"This piano has no {names}.", figures=(task.figure.id,))
        if task.figure.spot is not None and piano.spot(task.figure.spot) is None:
            yield Breach(rule="piano", message=f"This piano has no {task.figure.spot}.", figures=(task.figure.id,))


def _same_place(a: Place, b: Place) -> bool:
    near = a.at.distance_mm(b.at) <= TIE_MM and abs(a.along_rim_mm - b.along_rim_mm) <= TIE_MM
    return near and a.at_keyboard == b.at_keyboard and abs(a.heading_deg - b.heading_deg) <= TIE_MM


def _same_times(plan: _Plan) -> Iterator[Breach]:
    """The casting's times are the kit's: measured for the kind, else of the table of times, else the default."""
    says, kit = plan.casting.times, plan.kit.times
    pairs: dict[str, tuple[float | None, float]] = {
        "walking, mm/s": (says.walk_mm_per_s, kit.walk_mm_per_s),
        "turning": (says.turn_s, kit.turn_s),
        "settling": (says.settle_s, kit.settle_s),
    }
    for kind in sorted({tool.kind for tool in plan.casting.implements}):
        stock = plan.stock(kind)
        pick_s = _kit_time_s(None if stock is None else stock.pick_s, kit.pick_s.get(kind), DEFAULT_PICK_S)
        put_s = _kit_time_s(None if stock is None else stock.put_s, kit.put_s.get(kind), DEFAULT_PUT_S)
        pairs[f"picking up the {kind}"] = (says.pick_s.get(kind), pick_s)
        pairs[f"putting down the {kind}"] = (says.put_s.get(kind), put_s)
    for what, (said, true) in pairs.items():
        if said is None or abs(said - true) > WHOLE_TIE:
            yield Breach(rule="times", message=f"{what}: the kit says {true:g}, the casting {said}.", figures=())


def _kit_time_s(of_stock_s: float | None, of_times_s: float | None, default_s: float) -> float:
    return next((time_s for time_s in (of_stock_s, of_times_s) if time_s is not None), default_s)


def _contacts(plan: _Plan) -> Iterator[Breach]:
    for task in plan.tasks:
        for contact in task.cast.contacts:
            if (wrong := _misplaced(plan, contact)) is not None:
                yield Breach(rule="contacts", message=f"{_said(task.figure)}: {wrong}.", figures=(task.figure.id,))
    for tool in plan.casting.implements:
        course = plan.course(tool.key)
        if course is not None and tool.from_near_end_mm is not None:
            rest = Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm)
            if not _lies(course, tool.from_near_end_mm, rest):
                message = f"The rest of {tool.id} does not lie on {label(course.key)} where it says."
                yield Breach(rule="contacts", message=message, figures=())


def _misplaced(plan: _Plan, contact: Contact) -> str | None:
    """Why a contact is not where it says, or None."""
    if contact.key is None:
        spot = plan.piano.spot(contact.spot or "")
        off = spot is None or contact.from_near_end_mm is not None or spot.at.distance_mm(_at(contact)) > TIE_MM
        return f"the contact is not at {contact.spot}" if off else None
    if (course := plan.course(contact.key)) is None:
        return f"this piano has no {label(contact.key)}"
    if contact.from_near_end_mm is None:
        return None if _on_key(contact.key, contact) else f"the contact is not on the key {label(contact.key)}"
    on = _lies(course, contact.from_near_end_mm, _at(contact))
    return None if on else f"the contact does not lie on {label(contact.key)} where it says"


def _lies(course: Course, from_near_end_mm: float, point: Point) -> bool:
    inside = -TIE_MM <= from_near_end_mm <= course.length_mm + TIE_MM
    return inside and course.at(from_near_end_mm).distance_mm(point) <= TIE_MM


def _on_key(key: Key, contact: Contact) -> bool:
    middle_mm = (int(key) - 0.5) * KEY_PITCH_MM
    return abs(contact.x_mm - middle_mm) <= KEY_ASIDE_MM and 0.0 <= contact.y_mm <= KEY_LENGTH_MM


def _pedals(plan: _Plan) -> Iterator[Breach]:
    for action in plan.casting.pedals:
        if action.pedal not in plan.piano.pedals:
            yield Breach(rule="pedals", message=f"This piano has no {action.pedal} pedal.", figures=())
        if not action.up_s > action.down_s:
            message = f"The {action.pedal} pedal comes up before it goes down at {action.down_s:g} s."
            yield Breach(rule="pedals", message=message, figures=())


def _proof(plan: _Plan) -> Iterator[Breach]:
    levels_now = list(levels(plan.casting, plan.kit))
    bare = ["uncast", "risk", "moves", "returns", "memory", "load"]
    if plan.casting.like:
        bare.insert(1, "changed")
        levels_now.insert(1, sum(CHANGE_WEIGHTS.get(change.what, 0) for change in plan.casting.changes))
    names = tuple(f"{number} {name}" for number, name in enumerate(bare, start=1))
    true = dict(zip(names, levels_now, strict=True))
    said = {proof.level: proof for proof in plan.casting.proof}
    if [proof.level for proof in plan.casting.proof] != list(names):
        yield Breach(rule="proof", message=f"The proof must name the levels {', '.join(names)}.", figures=())
    for name, value in true.items():
        if name in said and said[name].value != value:
            message = f"Level {name} is {value}; the casting says {said[name].value}."
            yield Breach(rule="proof", message=message, figures=())
        if name in said and said[name].bound > said[name].value:
            yield Breach(rule="proof", message=f"Level {name} is below its own bound.", figures=())


# Levels of the objective.


def _uncast_level(casting: Casting) -> int:
    given = {row.figure for row in casting.cast}
    return sum(ESSENTIAL_WEIGHT if f.essential else 1 for f in casting.figures if f.id not in given)


def _risk_level(casting: Casting, tasks: Sequence[_Task]) -> int:
    changes_ms = sum(
        _shortfall_ms(f, g, _change_s(casting, f, g))
        for group in _by_player(_figure_stays(tasks))
        for f, g in combinations(group, 2)
        if not _overlap(f, g)
    )
    return changes_ms + sum(LEAN_RISK_MS_PER_S * _whole_s(task.figure) for task in tasks if _leans(task))


def _shortfall_ms(f: _Stay, g: _Stay, need_s: float) -> int:
    slack_s = g.start_s - f.end_s - need_s
    return max(0, math.ceil(1000.0 * (RESERVE_S - slack_s) - WHOLE_TIE))


def _whole_s(figure: Figure) -> int:
    return math.ceil(figure.end_s - figure.start_s - TIE_S)


def _leans(task: _Task) -> bool:
    """In whole mm, to the safe side: a distance up, a reach down."""
    distance_mm = math.ceil(_reach_need_mm(task) - WHOLE_TIE)
    return distance_mm > math.floor(task.player.comfortable_reach_mm + WHOLE_TIE)


def _moves_level(tasks: Sequence[_Task]) -> int:
    groups = _by_player(_figure_stays(tasks))
    return sum(a.place.id != b.place.id for group in groups for a, b in pairwise(group))


def _returns_level(tasks: Sequence[_Task]) -> int:
    players: dict[str, set[str]] = {}
    for task in tasks:
        players.setdefault(task.figure.motif, set()).add(task.player.id)
    return sum(len(who) - 1 for who in players.values())


def _memory_level(tasks: Sequence[_Task]) -> int:
    """Kinds of implement (those of one pitch apart) and motifs of the player with most."""
    kept: dict[str, set[tuple[str, str, Key | None]]] = {}
    for task in tasks:
        things = kept.setdefault(task.player.id, set())
        things.add(("motif", task.figure.motif, None))
        things.update(("kind", tool.kind, tool.key) for tool in task.tools)
    return max((len(things) for things in kept.values()), default=0)


def _load_level(casting: Casting, tasks: Sequence[_Task]) -> int:
    """Each figure's length counts in whole ms; a player without figures counts too."""
    busy_ms = dict.fromkeys((player.id for player in casting.players), 0)
    for task in tasks:
        busy_ms[task.player.id] += round(1000.0 * (task.figure.end_s - task.figure.start_s))
    return max(busy_ms.values(), default=0) - min(busy_ms.values(), default=0)


RULES: tuple[Rule, ...] = (
    Rule(id="H1", name="every figure is played whole, once, or listed with a reason", breaches=_whole),
    Rule(id="H2", name="nobody needs more than two hands, or two places at once", breaches=_hands),
    Rule(id="H3", name="every contact is within reach and open", breaches=_reach),
    Rule(id="H4", name="there is time to change", breaches=_changes),
    Rule(id="H5", name="there is room for every body", breaches=_room),
    Rule(id="H6", name="every implement is there, fits, and is in one hand at a time", breaches=_tools),
    Rule(id="H7", name="hands keep clear of each other", breaches=_clear),
    Rule(id="H8", name="strings that must ring are free of their dampers", breaches=_dampers),
    Rule(id="H10", name="no hand is too fast", breaches=_rate),
    Rule(id="H11", name="the owner has allowed it", breaches=_permission),
    Rule(id="H12", name="the player does this technique", breaches=_skill),
    Rule(id="ids", name="every name in the casting leads somewhere", breaches=_ids),
    Rule(id="people", name="bodies are the ensemble's, on this piano", breaches=_people),
    Rule(id="piano", name="the casting is for this piano", breaches=_same_piano),
    Rule(id="times", name="the times are the kit's", breaches=_same_times),
    Rule(id="contacts", name="contacts lie where they say", breaches=_contacts),
    Rule(id="pedals", name="the pedals exist and go down before they come up", breaches=_pedals),
    Rule(id="proof", name="the values of the proof are true", breaches=_proof),
)
"""All rules in the order in which they are judged."""
