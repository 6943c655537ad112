"""The kit that a casting needs, to be built: every implement with its size, and spares; what is there against it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from rimside.casting.allowances import chore_s
from rimside.casting.chore import ChoreKind
from rimside.casting.result import CastFigure, Casting, Contact
from rimside.kit import Kit, Stock
from rimside.making import FAILS_PER_SHOW, MUTE, MUTE_FAILS_PER_SHOW, WEDGE, WEDGE_FAILS_PER_SHOW, Making
from rimside.piano.model import Course, Piano
from rimside.piano.resting import beside
from rimside.pitch import Key
from rimside.score.model import Mute, Technique

Span = tuple[float, float]
MOST_COURSES = 3
"""Courses under one moulded mute."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One measure of a piece."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Alike implements: `keys` are the courses that they belong to, none for those of any pitch.

    `count` is how many a piece of music needs at once, `fails_per_show` how many of one fail at a show. `source` says
    what its sizes rest on.
    """

    kind: str
    keys: tuple[Key, ...] = ()
    count: int
    fails_per_show: float
    sizes: tuple[Size, ...] = ()
    source: str = ""

    def size(self, name: str) -> float:
        """One of its measures; 0 when it has none of this name."""
        return next((one.value for one in self.sizes if one.name == name), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A piece of kit over all productions: needed, in the box, spares to take, and what has still to be made.

    `there` is None for kinds that the kit file does not list: nobody has counted them.
    """

    piece: Piece
    needed_by: tuple[str, ...]
    there: int | None
    spares: int
    unit_cost: float | None = None

    @property
    def make(self) -> int:
        """How many have to be made."""
        return max(0, self.piece.count + self.spares - (self.there or 0))

    @property
    def short(self) -> bool:
        """Whether fewer are in the box than the music needs at once, spares aside."""
        return self.there is not None and self.there < self.piece.count


def pieces(casting: Casting, piano: Piano, kit: Kit) -> tuple[Piece, ...]:
    """Everything that this casting needs, kinds in the order of the kit file, pitches ascending."""
    order = {stock.kind: number for number, stock in enumerate(kit.stock)}
    found = [*_held(casting, piano, kit), *_mutes(casting, piano, kit), *_wedges(casting, kit)]
    return tuple(sorted(found, key=lambda one: (order.get(one.kind, len(order)), one.kind, one.keys)))


def spares(count: int, fails_per_show: float, shows: int, risk: float) -> int:
    """The fewest spares with which the chance of running short stays within a risk.

    Failures are taken as independent and rare: a Poisson process with mean count x rate x shows (each failure costs one
    implement). Source: the Poisson distribution as given by any handbook of statistics.
    """
    mean = count * fails_per_show * shows
    if mean == 0.0:
        return 0
    spare, total = 0, math.exp(-mean)
    while 1.0 - total > risk:
        spare += 1
        # by its logarithm: exp(-mean) alone is 0 for great means
        total += math.exp(spare * math.log(mean) - mean - math.lgamma(spare + 1))
    return spare


def orders(needs: Mapping[str, tuple[Piece, ...]], kit: Kit, shows: int) -> tuple[Order, ...]:
    """What several productions need of one kit: of each piece the most that any of them needs, the largest of sizes.

    Productions follow one another, so an implement serves all of them; `shows` are counted over all.
    """
    most: dict[tuple[str, tuple[Key, ...]], Piece] = {}
    users: dict[tuple[str, tuple[Key, ...]], list[str]] = {}
    for name, rows in needs.items():
        for piece in rows:
            at = (piece.kind, piece.keys)
            most[at] = _larger(most[at], piece) if at in most else piece
            users.setdefault(at, []).append(name)
    return tuple(_order(piece, tuple(users[at]), kit, shows) for at, piece in most.items())


def _larger(one: Piece, other: Piece) -> Piece:
    sizes = tuple(replace(size, value=max(size.value, other.size(size.name))) for size in one.sizes)
    return replace(one, count=max(one.count, other.count), sizes=sizes)


