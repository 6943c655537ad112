"""From figures, piano, people and kit to the problem: every option that a figure has before others get in its way."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from rimside.casting.chore import Chore, Muting, Need
from rimside.casting.chore_tasks import slots_of
from rimside.casting.contacts import contact_sets
from rimside.casting.objective import ESSENTIAL_WEIGHT
from rimside.casting.problem import HANDS, RESERVE_S, Lane, Problem, Task
from rimside.casting.rests import Demand, lay_rests
from rimside.casting.result import CastPlayer
from rimside.casting.rules import h02_hands, h03_reach, h06_tools, h08_dampers, h10_rate, h11_permission, h12_skill
from rimside.casting.scale import length_down_mm, length_up_mm, written_mm, written_s
from rimside.casting.touches import free_nodes
from rimside.errors import BadInput
from rimside.kit import (
    Implement,
    Kit,
    Stock,
    TechniqueRow,
)
from rimside.people import LEAN_LIMIT_S, Player
from rimside.piano.dampers import HeldKey
from rimside.piano.model import Piano, Place, Point
from rimside.pitch import label
from rimside.score.model import Figure, PedalSpan


def build_problem(
    figures: Iterable[Figure],
    piano: Piano,
    players: tuple[Player, ...],
    kit: Kit,
    pedals: tuple[PedalSpan, ...],
    *,
    chores: Iterable[Chore] = (),
    needs: Iterable[Need] = (),
    mutings: Iterable[Muting] = (),
    conflicts: Mapping[str, tuple[str, str]] | None = None,
    held: tuple[HeldKey, ...] = (),
    kinds: Mapping[str, frozenset[str]] | None = None,
    known: Mapping[Figure, Task] | None = None,
) -> Problem:
    """The whole question.

    Parameters
    ----------
    chores, needs : silent work inside the piece, and which figures cannot be played without it.
    mutings : courses that are muted for some of their figures, with the chores between these.
    conflicts : figures that cannot be played whatever is done, by id, each with its rule and reason.
    held : keys held silently, so that their courses ring.
    kinds : figures, by id, that only some kinds of implement may play; where none of these serves, any may.
    known : tasks of a problem with the same piano, players, kit and pedals, which need not be worked out again.

    Raises
    ------
    BadInput : no player, or a piano without a place to stand.
    """
    if not players:
        raise BadInput("nobody is there to play", where="ensemble")
    if not piano.places:
        raise BadInput("nobody can stand at this piano", where=f"piano {piano.name}")
    cast_players = tuple(_cast_player(player, piano) for player in players)
    spans = tuple(replace(span, down_s=written_s(span.down_s), up_s=written_s(span.up_s)) for span in pedals)
    ordered = sorted(map(_as_written, figures), key=lambda figure: (figure.start_s, figure.end_s, figure.id))
    maker = _TaskMaker(
        piano=piano, players=players, cast_players=cast_players, kit=kit, pedals=spans, held=held, kinds=kinds or {}
    )
    done = known or {}
    asked, needed = tuple(chores), tuple(needs)
    tasks = [_told(done[figure] if figure in done else maker.task(0, figure), conflicts or {}) for figure in ordered]
    silent = [task for chore in asked for task in slots_of(chore, piano, cast_players, ordered)]
    tasks = _numbered([*_without_help(tasks, silent, needed), *silent])
    counts = {stock.kind: stock.count for stock in kit.stock}
    shortest_mm = length_down_mm(min(player.reach_mm for player in cast_players))
    implements = lay_rests(piano, _wanted(tasks), counts, shortest_mm)
    return Problem(
        piano=piano,
        kit=kit,
        pedals=spans,
        players=cast_players,
        full_mm=tuple(length_down_mm(player.reach_mm) for player in cast_players),
        comfortable_mm=tuple(length_down_mm(player.comfortable_reach_mm) for player in cast_players),
        breadth_mm=tuple(player.shoulder_breadth_mm for player in cast_players),
        tasks=tuple(_with_implements(task, implements) for task in tasks),
        implements=tuple(implements),
        counts=counts,
        walk_s=_walks(piano, kit),
        apart_mm=_apart(piano),
        rest_mm=tuple(tuple(_rest_distance(i, place.at) for place in piano.places) for i in implements),
        lean_limit_s=LEAN_LIMIT_S,
        reserve_s=RESERVE_S,
        needs=needed,
        mutings=tuple(mutings),
    )


def _told(task: Task, conflicts: Mapping[str, tuple[str, str]]) -> Task:
    """A conflict is told unless another rule speaks already; the rule's own plan knows the reason best."""
    told = conflicts.get(task.work.id)
    own = task.barred is None or (told is not None and told[0] == task.barred[0])
    return replace(task, barred=told if own else task.barred)


