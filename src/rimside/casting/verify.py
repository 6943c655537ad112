"""The judge: whether a casting is correct, and what it is worth, told from the casting alone.

It shares nothing with the solver but the domain objects. Every rule is judged in the slowest and most obvious way, as
`docs/decisions/0001-exact-meanings.md` words it. Rules H1 to H12 are the rules of that page (H9, mutes and their
chores, is judged where chores are made); the others ask whether the casting refers to things that exist and whether
its own figures are true.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from rimside.casting.judge import (
    chores,
    facts,
    h01_whole,
    h02_hands,
    h03_reach,
    h04_change,
    h05_room,
    h06_tools,
    h07_clear,
    h08_dampers,
    h09_mutes,
    h10_rate,
    h11_permission,
    h12_skill,
)
from rimside.casting.judge.levels import levels
from rimside.casting.judge.plan import Breach, Plan, plan_of
from rimside.casting.result import Casting
from rimside.kit import Kit
from rimside.people import Player
from rimside.piano.model import Piano

__all__ = ["RULES", "Breach", "Rule", "levels", "verify"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule: its short name, its name in plain words, and what finds its breaches."""

    id: str
    name: str
    breaches: Callable[[Plan], Iterator[Breach]]


def verify(casting: Casting, piano: Piano, players: tuple[Player, ...], kit: Kit) -> tuple[Breach, ...]:
    """Every breach of every rule; empty when the casting is correct.

    Parameters
    ----------
    casting : the plan to judge.
    piano, players, kit : what the plan was made for; the players may be more than the casting uses.
    """
    plan = plan_of(casting, piano, players, kit)
    return tuple(breach for rule in RULES for breach in rule.breaches(plan))


RULES: tuple[Rule, ...] = (
    Rule(id="H1", name="every figure is played whole, once, or listed with a reason", breaches=h01_whole.breaches),
    Rule(id="H2", name="nobody needs more than two hands, or two places at once", breaches=h02_hands.breaches),
    Rule(id="H3", name="every contact is within reach and open", breaches=h03_reach.breaches),
    Rule(id="H4", name="there is time to change", breaches=h04_change.breaches),
    Rule(id="H5", name="there is room for every body", breaches=h05_room.breaches),
    Rule(id="H6", name="every implement is there, fits, and is in one hand at a time", breaches=h06_tools.breaches),
    Rule(id="H7", name="hands keep clear of each other", breaches=h07_clear.breaches),
    Rule(id="H8", name="strings that must ring are free of their dampers", breaches=h08_dampers.breaches),
    Rule(id="H9", name="mutes lie exactly when figures ask for them", breaches=h09_mutes.breaches),
    Rule(id="chores", name="chores are within reach and done by somebody", breaches=chores.breaches),
    Rule(id="H10", name="no hand is too fast", breaches=h10_rate.breaches),
    Rule(id="H11", name="the owner has allowed it", breaches=h11_permission.breaches),
    Rule(id="H12", name="the player does this technique", breaches=h12_skill.breaches),
    Rule(id="ids", name="every name in the casting leads somewhere", breaches=facts.ids),
    Rule(id="people", name="bodies are the ensemble's, on this piano", breaches=facts.people),
    Rule(id="piano", name="the casting is for this piano", breaches=facts.same_piano),
    Rule(id="times", name="the times are the kit's", breaches=facts.same_times),
    Rule(id="contacts", name="contacts lie where they say", breaches=facts.contacts),
    Rule(id="pedals", name="the pedals exist and go down before they come up", breaches=facts.pedals),
    Rule(id="proof", name="the values of the proof are true", breaches=facts.proof),
)
"""All rules in the order in which they are judged."""
