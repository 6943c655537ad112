"""What a player's phone shows: everything that one player does, sent once, and what of it counts at a moment.

`static/rehearsing/now.js` holds `at`, `count` and `bar_at` under the same names. Times are s from the first downbeat,
points of the rim are plan coordinates in mm.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass

from rimside.casting.problem import RESERVE_S
from rimside.errors import BadInput
from rimside.paper.cards import Doing, doings, first_stand
from rimside.paper.changes import Part, pick_s, put_s, walk, way
from rimside.paper.material import BookInput
from rimside.paper.rests import rest_of
from rimside.paper.running import who
from rimside.paper.sections import bar_of, sections
from rimside.paper.wording import pass_at
from rimside.people import Player
from rimside.piano.model import Place

Bar = tuple[float, str, str, str]
"""When a bar starts, s, its printed name, which time round, and the rehearsal mark that begins with it."""
FORMAT = "rimside-follow/1"
CUE_S = 2.0
"""How long a cue, and anything else that is done in a moment, stays in sight. Our own choice."""
AT_ITS_START_S = 1.0
"""Stepping back from later in a bar than this goes to its start. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A walk to another place: the side that it leads to as the player faces the piano, how far, the way along the
    rim as points, and when to leave so that there is a reserve; `needs_s` is what walking and all else takes."""

    place: str
    side: str
    metres: float
    way_mm: tuple[tuple[float, float], ...]
    leave_s: float
    needs_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """What the hands need: `how` is none, keep, course or take; what is taken, from which rest, and where that is.

    `back_to` names the rest that it goes back to afterwards, "" when it is kept for what follows.
    """

    how: str
    names: tuple[str, ...]
    rest: str
    where: str
    back_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do, or a cue, as the phone shows it.

    `kind` is figure, chore or cue. `counts_s` are the moments to count by: the beginnings of its rounds when it comes
    round, else its strokes (`counted` says which); nothing when there is only one. `figure` is the figure's id.
    """

    kind: str
    start_s: float
    end_s: float
    bar: str
    pass_: str
    beat: str
    hand: str
    tags: tuple[Mapping[str, str], ...]
    words: str
    asides: tuple[str, ...]
    place: str
    figure: str = ""
    counted: str = ""
    counts_s: tuple[float, ...] = ()
    hurried: bool = False
    slack_s: float | None = None
    tool: Tool | None = None
    move: Move | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class At:
    """What counts at a moment: what is being done, what comes next and after that, and where the player stands.

    `go` is the next thing to do when it is done somewhere else.
    """

    now: tuple[Step, ...]
    next: Step | None
    after: Step | None
    go: Step | None
    place: str


def follow_of(book: BookInput, player: Player, name: str) -> dict[str, object]:
    """All that a phone needs of one player's part of a casting (`name`), as plain values."""
    steps = steps_of(book, player)
    ends = [book.score.end_s, *(figure.end_s for figure in book.casting.figures), *(step.end_s for step in steps)]
    return {
        "format": FORMAT,
        "title": book.title,
        "casting": name,
        "piano": book.piano.title,
        "player": {"id": player.id, **who(player)},
        "begin_s": min((0.0, *(chore.start_s for chore in book.casting.chores))),
        "end_s": max(ends),
        "steps": [asdict(step) for step in steps],
        "bars": bars_of(book),
        "outline": [[round(at.x_mm), round(at.y_mm)] for at in book.piano.outline],
        "places": {p.id: [round(p.at.x_mm), round(p.at.y_mm), p.heading_deg] for p in book.casting.places},
    }


def bars_of(book: BookInput) -> list[Bar]:
    """Every bar as it is played: when it starts, its printed name, which time round, and the mark that begins there."""
    marks = {mark.start_s: mark.name for mark in sections(book.score)}
    return [
        (bar.start_s, bar.bar, pass_at(book.score, bar.bar, bar.start_s), marks.get(bar.start_s, ""))
        for bar in book.score.bars
    ]


def bar_called(bars: Sequence[Bar], words: str, seconds: float) -> int:
    """The number of the bar that somebody calls ("12", "12 2nd", or a rehearsal mark "B").

    Of a bar that comes more than once, without a pass, it is the next one to come, else the first.

    Raises
    ------
    BadInput : no such bar or mark.
    """
    name, _, nth = " ".join(words.split()).partition(" ")
    found = [number for number, (_, bar, pass_, _) in enumerate(bars) if bar == name and nth in ("", pass_)]
    whole = " ".join(words.split()).casefold()
    found = found or [number for number, bar in enumerate(bars) if whole and bar[3].casefold() == whole]
    if not found:
        allowed = f"{bars[0][1]} to {bars[-1][1]}, or a rehearsal mark" if bars else "this score has no bars"
        raise BadInput("there is no such bar", where="bar", value=words, allowed=allowed)
    return next((number for number in found if bars[number][0] > seconds + 1e-6), found[0])


def bar_beside(bars: Sequence[Bar], seconds: float, by: int) -> float:
    """Where the bar begins that lies so many further; back goes to the start of a bar that has sounded for a while."""
    here = bar_at(bars, seconds)
    if by < 0 and here >= 0 and seconds - bars[here][0] > AT_ITS_START_S:
        here += 1
    return bars[min(len(bars) - 1, max(0, here + by))][0] if bars else 0.0


def loop_called(bars: Sequence[Bar], end_s: float, first: str, last: str, seconds: float) -> tuple[float, float]:
    """From the start of one bar to the end of another, as somebody calls them; BadInput for bars there are not."""
    start = bar_called(bars, first, seconds)
    end = bar_called(bars, last, bars[start][0] - 0.001)
    if end < start:
        raise BadInput("the last bar comes before the first", where="loop", value=f"{first} to {last}")
    return bars[start][0], bars[end + 1][0] if end + 1 < len(bars) else end_s