def _order(piece: Piece, users: tuple[str, ...], kit: Kit, shows: int) -> Order:
    stock = next((row for row in kit.stock if row.kind == piece.kind), None)
    there = None if stock is None else stock.count
    if stock is not None and stock.per_pitch and stock.pitches is not None and not set(piece.keys) <= stock.pitches:
        there = 0
    extra = spares(piece.count, piece.fails_per_show, shows, kit.making.spare_risk)
    return Order(piece=piece, needed_by=users, there=there, spares=extra,
                 unit_cost=None if stock is None else stock.unit_cost)  # fmt: skip


def idle(needs: Mapping[str, tuple[Piece, ...]], kit: Kit) -> tuple[tuple[str, int], ...]:
    """Kinds in the kit, and how many of them no production needs at any time."""
    used = {stock.kind: max((_used(rows, stock) for rows in needs.values()), default=0) for stock in kit.stock}
    return tuple(
        (stock.kind, _owned(stock) - used[stock.kind]) for stock in kit.stock if _owned(stock) > used[stock.kind]
    )


def _owned(stock: Stock) -> int:
    """For kinds that belong to pitches, as many as there are pitches told; those for every pitch are not counted."""
    if not stock.per_pitch:
        return stock.count
    return 0 if stock.pitches is None else stock.count * len(stock.pitches)


def _used(rows: Iterable[Piece], stock: Stock) -> int:
    return sum(piece.count for piece in rows if piece.kind == stock.kind)


# --- what hands hold --------------------------------------------------------------------------------------------------


def _held(casting: Casting, piano: Piano, kit: Kit) -> Iterator[Piece]:
    """Implements that figures use, those of one kind and pitch together."""
    contacts: dict[tuple[str, Key | None], list[Contact]] = {}
    sides: dict[tuple[str, Key | None], int] = {}
    tools: dict[tuple[str, Key | None], set[str]] = {}
    by_id = {one.id: one for one in casting.implements}
    for row in casting.cast:
        for name in row.implements:
            tool = by_id[name]
            at = (tool.kind, tool.key)
            tools.setdefault(at, set()).add(name)
            contacts.setdefault(at, []).extend(row.contacts)
            sides[at] = max(sides.get(at, 1), _sides(row))
    for (kind, key), names in tools.items():
        stock = next((row for row in kit.stock if row.kind == kind), None)
        if stock is not None:
            met = {
                piano.course(one.key)
                for one in contacts[kind, key]
                if one.key is not None and one.from_near_end_mm is not None
            }
            yield _tool(
                stock, key, len(names), _sizes(min(stock.serves), sides[kind, key], met, piano, kit.making), kit
            )


def _sides(row: CastFigure) -> int:
    """How many courses one implement sounds at once: a stick with hair on both sides, two."""
    played = {one.key for one in row.contacts if one.key is not None and one.role == "play"}
    return max(1, min(2, math.ceil(len(played) / max(1, len(row.implements)))))


def _tool(stock: Stock, key: Key | None, count: int, sized: _Sized, kit: Kit) -> Piece:
    technique = min(stock.serves)
    sizes, names = sized
    rate = FAILS_PER_SHOW[technique] if stock.fails_per_show is None else stock.fails_per_show
    return Piece(
        kind=stock.kind,
        keys=() if key is None else (key,),
        count=count,
        fails_per_show=rate,
        sizes=sizes,
        source=kit.making.source(*names) if names else "",
    )


_Sized = tuple[tuple[Size, ...], tuple[str, ...]]