def _without_help(tasks: list[Task], silent: list[Task], needs: tuple[Need, ...]) -> list[Task]:
    """Bar the figures of which every way to get ready asks for a chore that nobody can do."""
    hopeless = {task.work.id: task.barred[1] for task in silent if task.barred is not None}
    reasons: dict[str, tuple[str, str]] = {}
    for need in needs:
        stuck = [hopeless[chore] for way in need.ways for chore in way if chore in hopeless]
        if all(any(chore in hopeless for chore in way) for way in need.ways):
            reasons.setdefault(need.figure, (need.rule, stuck[0]))
    return [_told(task, reasons) for task in tasks]


def _numbered(tasks: list[Task]) -> list[Task]:
    """Tasks in order of start, numbered, the alternatives of a chore in one unit."""
    ordered = sorted(tasks, key=lambda task: (task.start_s, task.end_s, task.work.id))
    units: dict[str, int] = {}
    return [
        replace(task, index=index, unit=units.setdefault(task.work.id, len(units)))
        for index, task in enumerate(ordered)
    ]


def _as_written(figure: Figure) -> Figure:
    """The same figure with its moments as files write them."""
    strokes = (
        replace(stroke, onset_s=written_s(stroke.onset_s), until_s=written_s(stroke.until_s))
        for stroke in figure.strokes
    )
    start_s, end_s = written_s(figure.start_s), written_s(figure.end_s)
    return replace(figure, start_s=start_s, end_s=end_s, strokes=tuple(strokes))


def _cast_player(player: Player, piano: Piano) -> CastPlayer:
    reach = player.reach(piano.string_plane_mm)
    return CastPlayer(
        id=player.id,
        name=player.name,
        stature_mm=player.stature_mm,
        reach_mm=written_mm(reach.full_mm),
        comfortable_reach_mm=written_mm(reach.comfortable_mm),
        shoulder_height_mm=written_mm(player.shoulder_height_mm),
        shoulder_breadth_mm=written_mm(player.shoulder_breadth_mm),
    )


def _walks(piano: Piano, kit: Kit) -> tuple[tuple[float, ...], ...]:
    times = kit.times
    return tuple(
        tuple(0.0 if a == b else times.turn_s + piano.walk_mm(a, b) / times.walk_mm_per_s for b in piano.places)
        for a in piano.places
    )


def _apart(piano: Piano) -> tuple[tuple[int, ...], ...]:
    def apart_mm(a: Place, b: Place) -> int:
        return length_down_mm(min(a.at.distance_mm(b.at), piano.walk_mm(a, b)))

    return tuple(tuple(apart_mm(a, b) for b in piano.places) for a in piano.places)


def _rest_distance(implement: Implement, place: Point) -> int:
    return length_up_mm(place.distance_mm(Point(x_mm=implement.rest_x_mm, y_mm=implement.rest_y_mm)))


def _wanted(tasks: Iterable[Task]) -> dict[str, list[Demand]]:
    wanted: dict[str, list[Demand]] = {}
    for task in tasks:
        if task.from_rest:
            wanted.setdefault(task.kind, []).append((frozenset(task.places), task.need))
    return wanted


def _with_implements(task: Task, implements: list[Implement]) -> Task:
    if not task.from_rest:
        return task
    return replace(task, implements=tuple(n for n, implement in enumerate(implements) if implement.kind == task.kind))


