"""Who could hold the pedals of a plan: the chores of each span and silent key, and the figures that rely on them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from rimside.casting.allowances import WEDGE_S
from rimside.casting.chore import Chore, ChoreKind, Need
from rimside.casting.pedals.states import FINGERS, LOAD_STEP_S, SPAN_KEYS
from rimside.casting.pedals.wants import Want
from rimside.kit import Kit
from rimside.piano.dampers import HeldKey, Span, catches
from rimside.piano.model import Piano
from rimside.pitch import Key, label
from rimside.score.model import Pedal, PedalSpan

RULE = "H8"
LOAD_IN_S = 600.0
"""What is done before the piece may be done in the ten minutes before it, and likewise after it."""
WEDGE_KIND = "wedge"


@dataclass(frozen=True, slots=True, kw_only=True)
class Holders:
    """The chores that could hold one span: `hold` by foot, or `wedge` and then `free`; "" where there is none.

    A span that is wedged before the piece and freed after it has no `hold`: nobody has to stay.
    """

    hold: str = ""
    wedge: str = ""
    free: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Pedals and silent keys with the demands they serve, from 0 to `end_s`.

    `wedges` may be set at once; setting one takes `wedge_s`, freeing it `unwedge_s`.
    """

    pedals: tuple[PedalSpan, ...]
    held: tuple[HeldKey, ...]
    wants: tuple[Want, ...]
    strokes: tuple[HeldKey, ...]
    end_s: float
    wedges: int
    wedge_s: float = WEDGE_S
    unwedge_s: float = WEDGE_S

    @property
    def sostenutos(self) -> tuple[PedalSpan, ...]:
        """The spans of the sostenuto pedal."""
        return tuple(span for span in self.pedals if span.pedal is Pedal.SOSTENUTO)

    @property
    def sostenuto_downs_s(self) -> tuple[float, ...]:
        """When the sostenuto pedal goes down."""
        return tuple(span.down_s for span in self.sostenutos)

    def raised(self, key: Key) -> list[Span]:
        """When the damper pedal or its own key lifts the damper of a course."""
        own = [(one.down_s, one.up_s) for one in self.held if one.key == key]
        return own + [(span.down_s, span.up_s) for span in self.pedals if span.pedal is Pedal.DAMPER]

    def caught(self, span: PedalSpan) -> tuple[Key, ...]:
        """The courses that must ring and that a sostenuto span holds; of other pedals, none."""
        if span.pedal is not Pedal.SOSTENUTO:
            return ()
        ringing = sorted({want.key for want in self.wants if want.ring})
        return tuple(key for key in ringing if catches(span, self.raised(key)))


def wedges_there(piano: Piano, kit: Kit) -> int:
    """How many wedges may be set at once: none without the owner's leave, enough when the kit lists none."""
    if "wedge" not in piano.permissions.allowed:
        return 0
    counts = [stock.count for stock in kit.stock if stock.kind == WEDGE_KIND]
    return sum(counts) if counts else len(Pedal)


def tightened(plan: Layout) -> Layout:
    """The same plan with nothing held longer than it must, but wedges that can lie from the start or to the end do."""
    held = []
    for one in plan.held:
        down_s, up_s = _shorter(plan, one, frozenset({one.key}))
        held.append(replace(one, down_s=down_s, up_s=up_s))
    plan = replace(plan, held=tuple(held))
    return replace(plan, pedals=tuple(_settled(plan, span) for span in plan.pedals))


def _shorter(plan: Layout, one: HeldKey | PedalSpan, keys: frozenset[Key]) -> Span:
    """From the first moment at which a ringing course of `keys` may rely on it to the last."""
    rings = [want for want in plan.wants if want.ring and want.key in keys and want.meets(one.down_s, one.up_s)]
    down_s = min((max(want.start_s, one.down_s) for want in rings), default=one.down_s)
    up_s = max((min(want.end_s, one.up_s) for want in rings), default=one.up_s)
    if any(one.down_s < moment <= down_s for moment in plan.sostenuto_downs_s):
        down_s = one.down_s
    if any(up_s <= moment < one.up_s for moment in plan.sostenuto_downs_s):
        up_s = one.up_s
    return down_s, up_s


def _settled(plan: Layout, span: PedalSpan) -> PedalSpan:
    sostenuto = span.pedal is Pedal.SOSTENUTO
    keys = frozenset(plan.caught(span)) if sostenuto else frozenset(want.key for want in plan.wants)
    needed_s, up_s = _shorter(plan, span, keys)
    down_s = span.down_s if sostenuto else needed_s
    settled = replace(span, down_s=down_s, up_s=up_s)
    if plan.wedges and earliest_down_s(plan, settled) == -math.inf:
        down_s = min(down_s, 0.0)
    if plan.wedges and latest_up_s(plan, settled) == math.inf:
        up_s = max(up_s, plan.end_s)
    return replace(span, down_s=down_s, up_s=up_s)


