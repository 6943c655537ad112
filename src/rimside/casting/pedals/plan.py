"""H8 in full: the fewest pedal actions that let ring what must ring and damp what must be damped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from rimside.casting.allowances import chore_s
from rimside.casting.chore import Chore, ChoreKind, Need
from rimside.casting.pedals.chores import RULE, Holders, Layout, chores_of, held_hands, tightened, wedges_there
from rimside.casting.pedals.states import Found, fewest_actions
from rimside.casting.pedals.wants import Want, Wants, broken_wants, playing, wants_of
from rimside.casting.result import HELD_KEYS, CastChore, PedalAction
from rimside.casting.scale import written_s
from rimside.kit import Kit
from rimside.piano.dampers import HeldKey, Span, usable_pedals
from rimside.piano.model import Piano
from rimside.pitch import Key, label
from rimside.score.model import Figure, Pedal, PedalSpan

__all__ = ["Holders", "PedalPlan", "plan_pedals"]

WEDGE, UNASSIGNED = "wedge", "unassigned"
"""What holds a pedal when no player does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalPlan:
    """What is done to pedals and silent keys, before anybody is asked to do it.

    `catches` and `holders` run beside `spans`: the ringing courses that a sostenuto span is meant to hold (() for other
    pedals), and the chores that could hold the span. `grips` are the keys that each chore of a hand holds down.
    `written` spans stand in the score and are told even while nobody holds them. `conflicts` gives rule and reason for
    each figure that no plan serves. `actions` counts each going down and coming up of a damper or sostenuto pedal or of
    a silent key; no plan takes fewer than `bound`.
    """

    spans: tuple[PedalSpan, ...]
    catches: tuple[tuple[Key, ...], ...] = ()
    holders: tuple[Holders, ...] = ()
    held_keys: tuple[HeldKey, ...] = ()
    grips: Mapping[str, tuple[Key, ...]] = field(default_factory=dict)
    written: tuple[PedalSpan, ...] = ()
    conflicts: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    chores: tuple[Chore, ...] = ()
    needs: tuple[Need, ...] = ()
    actions: int = 0
    bound: int = 0

    @property
    def inside(self) -> tuple[Chore, ...]:
        """The chores that figures need: those of load-in and load-out are laid out around the piece."""
        needed = frozenset[str]().union(*(need.chores for need in self.needs))
        return tuple(chore for chore in self.chores if chore.id in needed)

    def actions_by(self, done: Iterable[CastChore]) -> tuple[PedalAction, ...]:
        """The pedals and silent keys with those who hold them, once the chores have been given out.

        What nobody holds is not done, for no cast figure needs it; but a written mark stands. A wedge holds from when
        it was set until it is taken away.
        """
        given = {chore.id: chore for chore in done if chore.player is not None}
        actions = []
        for span, holders, caught in zip(self.spans, self.holders, self.catches, strict=True):
            by = _holder(holders, given)
            if by != UNASSIGNED or span in self.written:
                down_s, up_s = _wedged(holders, given, span) if by == WEDGE else (span.down_s, span.up_s)
                actions.append(PedalAction(pedal=span.pedal.value, down_s=down_s, up_s=up_s, by=by, keys=caught))
        for hand in self.chores:
            if hand.id in self.grips and hand.id in given:
                keys, start_s, end_s = self.grips[hand.id], hand.earliest_s, hand.latest_s
                by = str(given[hand.id].player)
                actions.append(PedalAction(pedal=HELD_KEYS, down_s=start_s, up_s=end_s, by=by, keys=keys))
        return tuple(actions)


def _holder(holders: Holders, given: Mapping[str, CastChore]) -> str:
    """Who holds the pedal by foot, else the wedge that was set, else nobody yet."""
    if holders.hold in given:
        return str(given[holders.hold].player)
    wedged = holders.wedge and (not holders.hold or holders.wedge in given or holders.free in given)
    return WEDGE if wedged else UNASSIGNED


def _wedged(holders: Holders, given: Mapping[str, CastChore], span: PedalSpan) -> Span:
    """From the end of the chore that sets a wedge to the start of the one that takes it away, where somebody has it."""
    set_by, freed_by = given.get(holders.wedge), given.get(holders.free)
    down_s = span.down_s if set_by is None else min(span.down_s, set_by.end_s)
    return down_s, span.up_s if freed_by is None else max(span.up_s, freed_by.start_s)