@dataclass(frozen=True, slots=True, kw_only=True)
class _TaskMaker:
    piano: Piano
    players: tuple[Player, ...]
    cast_players: tuple[CastPlayer, ...]
    kit: Kit
    pedals: tuple[PedalSpan, ...]
    held: tuple[HeldKey, ...] = ()
    kinds: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def task(self, index: int, figure: Figure) -> Task:
        """One figure with its options, or with the rule that leaves it none."""
        row = self.kit.rows[figure.technique]
        hands = h02_hands.base_hands(figure, row, self.kit)
        striking = h10_rate.hands_at_once(figure, row) if row.hands == 1 else 1
        hands += striking - 1
        barred = self._barred(figure, row, hands, striking)
        lanes: list[Lane] = []
        if barred is None:
            lanes, hands, barred = self._paced_lanes(figure, row, hands, striking)
        stock = self._stock(figure)
        per_pitch = stock is not None and stock.per_pitch
        options = list(self._options(figure, lanes))
        if barred is None and not options:
            barred = (h03_reach.RULE, self._out_of_reach(figure, lanes))
        kept = sorted({lane for _, _, lane in options})
        return Task(
            index=index,
            unit=index,
            work=figure,
            start_s=figure.start_s,
            end_s=figure.end_s,
            hands=hands,
            need=self._need(figure, row, hands),
            kind=stock.kind if stock else "",
            bow_key=figure.keys[0] if per_pitch and figure.keys else None,
            bow_count=stock.count if stock else 0,
            players=tuple(sorted({player for player, _, _ in options})),
            places=tuple(sorted({place for _, place, _ in options})),
            lanes=tuple(lanes[lane] for lane in kept),
            implements=(),
            pick_s=self.kit.pick_s(stock.kind) if stock else 0.0,
            put_s=self.kit.put_s(stock.kind) if stock else 0.0,
            weight=ESSENTIAL_WEIGHT if figure.essential else 1,
            things=_things(figure, stock),
            barred=barred,
        )

    def _barred(self, figure: Figure, row: TechniqueRow, hands: int, striking: int) -> tuple[str, str] | None:
        need = len(figure.keys) if row.hands == 0 else striking
        together = max(len(grip) for _, grips in h10_rate.attacks(figure, row) for grip in grips)
        piano, unskilled = self.piano, not h12_skill.able(figure, self.players)
        if (missing := self._missing(figure)) is not None:
            return h06_tools.RULE, missing
        found = (
            (h11_permission.RULE, h11_permission.forbidden(figure, row, piano.permissions)),
            (h06_tools.RULE, h06_tools.misfit(figure, row, piano)),
            (h06_tools.RULE, h06_tools.lacking(figure, row, self.kit, need, together)),
            (h12_skill.RULE, f"nobody here does {figure.technique.value}" if unskilled else None),
            (h08_dampers.RULE, h08_dampers.damped(figure, row, piano, self.pedals, self.held)),
            (h02_hands.RULE, f"it takes {hands} hands" if hands > HANDS else None),
        )
        return next(((rule, reason) for rule, reason in found if reason is not None), None)

    def _need(self, figure: Figure, row: TechniqueRow, hands: int) -> int:
        """Implements: one for each striking hand, one for both hands together, one magnet for each course."""
        if not row.implement:
            return 0
        if row.hands == 0:
            return len(figure.keys)
        extra = h02_hands.base_hands(figure, row, self.kit) - row.hands
        return hands - extra if row.hands == 1 else 1

    def _missing(self, figure: Figure) -> str | None:
        """What of the figure this piano does not have at all."""
        courses = {course.key for course in self.piano.courses}
        absent = [label(key) for key in figure.keys if key not in courses]
        if absent:
            return f"this piano has no course {', '.join(absent)}"
        if figure.spot is not None and self.piano.spot(figure.spot) is None:
            return f"this piano has no spot {figure.spot}"
        if self.kit.rows[figure.technique].at_keyboard and self.piano.keyboard is None:
            return f"a {self.piano.instrument} has no keyboard"
        return None

    def _stock(self, figure: Figure) -> Stock | None:
        """The kind that serves the figure: the first in the kit file that is there, of those that pins leave if any."""
        there = [stock for stock in self.kit.serving(figure.technique) if stock.count > 0]
        fitting = [stock for stock in there if stock.pitches is None or set(figure.keys) <= stock.pitches]
        meant = self.kinds.get(figure.id)
        return next((s for s in fitting if meant is not None and s.kind in meant), next(iter(fitting), None))

    def _paced_lanes(
        self, figure: Figure, row: TechniqueRow, hands: int, striking: int
    ) -> tuple[list[Lane], int, tuple[str, str] | None]:
        """Lanes on which the figure is not too fast, with one more hand if one is not enough."""
        lanes = list(self._lanes(figure, row))
        if not lanes:
            return [], hands, (h03_reach.RULE, _covered(figure, row, self.piano))
        for more in range(HANDS - hands + 1) if row.hands == 1 else (0,):
            paced = [lane for lane in lanes if h10_rate.playable(figure, row, lane.contacts, striking + more)]
            if paced:
                return paced, hands + more, None
        return [], hands, (h10_rate.RULE, _too_fast(figure, row))

    def _lanes(self, figure: Figure, row: TechniqueRow) -> Iterator[Lane]:
        for contacts in contact_sets(self.piano, figure, row):
            yield Lane(
                mark_mm=contacts[0].from_near_end_mm or 0.0,
                contacts=contacts,
                distance_mm=tuple(
                    length_up_mm(max(place.at.distance_mm(Point(x_mm=c.x_mm, y_mm=c.y_mm)) for c in contacts))
                    for place in self.piano.places
                ),
            )

    def _options(self, figure: Figure, lanes: list[Lane]) -> Iterator[tuple[int, int, int]]:
        """(player, place, lane) within reach, keys only from the keyboard."""
        row = self.kit.rows[figure.technique]
        length_s = figure.end_s - figure.start_s
        for player in h12_skill.able(figure, self.players):
            body = self.cast_players[player]
            limit = body.reach_mm if length_s <= LEAN_LIMIT_S else body.comfortable_reach_mm
            for place, stand in enumerate(self.piano.places):
                if row.at_keyboard and not stand.at_keyboard:
                    continue
                for number, lane in enumerate(lanes):
                    if lane.distance_mm[place] <= length_down_mm(limit):
                        yield player, place, number

    def _out_of_reach(self, figure: Figure, lanes: list[Lane]) -> str:
        where = label(figure.keys[0]) if figure.keys else figure.spot
        able = h12_skill.able(figure, self.players)
        longest = max(self.cast_players[player].reach_mm for player in able)
        nearest = min(distance for lane in lanes for distance in lane.distance_mm)
        if nearest > longest:
            return f"{where} is {nearest} mm from the nearest place; the longest reach is {longest:.0f} mm"
        return f"{where} can only be reached at a full lean, and the figure is longer than {LEAN_LIMIT_S:.0f} s"