def _sizes(technique: Technique, sides: int, courses: set[Course], piano: Piano, making: Making) -> _Sized:
    """The measures of one implement, and the names of the workshop's measures that they follow from."""
    match technique:
        case Technique.LINE_BOW:
            length_mm = max((line_mm(course, making) for course in courses), default=0.0)
            rows = (Size(name="line", value=length_mm, unit="mm"), Size(name="strands", value=making.strands, unit=""))
            return rows, ("hands_apart_mm", "working_height_mm", "stroke_mm", "handle_mm", "strands")
        case Technique.STICK_BOW:
            hair = Size(name="hair on each side", value=making.hair_mm, unit="mm")
            stick = Size(name="stick", value=making.stick_mm, unit="mm")
            return (Size(name="sides", value=sides, unit=""), stick, hair), ("stick_mm", "hair_mm")
        case Technique.FRICTION_STRIP:
            rows = (Size(name="strip", value=making.strip_mm, unit="mm"),
                    Size(name="width", value=making.strip_width_mm, unit="mm"))  # fmt: skip
            return rows, ("strip_mm", "strip_width_mm")
        case Technique.HANDLED_PLECTRUM | Technique.FELT_HAMMER | Technique.WOOD_HAMMER:
            least_mm = making.hammer_mm if technique is not Technique.HANDLED_PLECTRUM else 0.0
            handle_mm = max([least_mm, *(handle_over_rim_mm(course, piano, making) for course in courses)])
            return (Size(name="handle", value=handle_mm, unit="mm"),), ("hammer_mm", "clear_of_rim_mm")
        case _:
            return (), ()


def line_mm(course: Course, making: Making) -> float:
    """Length of the line of a bow, rounded up to what is cut, mm.

    Under the course, up on both sides to two hands (a straight line each), the stroke, and both handles.
    """
    under_mm = breadth_mm(course)
    aside_mm = max(0.0, (making.hands_apart_mm - under_mm) / 2.0)
    rise_mm = math.hypot(aside_mm, making.working_height_mm)
    length_mm = under_mm + 2.0 * rise_mm + making.stroke_mm + 2.0 * making.handle_mm
    return math.ceil(length_mm / making.cut_mm - 1e-9) * making.cut_mm


def breadth_mm(course: Course) -> float:
    """From the outside of the first string of a course to the outside of its last, mm."""
    return (course.strings - 1) * course.spacing_mm + (course.wrap_mm or course.wire_mm)


def handle_over_rim_mm(course: Course, piano: Piano, making: Making) -> float:
    """A handle that keeps the hand clear of the rim while its tip is on the string, mm, in whole cm."""
    over_mm = max(0.0, piano.rim_height_mm - course.height_mm) + making.clear_of_rim_mm
    return math.ceil(over_mm / 10.0) * 10.0


# --- moulded mutes and wedges -----------------------------------------------------------------------------------------


def _mutes(casting: Casting, piano: Piano, kit: Kit) -> Iterator[Piece]:
    """One mute for each group of courses that may be muted together."""
    making = kit.making
    rate = next((s.fails_per_show for s in kit.stock if s.kind == MUTE and s.fails_per_show is not None), None)
    for keys in mute_groups(casting, piano, kit):
        courses = [piano.course(key) for key in keys]
        across_mm = mute_across_mm(courses, piano, making)
        volume_cm3 = across_mm * making.mute_along_mm * making.mute_thick_mm / 1000.0
        grams = volume_cm3 * making.putty_g_per_cm3 * (1.0 + making.putty_waste)
        yield Piece(
            kind=MUTE,
            keys=keys,
            count=1,
            fails_per_show=MUTE_FAILS_PER_SHOW if rate is None else rate,
            sizes=(
                Size(name="courses", value=len(keys), unit=""),
                Size(name="strings", value=sum(course.strings for course in courses), unit=""),
                Size(name="across", value=round(across_mm, 1), unit="mm"),
                Size(name="along", value=making.mute_along_mm, unit="mm"),
                Size(name="high", value=making.mute_thick_mm, unit="mm"),
                Size(name="compound", value=round(grams, 1), unit="g"),
            ),
            source=making.source("mute_over_mm", "mute_along_mm", "mute_thick_mm", "putty_g_per_cm3", "putty_waste"),
        )


def mute_across_mm(courses: list[Course], piano: Piano, making: Making) -> float:
    """Breadth of a mute over neighbouring courses, at the middle of their strings, mm.

    Its margin on either side ends half-way to the next course of the section.
    """
    middles = [course.at(course.length_mm / 2.0) for course in courses]
    strings_mm = middles[0].distance_mm(middles[-1]) + (breadth_mm(courses[0]) + breadth_mm(courses[-1])) / 2.0
    margins_mm = (
        min(making.mute_over_mm, _free_mm(course, step, piano) / 2.0)
        for course, step in ((courses[0], -1), (courses[-1], 1))
    )
    return strings_mm + sum(margins_mm)