def earliest_down_s(plan: Layout, span: PedalSpan) -> float:
    """Since when a pedal could be down as well, and nothing would be otherwise."""
    before = [other.up_s for other in plan.pedals if other.pedal is span.pedal and other.up_s <= span.down_s]
    if span.pedal is Pedal.DAMPER:
        before += [want.end_s for want in plan.wants if not want.ring and want.end_s <= span.down_s]
        before += [moment for moment in plan.sostenuto_downs_s if moment < span.down_s]
    else:
        lifts = [(one.down_s, one.up_s) for one in (*plan.held, *plan.strokes)]
        lifts += [(other.down_s, other.up_s) for other in plan.pedals if other.pedal is Pedal.DAMPER]
        before += [moment for lift in lifts for moment in lift if moment <= span.down_s]
    return max(before, default=-math.inf)


def latest_up_s(plan: Layout, span: PedalSpan) -> float:
    """Until when a pedal could stay down as well, and nothing would be otherwise."""
    after = [other.down_s for other in plan.pedals if other.pedal is span.pedal and other.down_s >= span.up_s]
    after += [want.start_s for want in plan.wants if not want.ring and want.start_s >= span.up_s]
    if span.pedal is Pedal.DAMPER:
        after += [moment for moment in plan.sostenuto_downs_s if moment >= span.up_s]
    return min(after, default=math.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A pedal span, or keys held by one hand, with the chores that could hold it and the ways to choose from.

    `ways` name only chores inside the piece: an empty way is one for which nobody is needed then.
    """

    holders: Holders
    chores: tuple[Chore, ...]
    ways: tuple[tuple[str, ...], ...]


def held_pedal(plan: Layout, number: int, *, wedge: bool) -> Held:
    """The ways to hold one span of the plan; the chores bear its pedal and its number from 1."""
    span = plan.pedals[number]
    name = f"{span.pedal.value} {number + 1}"
    both = _by_wedge(plan, span, name) if wedge else ()
    wedged = bool(both)
    inside = tuple(chore.id for chore in both if not _around(plan, chore))
    if wedged and not inside:
        return Held(holders=Holders(wedge=both[0].id, free=both[1].id), chores=both, ways=((),))
    foot = Chore(
        id=f"hold {name}",
        kind=ChoreKind.HOLD_PEDAL,
        target=span.pedal.value,
        earliest_s=span.down_s,
        latest_s=span.up_s,
        length_s=span.up_s - span.down_s,
        hands=0,
        feet=1,
    )
    if not wedged:
        return Held(holders=Holders(hold=foot.id), chores=(foot,), ways=((foot.id,),))
    holders = Holders(hold=foot.id, wedge=both[0].id, free=both[1].id)
    return Held(holders=holders, chores=(foot, *both), ways=((foot.id,), inside))


def _by_wedge(plan: Layout, span: PedalSpan, name: str) -> tuple[Chore, ...]:
    """Setting a wedge and taking it away; () where there is no time for one of them, and for una corda."""
    wedge, free = _wedge(plan, span, name), _free(plan, span, name)
    return () if wedge is None or free is None or span.pedal is Pedal.UNA_CORDA else (wedge, free)


def with_a_wedge(plan: Layout) -> frozenset[int]:
    """The spans, by number, for which a wedge is left when those that are down earlier have theirs."""
    given: dict[int, Span] = {}
    for number in sorted(range(len(plan.pedals)), key=lambda n: plan.pedals[n].down_s):
        if both := _by_wedge(plan, plan.pedals[number], ""):
            wedge, free = both
            in_use = sum(wedge.earliest_s < to_s and from_s < free.latest_s for from_s, to_s in given.values())
            if in_use < plan.wedges:
                given[number] = (wedge.earliest_s, free.latest_s)
    return frozenset(given)


def _around(plan: Layout, chore: Chore) -> bool:
    """Whether it belongs to the load-in or the load-out, with all the time one likes."""
    return chore.earliest_s >= plan.end_s or (chore.latest_s <= 0.0 and chore.earliest_s <= -LOAD_IN_S)


def _wedge(plan: Layout, span: PedalSpan, name: str) -> Chore | None:
    """Just before the pedal must be down, while it does not matter whether it is; None when there is no time."""
    earliest_s = earliest_down_s(plan, span)
    if span.down_s <= 0.0 and earliest_s == -math.inf:
        earliest_s = min(-LOAD_IN_S, span.down_s - plan.wedge_s)
    else:
        earliest_s = max(earliest_s, min(0.0, span.down_s - max(LOAD_STEP_S, plan.wedge_s)))
    return _timed(f"wedge {name}", ChoreKind.WEDGE, span, (earliest_s, span.down_s), plan.wedge_s)


def _free(plan: Layout, span: PedalSpan, name: str) -> Chore | None:
    after = span.up_s >= plan.end_s
    latest_s = span.up_s + LOAD_IN_S if after else min(plan.end_s, latest_up_s(plan, span))
    return _timed(f"free {name}", ChoreKind.UNWEDGE, span, (span.up_s, latest_s), plan.unwedge_s)


def _timed(name: str, kind: ChoreKind, span: PedalSpan, window_s: Span, length_s: float) -> Chore | None:
    """A chore in its window; None when there is no time for it."""
    earliest_s, latest_s = window_s
    if latest_s - earliest_s < length_s:
        return None
    return Chore(
        id=name,
        kind=kind,
        target=span.pedal.value,
        earliest_s=earliest_s,
        latest_s=latest_s,
        length_s=length_s,
    )


def held_hands(held: tuple[HeldKey, ...]) -> tuple[tuple[Chore, tuple[HeldKey, ...]], ...]:
    """A chore for each hand that holds keys: those that go down and up together, under five fingers."""
    hands: list[tuple[Chore, tuple[HeldKey, ...]]] = []
    ordered = sorted(held, key=lambda one: (one.down_s, one.up_s, one.key))
    for (down_s, up_s), group in groupby(ordered, key=lambda one: (one.down_s, one.up_s)):
        for hand in _grips(list(group)):
            chore = Chore(
                id=f"hold keys {len(hands) + 1}",
                kind=ChoreKind.HOLD_KEY,
                target=", ".join(label(one.key) for one in hand),
                earliest_s=down_s,
                latest_s=up_s,
                length_s=up_s - down_s,
            )
            hands.append((chore, tuple(hand)))
    return tuple(hands)


def _grips(keys: list[HeldKey]) -> Iterator[list[HeldKey]]:
    hand: list[HeldKey] = []
    for one in keys:
        if hand and (len(hand) == FINGERS or one.key - hand[0].key >= SPAN_KEYS):
            yield hand
            hand = []
        hand.append(one)
    yield hand


Reason = int | HeldKey
"""What keeps a damper up: a pedal span by its number in the plan, or a silent key."""


def relied_on(plan: Layout, want: Want) -> frozenset[Reason]:
    """The pedals and keys that keep one course free, each taken over by the next before it ends."""
    sources = list(_sources(plan, want.key))
    used: frozenset[Reason] = frozenset()
    until_s = -math.inf
    while until_s < want.end_s:
        ready = [source for source in sources if _takes_over(source[0], until_s, want.start_s)]
        (_, until_s), reasons = max(ready, key=lambda source: source[0][1])
        used |= reasons
    return used


def _takes_over(span: Span, until_s: float, start_s: float) -> bool:
    return span[1] > max(until_s, start_s) and (span[0] <= start_s if until_s == -math.inf else span[0] < until_s)


def _sources(plan: Layout, key: Key) -> Iterator[tuple[Span, frozenset[Reason]]]:
    raised: list[tuple[Span, Reason]] = []
    for number, span in enumerate(plan.pedals):
        if span.pedal is Pedal.DAMPER:
            raised.append(((span.down_s, span.up_s), number))
    raised += [((one.down_s, one.up_s), one) for one in plan.held if one.key == key]
    for lift, reason in raised:
        yield lift, frozenset({reason})
    for number, span in enumerate(plan.pedals):
        if span.pedal is Pedal.SOSTENUTO:
            finder = next((reason for lift, reason in raised if catches(span, [lift])), None)
            if finder is not None:
                yield (span.down_s, span.up_s), frozenset({number, finder})


def chores_of(
    plan: Layout, playing: Iterable[tuple[str, Span]]
) -> tuple[tuple[Holders, ...], tuple[Chore, ...], tuple[Need, ...]]:
    """What holds each span, all chores, and the chores that each figure needs.

    `playing` are the figures on the keyboard and when they sound: the una corda pedal is held for their sake.
    """
    wedged = with_a_wedge(plan)
    pedals = [held_pedal(plan, number, wedge=number in wedged) for number in range(len(plan.pedals))]
    hands = held_hands(plan.held)
    ways: dict[Reason, tuple[tuple[str, ...], ...]] = {number: one.ways for number, one in enumerate(pedals)}
    ways |= {one: ((chore.id,),) for chore, keys in hands for one in keys}
    asked: dict[tuple[str, tuple[tuple[str, ...], ...]], None] = {}
    for want in plan.wants:
        if want.ring:
            numbered = sorted(relied_on(plan, want), key=str)
            asked |= dict.fromkeys((want.figure, ways[reason]) for reason in numbered)
    for number, span in enumerate(plan.pedals):
        if span.pedal is Pedal.UNA_CORDA:
            sounding = (name for name, (start, end) in playing if start < span.up_s and span.down_s < end)
            asked |= dict.fromkeys((name, ways[number]) for name in sounding)
    needs = tuple(Need(figure=figure, ways=choice, rule=RULE) for figure, choice in asked if () not in choice)
    chores = (*(chore for one in pedals for chore in one.chores), *(chore for chore, _ in hands))
    return tuple(one.holders for one in pedals), chores, needs
