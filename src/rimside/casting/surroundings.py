"""What is done around the figures of a piece: pedals, mutes and cues, worked out anew when the figures change."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from rimside.casting.chores import cue_chores, mute_chores
from rimside.casting.pedals.chores import RULE
from rimside.casting.pedals.plan import PedalPlan, plan_pedals
from rimside.casting.pedals.wants import broken_wants, playing, wants_of
from rimside.kit import Kit
from rimside.piano.model import Piano
from rimside.score.model import Cue, Figure, PedalSpan

PLANNED_ANEW = 60
"""Figures of a piece whose pedals are planned anew for a change of its music, when some of it must fall silent.
On a longer piece that takes seconds, and a change is asked to live with the pedals as they were planned first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """The cues and written pedal marks of a score that ends at `end_s`; `plans` keeps the pedal plans made so far."""

    cues: tuple[Cue, ...] = ()
    written: tuple[PedalSpan, ...] = ()
    end_s: float = 0.0
    plans: list[tuple[object, PedalPlan]] = field(default_factory=list, compare=False, repr=False)

    def pedals(self, figures: Iterable[Figure], piano: Piano, kit: Kit) -> PedalPlan:
        """The pedal plan of figures on a piano; asked again for the same demands, the same plan."""
        listed = tuple(figures)
        wants = wants_of(listed, piano, kit)
        there = (piano.name, piano.pedals, piano.permissions.allowed, kit.stock, dict(kit.times.chore_s))
        asked = (wants, playing(listed, kit), *there)
        for known, plan in self.plans:
            if known == asked:
                return plan
        if self.plans and wants.dry and len(listed) > PLANNED_ANEW:
            first = self.plans[0][1]
            broken = {want.figure for want in broken_wants(wants, piano, first.spans, first.held_keys)}
            changed = dict.fromkeys(sorted(broken - set(first.conflicts)), (RULE, _NOT_SO))
            plan = replace(first, conflicts={**first.conflicts, **changed})
        else:
            plan = plan_pedals(listed, piano, self.written, kit, end_s=self.end_s)
        self.plans.append((asked, plan))
        return plan

    def inputs(
        self, figures: tuple[Figure, ...], piano: Piano, kit: Kit
    ) -> tuple[tuple[PedalSpan, ...], dict[str, Any]]:
        """The pedals and the further arguments of `build_problem`."""
        plan, muting = self.pedals(figures, piano, kit), mute_chores(figures, kit)
        return plan.spans, {
            "chores": (*muting.chores, *cue_chores(self.cues, kit), *plan.inside),
            "needs": plan.needs,
            "mutings": muting.mutings,
            "conflicts": {**plan.conflicts, **muting.conflicts},
            "held": plan.held_keys,
        }


_NOT_SO = "the pedals as they were planned do not serve it so changed"
