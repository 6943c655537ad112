"""What phones and the leader's page may say, checked before anything is done with it."""

from __future__ import annotations

from typing import Annotated, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, TypeAdapter, ValidationError

from rimside.errors import BadInput


class Message(BaseModel):
    """One message; fields that nobody knows are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Hello(Message):
    """The first word of a phone: the mark of the part that it has already, "" for none."""

    kind: Literal["hello"]
    part: str = Field(max_length=64)


class Ping(Message):
    """When a phone sent this by its own clock, and what it makes of the pings before."""

    kind: Literal["ping"]
    sent_ms: FiniteFloat
    offset_ms: FiniteFloat | None = None
    round_trip_ms: FiniteFloat | None = None


class Flagged(Message):
    """What a player flags about a moment of the piece; `measured_s` when a time was measured."""

    kind: Literal["flag"]
    id: str = Field(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9-]+$")
    at_s: FiniteFloat
    bar: str = Field(max_length=16)
    pass_: str = Field(max_length=8)
    figure: str = Field(max_length=64)
    what: str = Field(min_length=1, max_length=400)
    measured_s: FiniteFloat | None = Field(default=None, gt=0.0, le=600.0)


class Deed(Message):
    """What the leader does to the clock, and by how much.

    `by` counts bars for "step", `at_s` is for "go_s", `speed` for "pace"; `first` is the bar or mark that "go" goes to
    and that a "loop" starts with, `last` the bar that it ends with.
    """

    do: Literal["play", "pause", "step", "go", "go_s", "pace", "loop", "unloop"]
    by: int = Field(default=0, ge=-1000, le=1000)
    at_s: FiniteFloat = 0.0
    speed: FiniteFloat = 1.0
    first: str = Field(default="", max_length=80)
    last: str = Field(default="", max_length=80)


class OfPlayer(Message):
    """A player by id."""

    player: str = Field(min_length=1, max_length=80)


class Answer(Message):
    """What is made of a flag: done or open again, and in words."""

    flag: str = Field(min_length=1, max_length=200)
    done: bool
    answer: str = Field(default="", max_length=400)


class OfFlag(Message):
    """A flag by its id in the ledger."""

    flag: str = Field(min_length=1, max_length=200)


class Choice(Message):
    """Which casting of which variant is rehearsed."""

    casting: str = Field(max_length=200)
    variant: str = Field(default="", max_length=80)


_FROM_PHONE: TypeAdapter[Hello | Ping | Flagged] = TypeAdapter(
    Annotated[Hello | Ping | Flagged, Field(discriminator="kind")]
)
_Kind = TypeVar("_Kind", bound=Message)


def from_phone(text: str) -> Hello | Ping | Flagged:
    """A phone's message; BadInput for anything else."""
    try:
        return _FROM_PHONE.validate_json(text)
    except ValidationError as slip:
        raise _told(slip) from slip


def read(kind: type[_Kind], data: bytes) -> _Kind:
    """A message of one kind from the leader's page; BadInput for anything else."""
    try:
        return kind.model_validate_json(data)
    except ValidationError as slip:
        raise _told(slip) from slip


def _told(slip: ValidationError) -> BadInput:
    first = slip.errors(include_url=False, include_context=False, include_input=False)[0]
    return BadInput(first["msg"].lower(), where=".".join(str(one) for one in first["loc"]))