def _free_mm(course: Course, step: int, piano: Piano) -> float:
    """What is free between a course and the next of its section, at the middle of its strings, mm."""
    other = next((c for c in piano.courses if c.key == course.key + step and c.section == course.section), None)
    if other is None:
        return math.inf
    _, away_mm = beside(other, course.at(course.length_mm / 2.0))
    return max(0.0, away_mm - (breadth_mm(course) + breadth_mm(other)) / 2.0)


def mute_groups(casting: Casting, piano: Piano, kit: Kit) -> tuple[tuple[Key, ...], ...]:
    """Muted courses, up to three neighbours of a section together when none is wanted bare while another is muted.

    Around what is bare there must be time to lift the mute and to lay it again.
    """
    muted, bare = _mute_spans(casting)
    lift_s, lay_s = chore_s(kit, ChoreKind.LIFT), chore_s(kit, ChoreKind.LAY)
    clear = {key: [(a - lift_s, b + lay_s) for a, b in spans] for key, spans in bare.items()}
    groups: list[list[Key]] = []
    for key in sorted(muted):
        group = [*groups[-1], key] if groups else [key]
        near = all(b - a == 1 and piano.course(a).section == piano.course(b).section for a, b in pairwise(group))
        if groups and near and len(group) <= MOST_COURSES and not _clash(group, muted, bare, clear):
            groups[-1] = group
        else:
            groups.append([key])
    return tuple(map(tuple, groups))


def _mute_spans(casting: Casting) -> tuple[dict[Key, list[Span]], dict[Key, list[Span]]]:
    """When each course is played muted, and when bare."""
    muted: dict[Key, list[Span]] = {}
    bare: dict[Key, list[Span]] = {}
    left = {row.figure for row in casting.uncast}
    for figure in casting.figures:
        for key in () if figure.id in left else figure.keys:
            spans = muted if figure.mute is Mute.MOULDED else bare
            spans.setdefault(key, []).append((figure.start_s, figure.end_s))
    return muted, bare


def _clash(
    group: list[Key], muted: Mapping[Key, list[Span]], bare: Mapping[Key, list[Span]], clear: Mapping[Key, list[Span]]
) -> bool:
    """Whether one mute over the group would lie on a course that must be clear of it."""
    stays = [stay for key in group for stay in _stays(muted[key], bare.get(key, []))]
    wanted = [span for key in group for span in clear.get(key, [])]
    return any(start_s < until_s and since_s < end_s for since_s, until_s in stays for start_s, end_s in wanted)


def _stays(muted: list[Span], bare: list[Span]) -> list[Span]:
    """When a course's own mute lies: over muted figures that follow one another without a bare one between.

    The first is laid before the piece and the last lifted after it unless a bare figure comes before or after.
    """
    events = sorted([(span, True) for span in muted] + [(span, False) for span in bare])
    stays: list[Span] = []
    for _, run in groupby(events, key=lambda event: event[1]):
        spans = list(run)
        if spans[0][1]:
            since_s = -math.inf if spans[0] == events[0] else spans[0][0][0]
            until_s = math.inf if spans[-1] == events[-1] else max(end_s for (_, end_s), _ in spans)
            stays.append((since_s, until_s))
    return stays


def _wedges(casting: Casting, kit: Kit) -> Iterator[Piece]:
    """As many as pedals are wedged at once."""
    spans = [(action.down_s, action.up_s) for action in casting.pedals if action.by == WEDGE]
    wedged = Counter(one.kind for one in casting.chores)[ChoreKind.WEDGE.value]
    count = max((sum(a <= at < b for a, b in spans) for at, _ in spans), default=min(1, wedged))
    if count:
        rate = next((s.fails_per_show for s in kit.stock if s.kind == WEDGE and s.fails_per_show is not None), None)
        yield Piece(
            kind=WEDGE, count=count, fails_per_show=WEDGE_FAILS_PER_SHOW if rate is None else rate,
            source="cut to this piano: the gap over or under the pressed pedal",
        )  # fmt: skip