def _things(figure: Figure, stock: Stock | None) -> frozenset[str]:
    """What a player has to remember: the kind of implement (a line bow of each pitch is its own) and the motif."""
    kind = ""
    if stock is not None:
        kind = f"{stock.kind} {int(figure.keys[0])}" if stock.per_pitch and figure.keys else stock.kind
    return frozenset(thing for thing in (f"tool {kind}" if kind else "", f"motif {figure.motif}") if thing)


def _covered(figure: Figure, row: TechniqueRow, piano: Piano) -> str:
    where = ", ".join(label(key) for key in figure.keys) or str(figure.spot)
    if figure.touch is not None:
        reason = f"node {figure.touch.node} of {where} is covered, or leaves no room beside it to play"
        free = ", ".join(touch.node for touch in free_nodes(figure, piano, row))
        return f"{reason}; free here: {free} (write partial {figure.touch.n} for any node of it)" if free else reason
    return f"struts, dampers and the ends of the string leave no room for a {row.technique.value} on {where}"


def _too_fast(figure: Figure, row: TechniqueRow) -> str:
    onsets = figure.onsets_s
    if len(onsets) == 1:
        return f"{row.technique.value} on {', '.join(label(key) for key in figure.keys)} at once takes more hands"
    shortest = min(b - a for a, b in pairwise(onsets))
    return (
        f"strokes come every {shortest:.2f} s; one hand repeats at most {row.repeat_limit_hz:g} times a second "
        "and needs time for each leap"
    )
