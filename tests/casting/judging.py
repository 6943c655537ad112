"""What the tests of the judge share: a world around a few figures, and which rules a casting of it breaks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from tests.casting.worlds import World, casting, held, toy_kit, toy_piano, toy_players

from rimside.casting.result import CastFigure, Casting, Proof
from rimside.casting.result_json import LEVEL_NAMES
from rimside.casting.verify import Breach, levels, verify
from rimside.kit import Implement, Kit
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.score.model import Figure, PedalSpan

BASS, BASS_2, TREBLE, KEYBOARD = "p17", "p18", "p06", "p01"
"""Toy places: bass side at (-250, 918) and (-250, 468), treble side at (1500, 700), keyboard at (200, -250)."""


def world(
    *figures: Figure,
    piano: Piano | None = None,
    kit: Kit | None = None,
    players: tuple[Player, ...] | None = None,
    pedals: tuple[PedalSpan, ...] | None = None,
) -> World:
    """A world around figures: the toy piano with its damper pedal down, two players and the toy kit by default."""
    return World(
        piano=piano or toy_piano(),
        players=players or toy_players(2),
        kit=kit or toy_kit(),
        figures=figures,
        pedals=held() if pedals is None else pedals,
    )


def cast(where: World, rows: Iterable[CastFigure], tools: Iterable[Implement] = (), **changes: Any) -> Casting:
    """A casting whose proof is what the judge itself finds, so that only what a test plants can be wrong."""
    whole = casting(where, rows, tools, **changes)
    values = zip(LEVEL_NAMES, levels(whole, where.kit), strict=True)
    return replace(whole, proof=tuple(Proof(level=name, value=value, bound=0) for name, value in values))


def judged(where: World, whole: Casting) -> tuple[Breach, ...]:
    """All breaches of a casting of this world."""
    return verify(whole, where.piano, where.players, where.kit)


def broken(where: World, rows: Iterable[CastFigure], tools: Iterable[Implement] = (), **changes: Any) -> set[str]:
    """The ids of the rules that a casting breaks."""
    return {breach.rule for breach in judged(where, cast(where, rows, tools, **changes))}