def steps_of(book: BookInput, player: Player) -> tuple[Step, ...]:
    """Everything that a player does, in order of start, each with the walk that leads to it."""
    return tuple(_steps(book, doings(book, player)))


def _steps(book: BookInput, todo: Sequence[Doing]) -> Iterator[Step]:
    stand, free_s = first_stand(todo), min((0.0, *(doing.start_s for doing in todo)))
    carried: Part | None = None
    for number, doing in enumerate(todo):
        move = None
        if doing.place is not None and stand is not None and doing.place.id != stand.id:
            move = _move(book, stand, doing, free_s, carried)
        stand = doing.place or stand
        following = next((later.part for later in todo[number + 1 :] if later.part is not None), None)
        yield _step(book, doing, move, stand.id if stand is not None else "", following)
        if doing.place is not None:
            free_s = max(free_s, doing.until_s)
        carried = doing.part or carried


def _step(book: BookInput, doing: Doing, move: Move | None, place: str, following: Part | None) -> Step:
    line, part = doing.lines[-1], doing.part
    tags = line.get("tags", ())
    assert isinstance(tags, list | tuple)
    end_s = max(doing.until_s, part.figure.end_s if part is not None else doing.start_s + CUE_S)
    counted, counts_s = counts_of(part) if part is not None else ("", ())
    return Step(
        kind=str(line["kind"]),
        start_s=doing.start_s,
        end_s=end_s,
        bar=str(line["bar"]) or bar_of(book, doing.start_s),
        pass_=str(line["pass"]),
        beat=str(line.get("beat", "")),
        hand=str(line.get("hand", "")),
        tags=tuple(tags),
        words=str(line["how"] if part is not None else line["text"]),
        asides=tuple(_aside(aside) for aside in doing.lines[:-1]),
        place=place,
        figure=part.figure.id if part is not None else "",
        counted=counted,
        counts_s=counts_s,
        hurried=part.hurried if part is not None else False,
        slack_s=part.slack_s if part is not None else None,
        tool=_tool(book, part, line, following) if part is not None else None,
        move=move,
    )


def _aside(line: Mapping[str, object]) -> str:
    """A line that stands above a figure's on the card, in words: an interlocking part names whom it goes with."""
    others = str(line.get("others", ""))
    return f"{line['text']}, with {others}" if others else str(line["text"])


def counts_of(part: Part) -> tuple[str, tuple[float, ...]]:
    """What is counted in a figure, "times" or "strokes", and the moments."""
    onsets_s, rounds = part.figure.onsets_s, part.figure.cycles
    if rounds > 1:
        return "times", onsets_s[:: len(onsets_s) // rounds][:rounds]
    return ("strokes", onsets_s) if len(onsets_s) > 1 else ("", ())


def _tool(book: BookInput, part: Part, line: Mapping[str, object], following: Part | None) -> Tool:
    named = rest_of(book.casting)
    kept = following is not None and following.kept
    rests = dict.fromkeys(named[used].name for used in part.cast.implements if used in named)
    return Tool(
        how=str(line["tool"]),
        names=part.cast.implements,
        rest=str(line["rest"]),
        where=str(line["where"]),
        back_to="" if kept else " ".join(rests),
    )


def _move(book: BookInput, stand: Place, doing: Doing, free_s: float, carried: Part | None) -> Move:
    """The walk to where something is done: the player leaves with a reserve, or as soon as the hands are free."""
    assert doing.place is not None
    casting, part = book.casting, doing.part
    walk_mm, to_left = walk(stand, doing.place, casting, book.piano)
    kept = part is not None and part.kept
    take_s = pick_s(part.cast, casting, book.kit) if part is not None and not kept else 0.0
    lay_s = put_s(carried.cast, casting, book.kit) if carried is not None and not kept else 0.0
    needs_s = casting.times.turn_s + walk_mm / casting.times.walk_mm_per_s + casting.times.settle_s + take_s
    latest_s = doing.start_s - needs_s - RESERVE_S
    passed = way(stand, doing.place, casting.places, casting.rim_length_mm)
    return Move(
        place=doing.place.id,
        side="left" if to_left else "right",
        metres=round(walk_mm / 1000.0, 1),
        way_mm=tuple((round(place.at.x_mm), round(place.at.y_mm)) for place in passed),
        leave_s=min(doing.start_s, max(free_s + lay_s, latest_s)),
        needs_s=round(needs_s + lay_s, 2),
    )


def at(steps: Sequence[Step], seconds: float) -> At:
    """What of a player's steps counts at a moment of the piece."""
    started = [step for step in steps if step.start_s <= seconds]
    coming = [step for step in steps if step.start_s > seconds]
    now = tuple(step for step in started if seconds < step.end_s)
    stand = started[-1] if started else (steps[0] if steps else None)
    todo = next((step for step in coming if step.kind != "cue"), None)
    return At(
        go=todo if todo is not None and todo.move is not None else None,
        now=now,
        next=coming[0] if coming else None,
        after=coming[1] if len(coming) > 1 else None,
        place=stand.place if stand is not None else "",
    )


def count(step: Step, seconds: float) -> int:
    """Which of its rounds or strokes a step is at, from 1; 0 before the first."""
    return bisect_right(step.counts_s, seconds)


def bar_at(bars: Sequence[Bar], seconds: float) -> int:
    """The number of the bar that sounds at a moment, from 0; -1 before the first."""
    return bisect_right(bars, seconds, key=lambda bar: bar[0]) - 1
