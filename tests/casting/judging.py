"""What the tests of the judge share: a world around a few figures, and which rules a casting of it breaks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import product
from random import Random
from typing import Any

from rimside.casting.result import CastChore, CastFigure, Casting, Contact, Proof, Uncast
from rimside.casting.result_json import LEVEL_NAMES
from rimside.casting.verify import Breach, levels, verify
from rimside.kit import Implement, Kit
from rimside.people import Player
from rimside.piano.model import Piano, Place
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, PedalSpan, Technique
from tests.casting.worlds import World, casting, held, line, play, toy_kit, toy_piano, toy_players

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


def laid(key: int, start_s: float = -4.0, kind: str = "lay mute", player: str = "ben") -> CastChore:
    """A mute laid on (or lifted from) a toy course by somebody at the bass side, two seconds long."""
    at = toy_piano().course(Key(key)).at(60.0)
    contact = Contact(key=Key(key), spot=None, x_mm=at.x_mm, y_mm=at.y_mm, from_near_end_mm=60.0, role="chore")
    return CastChore(
        id=f"{kind} {key} {start_s:g}",
        kind=kind,
        start_s=start_s,
        end_s=start_s + 2.0,
        player=player,
        place=BASS_2,
        hands=("right",),
        target=str(key),
        contacts=(contact,),
    )


def judged(where: World, whole: Casting) -> tuple[Breach, ...]:
    """All breaches of a casting of this world."""
    return verify(whole, where.piano, where.players, where.kit)


def broken(where: World, rows: Iterable[CastFigure], tools: Iterable[Implement] = (), **changes: Any) -> set[str]:
    """The ids of the rules that a casting breaks."""
    return {breach.rule for breach in judged(where, cast(where, rows, tools, **changes))}


def options(where: World, what: Figure) -> Iterator[tuple[CastFigure, tuple[Implement, ...]]]:
    """Every way in which one figure might be played, right or wrong, as rows with the implements they bring."""
    row = where.kit.rows[what.technique]
    own = where.kit.line_bow_hands if what.technique is Technique.LINE_BOW else row.hands
    extra = (what.touch is not None) + (what.mute is Mute.FINGER)
    shortest_mm = min((where.piano.course(key).length_mm for key in what.keys), default=0.0)
    for player, place, share in product(where.players, where.piano.places, (0.35, 0.55)):
        for given in ((), ("left",), ("right",), ("left", "right")):
            if len(given) in ((own + extra, 2) if row.hands == 1 else (min(2, own + extra),)):
                tools = fetched(where, what, place, share * shortest_mm, len(given) - extra)
                yield play(where.piano, what, player.id, place.id, share * shortest_mm, hands=given, tools=tools), tools


def fetched(where: World, what: Figure, place: Place, at_mm: float, striking: int) -> tuple[Implement, ...]:
    """What the figure needs, from a rest of its own beside the place."""
    serving = where.kit.serving(what.technique)
    if not where.kit.rows[what.technique].implement or not serving:
        return ()
    if serving[0].per_pitch:
        return (line(where.piano, what.keys[0], at_mm),)
    row = where.kit.rows[what.technique]
    number = len(what.keys) if row.hands == 0 else striking if row.hands == 1 else 1
    ids = [f"{place.id} {letter}" for letter in "abcd"[:number]]
    at = place.at
    return tuple(
        Implement(id=f"{serving[0].kind} {name}", kind=serving[0].kind, rest_x_mm=at.x_mm, rest_y_mm=at.y_mm)
        for name in ids
    )


def some_casting(where: World, seed: int) -> Casting:
    """A correct casting found by trying: for each figure the first option, in a shuffled order, that breaks nothing."""
    chance = Random(seed)
    rows: list[CastFigure] = []
    tools: dict[str, Implement] = {}
    for what in where.figures:
        offers = sorted(options(where, what), key=lambda offer: repr(offer[0]))
        for row, brought in chance.sample(offers, min(len(offers), 25)):
            together = {**tools, **{tool.id: tool for tool in brought}}
            if not broken(where, [*rows, row], together.values(), **listed(where, [*rows, row])):
                rows, tools = [*rows, row], together
                break
    return cast(where, rows, tools.values(), **listed(where, rows))


def listed(where: World, rows: Iterable[CastFigure]) -> dict[str, Any]:
    """The figures without a row, as uncast."""
    given = {row.figure for row in rows}
    left = [figure.id for figure in where.figures if figure.id not in given]
    return {"uncast": tuple(Uncast(figure=name, rule="H2", reason="nobody was found") for name in left)}
