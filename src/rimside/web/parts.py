"""Everybody's part as values for the page: side by side, and one player's whole part from top to bottom."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rimside.casting.problem import RESERVE_S
from rimside.errors import BadInput
from rimside.paper.aside import instead_words, node_words, weave_words
from rimside.paper.cards import Doing, doings, tool_of
from rimside.paper.changes import Part, parts_of, pick_s, put_s, walk, walk_s
from rimside.paper.ink import letters_on, pitch_colour
from rimside.paper.material import BookInput
from rimside.paper.sections import Section, section_at
from rimside.paper.wording import beat, clock, hands, how, pass_at, tags, times
from rimside.people import Player
from rimside.pitch import label

TIGHTEST = 5
"""Changes told at the head of a part."""
NONE_LEFT_S = 0.25
"""A change that leaves less is told as one without a moment to spare. Our own choice."""
FORESHORTENED_M = 4.0
"""A walk this long or longer has the longest arrow. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A pitch with its colour, or a spot without one."""

    label: str
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Who a part belongs to: name, sign, the colour of the field and that of the letters on it."""

    id: str
    name: str
    sign: str
    colour: str
    on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing to remember: a piece of music that may come back, or a kind of implement; `times` it comes."""

    tags: tuple[Tag, ...]
    words: str
    times: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What one player has to do in the whole piece. `things` is what the casting counts as memory."""

    who: Head
    figures: int
    implements: tuple[str, ...]
    pitches: tuple[Tag, ...]
    places: tuple[str, ...]
    walked_m: float
    busy_s: float
    tightest: Step | None
    things: tuple[Thing, ...]

    @property
    def busy(self) -> str:
        """Time at work, minutes and seconds."""
        return clock(self.busy_s).partition(".")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """Something silent between figures: a chore, one end of a pedal or of keys held down, or a cue."""

    kind: str
    at_s: float
    bar: str
    nth: str
    hand: str
    words: str
    tags: tuple[Tag, ...]

    @property
    def time(self) -> str:
        """From the first downbeat."""
        return clock(self.at_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What leads to a figure: the time between, how much of it is left over (None: the two overlap), and the walk.

    `need_s` is what handling, walk and settling take by themselves; chores on the way take more.
    """

    gap_s: float
    need_s: float
    slack_s: float | None
    walk_m: float
    to_left: bool
    come_from: str
    kept: bool
    put_down: str
    take: str

    @property
    def tight(self) -> str:
        """ "none", "little", or nothing for a change with the reserve."""
        if self.slack_s is None or self.slack_s >= RESERVE_S - 1e-6:
            return ""
        return "none" if self.slack_s < NONE_LEFT_S else "little"

    @property
    def slack(self) -> str:
        """The time left over in words."""
        if self.slack_s is None:
            return "one hand plays on meanwhile"
        return f"{max(0.0, self.slack_s):.1f} s to spare"

    @property
    def side(self) -> str:
        """To which hand the walk leads."""
        return "left" if self.to_left else "right"

    @property
    def arrow(self) -> str:
        """The walk as an SVG path in a box of 100 by 20: from its middle to the side it leads to, as long as it is."""
        along = -1 if self.to_left else 1
        tip = 50 + along * (14 + 32 * min(1.0, self.walk_m / FORESHORTENED_M))
        back = tip - along * 7
        return f"M50 2 Q50 10 {50 + along * 9} 10 L{tip:.1f} 10 M{back:.1f} 4 L{tip:.1f} 10 L{back:.1f} 16"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One figure of a part, with what is done and how the player comes there since the figure before.

    `section` is told where it begins only; `early` are the deeds before that, `deeds` those after.
    """

    id: str
    start_s: float
    bar: str
    nth: str
    beat: str
    section: str
    early: tuple[Deed, ...]
    tags: tuple[Tag, ...]
    how: str
    times: str
    dynamic: str
    hand: str
    place: str
    tool: str
    rest: str
    where: str
    aside: str
    essential: bool
    deeds: tuple[Deed, ...]
    change: Change | None

    @property
    def time(self) -> str:
        """From the first downbeat."""
        return clock(self.start_s)

    @property
    def bar_words(self) -> str:
        """The bar with which time round it is."""
        return f"bar {self.bar}{f' ({self.nth} time)' if self.nth else ''}" if self.bar else self.time


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One player's whole part. `after` is what is left to do when the last figure is over."""

    who: Head
    steps: tuple[Step, ...]
    after: tuple[Deed, ...]

    @property
    def tightest(self) -> tuple[Step, ...]:
        """The changes that leave least, the tightest first."""
        timed = [(step.change.slack_s, step) for step in self.steps if step.change is not None]
        rows = sorted(((slack, step) for slack, step in timed if slack is not None), key=lambda row: row[0])
        return tuple(step for _, step in rows[:TIGHTEST])


def loads(book: BookInput) -> tuple[Load, ...]:
    """Everybody side by side, in the order of the ensemble."""
    return tuple(_load(book, player) for player in book.players)


def strip(book: BookInput, player_id: str) -> Strip:
    """One player's part.

    Raises
    ------
    BadInput : nobody of this casting has that id.
    """
    player = next((player for player in book.players if player.id == player_id), None)
    if player is None:
        allowed = ", ".join(player.id for player in book.players)
        raise BadInput("nobody of this casting is called so", where="player", value=player_id, allowed=allowed)
    steps: list[Step] = []
    deeds: list[Deed] = []
    section, before = None, None
    for doing in doings(book, player):
        if doing.part is None:
            deeds.append(_deed(doing))
            continue
        here = section_at(book, doing.start_s)
        steps.append(_step(book, doing.part, before, deeds, here if here != section else None))
        deeds, section, before = [], here, doing.part
    return Strip(who=_head(player), steps=tuple(steps), after=tuple(deeds))


def heads(book: BookInput) -> tuple[Head, ...]:
    """Everybody, in the order of the ensemble."""
    return tuple(_head(player) for player in book.players)


def _head(player: Player) -> Head:
    name = player.name.strip() or player.id
    return Head(id=player.id, name=name, sign=player.sign, colour=player.colour, on=letters_on(player.colour))


def _deed(doing: Doing) -> Deed:
    line = doing.lines[0]
    return Deed(
        kind=str(line["kind"]), at_s=doing.start_s, bar=str(line["bar"]), nth=str(line["pass"]),
        hand=str(line.get("hand", "")), words=str(line["text"]),
        tags=tag_values(line.get("tags", ())),  # type: ignore[arg-type]
    )  # fmt: skip


def tag_values(rows: Sequence[dict[str, str]]) -> tuple[Tag, ...]:
    """The tags of cards and sheets as values."""
    return tuple(Tag(label=row["label"], colour=row["colour"]) for row in rows)


def _step(book: BookInput, part: Part, before: Part | None, deeds: Sequence[Deed], begins: Section | None) -> Step:
    """A figure; `begins` is the section that begins before it, if any."""
    figure, tool = part.figure, tool_of(book, part)
    from_s = begins.start_s if begins else float("-inf")
    said = (weave_words(figure), instead_words(book, figure), node_words(figure))
    return Step(
        id=figure.id, start_s=figure.start_s, bar=figure.bar, nth=pass_at(book.score, figure.bar, figure.start_s),
        beat=beat(figure), section=_section_words(begins.name, begins.nth) if begins else "",
        early=tuple(deed for deed in deeds if deed.at_s < from_s),
        tags=tag_values(tags(figure, book.scheme, book.pitch_colours)), how=how(figure), times=times(figure.cycles),
        dynamic=figure.dynamic, hand=hands(part.cast.hands), place=part.place.id, tool=_kinds(book, part),
        rest=tool["rest"], where=tool["where"], aside="; ".join(filter(None, said)), essential=figure.essential,
        deeds=tuple(deed for deed in deeds if deed.at_s >= from_s),
        change=None if before is None else _change(book, part, before),
    )  # fmt: skip


def _section_words(name: str, nth: str) -> str:
    return f"{name}, {nth} time" if nth else name


def _kinds(book: BookInput, part: Part) -> str:
    kinds = {implement.id: implement.kind for implement in book.casting.implements}
    return ", ".join(dict.fromkeys(kinds[tool] for tool in part.cast.implements))


def _change(book: BookInput, part: Part, before: Part) -> Change:
    put, take = "" if part.slack_s is None else _kinds(book, before), _kinds(book, part)
    handling_s = put_s(before.cast, book.casting, book.kit) + pick_s(part.cast, book.casting, book.kit)
    need_s = walk_s(before.place, part.place, book.casting, book.piano) + (0.0 if part.kept else handling_s)
    return Change(
        gap_s=part.figure.start_s - before.figure.end_s, need_s=need_s, slack_s=part.slack_s,
        walk_m=part.walk_mm / 1000.0,
        to_left=part.to_left, come_from=before.place.id, kept=part.kept, put_down="" if part.kept else put,
        take="" if part.kept else take,
    )  # fmt: skip


def _load(book: BookInput, player: Player) -> Load:
    parts = parts_of(player.id, book.casting, book.piano, book.kit)
    kinds = {implement.id: implement.kind for implement in book.casting.implements}
    keys = sorted({key for part in parts for key in part.figure.keys})
    spots = sorted({part.figure.spot for part in parts if part.figure.spot})
    pitches = [Tag(label=label(key, book.scheme), colour=pitch_colour(key, book.pitch_colours)) for key in keys]
    stays = [doing.place for doing in doings(book, player) if doing.place is not None]
    tight = strip(book, player.id).tightest
    return Load(
        who=_head(player), figures=len(parts),
        implements=tuple(dict.fromkeys(kinds[tool] for part in parts for tool in part.cast.implements)),
        pitches=(*pitches, *(Tag(label=spot, colour="") for spot in spots)),
        places=tuple(dict.fromkeys(place.id for place in stays)),
        walked_m=sum(walk(a, b, book.casting, book.piano)[0] for a, b in pairwise(stays)) / 1000.0,
        busy_s=sum(part.figure.end_s - part.figure.start_s for part in parts),
        tightest=tight[0] if tight else None, things=tuple(_things(book, parts)),
    )  # fmt: skip


def _things(book: BookInput, parts: Sequence[Part]) -> Iterator[Thing]:
    """What the casting counts as memory: each motif once, and each kind of implement (those of a pitch apart)."""
    motifs: dict[str, list[Part]] = {}
    for part in parts:
        motifs.setdefault(part.figure.motif, []).append(part)
    for found in motifs.values():
        figure = found[0].figure
        shown = tag_values(tags(figure, book.scheme, book.pitch_colours))
        yield Thing(tags=shown, words=how(figure), times=len(found))
    tools = {implement.id: implement for implement in book.casting.implements}
    used = [tools[tool] for part in parts for tool in part.cast.implements]
    for kind, key in dict.fromkeys((tool.kind, tool.key) for tool in used):
        count = sum((tool.kind, tool.key) == (kind, key) for tool in used)
        yield Thing(tags=(), words=kind if key is None else f"{kind} {label(key, book.scheme)}", times=count)