def plan_pedals(
    figures: Iterable[Figure], piano: Piano, written: tuple[PedalSpan, ...], kit: Kit, *, end_s: float = 0.0
) -> PedalPlan:
    """The pedals as written, or, when nothing is written of dampers, the plan with the fewest actions.

    Where nothing asks to be damped, that is the damper pedal held down throughout.

    Parameters
    ----------
    written : the pedal marks of the score.
    end_s : when the piece ends, s; figures may end later.
    """
    listed = tuple(figures)
    wants = wants_of(listed, piano, kit)
    end_s = written_s(max([end_s, *(figure.end_s for figure in listed), *(want.end_s for want in wants.wants)]))
    marks = tuple(replace(span, down_s=written_s(span.down_s), up_s=written_s(span.up_s)) for span in written)
    usable = usable_pedals(piano, marks)
    plan = Layout(
        pedals=usable,
        held=(),
        wants=wants.wants,
        strokes=wants.strokes,
        end_s=end_s,
        wedges=wedges_there(piano, kit),
        wedge_s=chore_s(kit, ChoreKind.WEDGE),
        unwedge_s=chore_s(kit, ChoreKind.UNWEDGE),
    )
    if any(span.pedal is not Pedal.UNA_CORDA for span in marks):
        broken = broken_wants(wants, piano, usable)
        found = _actions(usable)
        reasons = {want.figure: _against_mark(want, marks, piano) for want in reversed(broken)}
    elif not wants.dry and Pedal.DAMPER in piano.pedals:
        throughout = PedalSpan(pedal=Pedal.DAMPER, down_s=0.0, up_s=end_s)
        plan = replace(plan, pedals=(*usable, throughout))
        found = replace(_actions(plan.pedals), bound=2 if wants.wants else 0)
        reasons = {}
    else:
        found = fewest_actions(wants, piano, end_s)
        reasons = {name: _against(name, wants, piano, proved=found.proved) for name in found.left_out}
        served = tuple(want for want in wants.wants if want.figure not in reasons)
        plan = tightened(replace(plan, pedals=(*usable, *found.pedals), held=found.held, wants=served))
    served = tuple(want for want in plan.wants if want.figure not in reasons)
    plan = replace(plan, wants=served)
    holders, chores, needs = chores_of(plan, playing(listed, kit))
    return PedalPlan(
        spans=plan.pedals,
        catches=tuple(plan.caught(span) for span in plan.pedals),
        holders=holders,
        held_keys=plan.held,
        grips={chore.id: tuple(one.key for one in keys) for chore, keys in held_hands(plan.held)},
        written=usable,
        conflicts=_in_order({**wants.impossible, **reasons}, listed),
        chores=chores,
        needs=needs,
        actions=found.actions,
        bound=found.bound,
    )


def _actions(pedals: tuple[PedalSpan, ...]) -> Found:
    """What is written is done, no more and no less."""
    count = 2 * sum(span.pedal is not Pedal.UNA_CORDA for span in pedals)
    return Found(pedals=pedals, held=(), actions=count, bound=count)


def _in_order(reasons: Mapping[str, str], figures: tuple[Figure, ...]) -> dict[str, tuple[str, str]]:
    """Essential figures first, then as they come."""
    ranked = sorted(figures, key=lambda figure: (not figure.essential, figure.start_s, figure.id))
    return {figure.id: (RULE, reasons[figure.id]) for figure in ranked if figure.id in reasons}


def _against_mark(want: Want, marks: tuple[PedalSpan, ...], piano: Piano) -> str:
    """Which written mark keeps a course from what is asked of it."""
    name = label(want.key)
    lacking = sorted({mark.pedal.value for mark in marks if mark.pedal not in piano.pedals})
    missing = f"; this piano has no {' and no '.join(lacking)} pedal" if lacking else ""
    if not want.ring:
        holding = [mark for mark in marks if mark.down_s < want.end_s and want.start_s < mark.up_s]
        down = [_marked(mark) for mark in holding if mark.pedal is not Pedal.UNA_CORDA]
        return f"{name} must be damped at {_at(want.start_s)}, but {' and '.join(down)}"
    rings = f"{name} must ring from {_at(want.start_s)} to {_at(want.end_s)}"
    near = [mark for mark in marks if mark.pedal is not Pedal.UNA_CORDA and want.meets(mark.down_s, mark.up_s)]
    if not near:
        return f"{rings}, and no written pedal lifts its damper then{missing}"
    return f"{rings}, but {' and '.join(map(_marked, near))}, which does not hold its damper up all that time{missing}"


def _marked(mark: PedalSpan) -> str:
    return f"the {mark.pedal.value} pedal is written from {_at(mark.down_s)} to {_at(mark.up_s)}"


def _at(moment_s: float) -> str:
    return f"{round(moment_s, 2):g} s"


def _against(figure: str, wants: Wants, piano: Piano, *, proved: bool) -> str:
    """What stands against a figure that the best plan leaves out; `proved` says that none leaves out less."""
    mine = [want for want in wants.wants if want.figure == figure]
    others = [want for want in wants.wants if want.figure != figure]
    clashes = [(a, b) for a in mine for b in others if a.ring is not b.ring and b.meets(a.start_s, a.end_s)]
    same = next(((a, b) for a, b in clashes if a.key == b.key), None)
    if same is not None:
        a, b = same
        first, second = (a, b) if a.ring else (b, a)
        moment = _at(max(first.start_s, second.start_s))
        return f"{label(a.key)} would have to ring for {first.figure} and be damped for {second.figure} at {moment}"
    if not proved:
        return "no pedal plan that serves it was found in the work allowed; there may be one"
    if not clashes:
        return "this piano has no damper pedal, and two hands cannot hold all the keys whose dampers must be up"
    a, b = clashes[0]
    ring, dry = (a, b) if a.ring else (b, a)
    held = f"the damper of {label(ring.key)} cannot stay up for {ring.figure}"
    while_dry = f"while {label(dry.key)} must be damped for {dry.figure} at {_at(dry.start_s)}"
    played = any(one.key == ring.key and dry.meets(one.down_s, one.up_s) for one in wants.strokes)
    if played:
        return f"{held} {while_dry}: its key is played then, so nobody can hold it down in silence"
    return f"{held} {while_dry}: {_no_other_way(piano)}"


def _no_other_way(piano: Piano) -> str:
    hands = "two hands cannot hold all the keys that must be up then"
    if Pedal.SOSTENUTO not in piano.pedals:
        return f"{hands}, and this piano has no sostenuto pedal"
    return f"{hands}, and the sostenuto pedal cannot catch the right ones"
