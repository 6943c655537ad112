"""A production on the disc for tests, and plans that stand in for the solver's."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from rimside.casting.result import CastFigure, Casting, Proof, Uncast
from rimside.files import job, scaffold
from rimside.kit import Kit
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.score.reading import Reading
from tests.casting.worlds import cast_player

Plan = Callable[..., Casting]
PIANO = scaffold.PIANO


def new(folder: Path) -> Path:
    """A fresh production in a folder that is not there yet."""
    scaffold.new(str(folder))
    return folder


def change(folder: Path, name: str, old: str, new: str) -> None:
    """Replace text in one file of a production; it must be there."""
    path = folder / name
    text = path.read_text("utf-8")
    assert old in text, f"{old!r} is not in {name}"
    path.write_text(text.replace(old, new), "utf-8")


def with_troubles(folder: Path) -> Path:
    """A production that cannot be played whole: one felt hammer for two, beaters not allowed; it has been cast."""
    new(folder)
    change(folder, "kit.toml", 'serves = ["felt hammer"]\ncount = 4', 'serves = ["felt hammer"]\ncount = 1')
    change(folder, f"pianos/{PIANO}.toml", '"beaters", ', "")
    job.cast(job.prepare(str(folder), seconds=2.0), lambda stage, share: None)
    return folder


def plan(uncast: Iterable[int] = (), seconds_spent: float = 0.5) -> Plan:
    """A stand-in for `flow.plan`: figure after figure to player after player, the numbered ones uncast. Not correct."""
    left = set(uncast)

    def made(reading: Reading, piano: Piano, players: tuple[Player, ...], kit: Kit, **options: Any) -> Casting:
        options["progress"]("stand-in", 1.0)
        rows = [
            CastFigure(
                figure=figure.id,
                player=players[number % len(players)].id,
                place=piano.places[0].id,
                hands=("left",),
                implements=(),
                contacts=(),
            )
            for number, figure in enumerate(reading.figures)
            if number not in left
        ]
        reasons = [
            Uncast(figure=figure.id, rule="H2", reason="both hands are busy", competing=(reading.figures[0].id,))
            for number, figure in enumerate(reading.figures)
            if number in left
        ]
        return Casting(
            piano=piano.name,
            a4_hz=piano.a4_hz,
            players=tuple(cast_player(player, piano) for player in players),
            places=piano.places,
            rim_length_mm=piano.rim_length_mm,
            figures=tuple(reading.figures),
            implements=(),
            cast=tuple(rows),
            uncast=tuple(reasons),
            times=kit.times,
            proof=(Proof(level="1 uncast", value=len(reasons), bound=0), Proof(level="2 risk", value=7, bound=7)),
            seconds=seconds_spent,
        )

    return made
