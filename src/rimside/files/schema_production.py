"""production.toml: what the production is called, what it is made of, and which cautions were read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from pydantic import Field

from rimside.cautions import CAUTIONS
from rimside.errors import BadInput
from rimside.files.names import checked, scheme_named, unknown
from rimside.files.toml import Table
from rimside.pitch import Key, LabelScheme, parse

FORMAT = "rimside-production/1"
SCORE_ENDINGS = (".musicxml", ".xml", ".mxl", ".mid", ".midi", ".smf", ".csv", ".tsv")
DEFAULT_SECONDS = 60.0


class ProductionTable(Table):
    """The whole file."""

    format: str
    title: str = Field(min_length=1)
    ensemble: str = ""
    place: str = ""
    date: str = ""
    score: str = Field(min_length=1)
    labels: str = LabelScheme.SCIENTIFIC.value
    pianos: list[str] = Field(min_length=1)
    seed: int = Field(default=1, ge=0, le=2_147_483_647)
    seconds: float = Field(default=DEFAULT_SECONDS, ge=1.0, le=86_400.0)
    cautions_read: list[str] = Field(default_factory=list)
    pitch_colours: dict[str, str] = Field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What production.toml says.

    `pianos` are names of files in pianos/, the main one first. `seconds` is how long a cast may think. `pitch_colours`
    (#RRGGBB) are the production's own, for tags and paper.
    """

    title: str
    ensemble: str
    place: str
    date: str
    score: str
    labels: LabelScheme
    pianos: tuple[str, ...]
    seed: int
    seconds: float
    cautions_read: tuple[str, ...]
    pitch_colours: Mapping[Key, str]

    @property
    def piano(self) -> str:
        """The piano that commands use when none is named."""
        return self.pianos[0]

    @property
    def cautions_unread(self) -> tuple[str, ...]:
        """The names of the cautions that nobody has acknowledged yet."""
        return tuple(name for name in CAUTIONS if name not in self.cautions_read)


def facts_from_toml(data: bytes, where: str = "production.toml") -> Facts:
    """The facts of a production file.

    Raises
    ------
    BadInput : a slip in the file, a score with an unknown ending, an unknown label scheme or caution.
    """
    table = checked(ProductionTable, data, where, FORMAT)
    for name in table.cautions_read:
        if name not in CAUTIONS:
            raise unknown("caution", name, CAUTIONS, f"{where}, cautions_read")
    labels = scheme_named(table.labels, f"{where}, labels")
    return Facts(
        title=table.title,
        ensemble=table.ensemble,
        place=table.place,
        date=table.date,
        score=_score(table.score, where),
        labels=labels,
        pianos=_pianos(table.pianos, where),
        seed=table.seed,
        seconds=table.seconds,
        cautions_read=tuple(table.cautions_read),
        pitch_colours=_pitch_colours(table.pitch_colours, labels, f"{where}, pitch_colours"),
    )


def _pitch_colours(table: dict[str, str], labels: LabelScheme, where: str) -> dict[Key, str]:
    colours = {}
    for label, colour in table.items():
        if not re.fullmatch(r"#[0-9A-Fa-f]{6}", colour):
            raise BadInput("not a colour", where=f"{where}, {label}", value=colour, allowed="#RRGGBB")
        try:
            colours[parse(label, labels)] = colour.upper()
        except BadInput as slip:
            raise slip.at(where) from slip
    return colours


def _score(name: str, where: str) -> str:
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or "\\" in name:
        raise BadInput("the score lies inside the production folder", where=f"{where}, score", value=name)
    if path.suffix.lower() not in SCORE_ENDINGS:
        raise BadInput("not a kind of score", where=f"{where}, score", value=name, allowed=", ".join(SCORE_ENDINGS))
    return str(path)


def _pianos(names: list[str], where: str) -> tuple[str, ...]:
    for name in names:
        if not re.fullmatch(r"[A-Za-z0-9_]+(-[A-Za-z0-9_]+)*", name):
            hint = "write the name of a file in pianos/ without its folder and .toml"
            allowed = "letters, digits, _ and single -"
            raise BadInput(
                "not the name of a piano file", where=f"{where}, pianos", value=name, allowed=allowed, hint=hint
            )
    if len(set(names)) < len(names):
        raise BadInput("one piano is listed twice", where=f"{where}, pianos", value=", ".join(names))
    return tuple(names)
