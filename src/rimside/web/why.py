"""What stands in the way of the piece, in plain words, and what to do about each: values for the page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from rimside.casting.judge.plan import Task, reach_need_mm, tasks_of
from rimside.casting.question import ANOTHER
from rimside.casting.result import Mend, Uncast
from rimside.casting.rules import h11_permission
from rimside.casting.verify import RULES
from rimside.cautions import CAUTIONS
from rimside.errors import BadInput
from rimside.files.checkup import CastingCheck, Checkup
from rimside.files.mending import held_by
from rimside.files.project import ENSEMBLE, KIT, Production
from rimside.files.repinning import Moved
from rimside.kit import PERMISSIONS
from rimside.paper.material import BookInput
from rimside.paper.running import amount
from rimside.paper.wording import LEVELS, beat, clock, how, pass_at, tags
from rimside.score.model import Figure, NotUnderstood
from rimside.web import parts
from rimside.web.levels import changed
from rimside.web.parts import Head, Step, Tag

LEAN_WORTH_S = 4.0
"""A lean that lasts less is not told. Our own choice."""
RULE_WORDS: Mapping[str, str] = {rule.id: rule.name for rule in RULES} | {"pin": "what somebody has pinned"}


@dataclass(frozen=True, slots=True, kw_only=True)
class At:
    """A figure as a sentence names it: where it stands in the score, its tags, and who plays it (None: nobody)."""

    id: str
    part: str
    bar: str
    nth: str
    beat: str
    time: str
    tags: tuple[Tag, ...]
    how: str
    essential: bool
    who: Head | None = None

    @property
    def words(self) -> str:
        """The bar with which time round it is, or the time from the beginning."""
        return f"bar {self.bar}{f' ({self.nth} time)' if self.nth else ''}" if self.bar else self.time

    @property
    def in_score(self) -> str:
        """Exactly where a composer finds it."""
        after = f", beat {self.beat}" if self.beat else ", beat 1"
        return f"{self.part}, {self.words}{after if self.bar else ''}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One mend: its number in the casting, what it says, of what kind, and which file could hold it ("": people do it).

    `score` says where the composer finds what it changes, for those that change the music.
    """

    number: int
    text: str
    kind: str
    of_music: str
    can_try: bool
    file: str
    score: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """An uncast figure: the rules by name, the reason, what competes with it, and what mends it."""

    at: At
    rules: tuple[str, ...]
    reason: str
    competing: tuple[At, ...]
    proved: bool
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tight:
    """A change that leaves less than the reserve."""

    who: Head
    step: Step
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """Where a player leans over for long, with the longest figure of those played so."""

    at: At
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A permission that the piece asks for and the owner has not given; with the figures that ask."""

    name: str
    words: str
    figures: tuple[At, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """Everything, in the order in which it keeps the piece from being played."""

    slips: tuple[tuple[str, str], ...]
    uncast: tuple[Open, ...]
    broken: tuple[str, ...]
    wanted: tuple[Wanted, ...]
    tight: tuple[Tight, ...]
    leans: tuple[Lean, ...]
    stale: tuple[CastingCheck, ...]
    books: tuple[tuple[str, str], ...]
    puzzles: tuple[NotUnderstood, ...]
    unread: tuple[tuple[str, str, str], ...]
    piano_file: str

    @property
    def clear(self) -> bool:
        """Whether nothing at all is to be told."""
        told = (self.slips, self.uncast, self.broken, self.wanted, self.tight, self.leans, self.stale, self.books)
        return not any((*told, self.puzzles, self.unread))


def why(book: BookInput, production: Production, name: str, found: Checkup) -> Why:
    """What stands in the way of one casting, and of the folder that it lies in.

    Parameters
    ----------
    book : the casting with all that is shown beside it.
    found : the check of the whole folder.
    """
    mine = [row for row in found.castings if row.name == name]
    return Why(
        slips=slips(found),
        uncast=tuple(_open(book, production, name, row) for row in book.casting.uncast),
        broken=tuple(breach.message for row in mine for breach in row.breaches),
        wanted=tuple(_wanted(book)),
        tight=tuple(_tight(book)),
        leans=tuple(_leans(book)),
        stale=tuple(row for row in found.castings if row.out_of_date),
        books=tuple((words.split()[1], words) for words in found.books),
        puzzles=book.score.not_understood,
        unread=tuple((caution, CAUTIONS[caution].about, CAUTIONS[caution].words) for caution in found.unread),
        piano_file=production.piano_file(book.casting.piano),
    )


def slips(found: Checkup) -> tuple[tuple[str, str], ...]:
    """Each slip once, with the file that it is in."""
    rows = [(row.name, row.slip) for row in found.inputs] + [
        (f"castings/{row.name}.json", row.slip) for row in found.castings
    ]
    told: dict[str, str] = {}
    for name, slip in rows:
        if slip:
            told.setdefault(slip, name)
    return tuple((name, slip) for slip, name in told.items())


def _at(book: BookInput, figure: Figure) -> At:
    takes = {row.figure: row.player for row in book.casting.cast}
    heads = {head.id: head for head in parts.heads(book)}
    return At(
        id=figure.id, part=figure.part, bar=figure.bar, nth=pass_at(book.score, figure.bar, figure.start_s),
        beat=beat(figure), time=clock(figure.start_s), how=how(figure), essential=figure.essential,
        tags=parts.tag_values(tags(figure, book.scheme, book.pitch_colours)), who=heads.get(takes.get(figure.id, "")),
    )  # fmt: skip


def _open(book: BookInput, production: Production, name: str, row: Uncast) -> Open:
    figures = {figure.id: figure for figure in book.casting.figures}
    rules = dict.fromkeys((row.rule, *row.rules))
    return Open(
        at=_at(book, figures[row.figure]),
        rules=tuple(RULE_WORDS.get(rule, rule) for rule in rules),
        reason=row.reason,
        competing=tuple(_at(book, figures[other]) for other in row.competing if other in figures),
        proved=row.proved,
        ways=tuple(_way(book, production, name, row, number) for number in range(len(row.mends))),
    )


def _way(book: BookInput, production: Production, name: str, row: Uncast, number: int) -> Way:
    mend = row.mends[number]
    try:
        held = held_by(production, name, mend)
    except BadInput:
        held = None  # what it changes is no longer in the file; trying it says so
    return Way(
        number=number, text=mend.text, kind=mend.kind, can_try=bool(mend.change), file=held[0] if held else "",
        of_music=f"{mend.of_music:.1f} s of music" if mend.of_music and mend.kind != "shorten" else "",
        score=_in_score(book, row, mend),
    )  # fmt: skip


def _in_score(book: BookInput, row: Uncast, mend: Mend) -> str:
    """Where the composer finds what a mend changes; empty for one that leaves the music as it is."""
    if mend.kind not in ("technique", "shorten"):
        return ""
    figures = {figure.id: figure for figure in book.casting.figures}
    named = mend.change[1] if len(mend.change) > 1 else row.figure
    return _at(book, figures.get(named, figures[row.figure])).in_score


def _wanted(book: BookInput) -> Iterator[Wanted]:
    """Permissions that figures ask for, as the composer wrote them, and spots that are barred."""
    asked: dict[str, list[Figure]] = {}
    permissions = book.piano.permissions
    for figure in book.casting.figures:
        rows = {figure.technique, figure.written or figure.technique}
        names = [name for technique in rows for name in h11_permission.wanted(figure, book.kit.rows[technique])]
        barred = [figure.spot] if figure.spot in permissions.forbidden_spots and figure.spot else []
        for name in dict.fromkeys([*(name for name in names if name not in permissions.allowed), *barred]):
            asked.setdefault(name, []).append(figure)
    for name, figures in asked.items():
        words = PERMISSIONS.get(name, f"the spot {name}")
        yield Wanted(name=name, words=words, figures=tuple(_at(book, figure) for figure in figures))


def _tight(book: BookInput) -> Iterator[Tight]:
    found = [
        (step.change.slack_s, step.start_s, Tight(who=strip.who, step=step, sentence=tight_words(strip.who.name, step)))
        for strip in (parts.strip(book, player.id) for player in book.players)
        for step in strip.steps
        if step.change is not None and step.change.tight and step.change.slack_s is not None
    ]
    yield from (row for _, _, row in sorted(found, key=lambda row: row[:2]))


def tight_words(name: str, step: Step) -> str:
    """What a player says of a tight change: "Flo needs 2.4 s to put down the felt hammer and walk ... ; bar 41 ..."."""
    change = step.change
    assert change is not None and change.slack_s is not None
    does = [f"put down the {change.put_down}"] if change.put_down else []
    does += [f"walk {change.walk_m:.1f} m to the {change.side}"] if change.walk_m else []
    does += [f"take the {change.take}"] if change.take else []
    chores = [deed.words for deed in (*step.early, *step.deeds) if deed.kind == "chore"]
    if chores and change.need_s + change.slack_s < change.gap_s - 0.05:
        does = [f"see to {_counted(len(chores), 'thing')} ({', '.join(chores)})", *does]
        left = f"that leaves {max(0.0, change.slack_s):.1f} s to spare"
        return f"Before {step.bar_words} {name} has to {_and(does)}; {left}."
    return (
        f"{name} needs {change.need_s:.1f} s to {_and(does) or 'come to rest'}; "
        f"{step.bar_words} leaves {max(0.0, change.gap_s):.1f} s."
    )


def _and(words: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1] if words else "")))


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _leans(book: BookInput) -> Iterator[Lean]:
    """Long leans of one player at one place together, the longest time first."""
    groups: dict[tuple[str, str], list[Task]] = {}
    for task in tasks_of(book.casting, book.kit):
        if _long_lean(task):
            groups.setdefault((task.player.id, task.place.id), []).append(task)
    for tasks in sorted(groups.values(), key=lambda group: -sum(map(_lasts_s, group))):
        worst = max(tasks, key=_lasts_s)
        often = f", {len(tasks)} times, {sum(map(_lasts_s, tasks)):.0f} s in all" if len(tasks) > 1 else " once"
        sentence = (
            f"{worst.player.name} leans over from {worst.place.id}{often}; the longest lasts {_lasts_s(worst):.0f} s "
            f"and reaches {reach_need_mm(worst) / 10:.0f} cm, where {worst.player.comfortable_reach_mm / 10:.0f} cm is "
            "comfortable."
        )
        yield Lean(at=_at(book, worst.figure), sentence=sentence)


def _lasts_s(task: Task) -> float:
    return task.figure.end_s - task.figure.start_s


def _long_lean(task: Task) -> bool:
    return _lasts_s(task) >= LEAN_WORTH_S and reach_need_mm(task) > task.player.comfortable_reach_mm


def levels(rows: Iterable[tuple[str, int, int]]) -> list[dict[str, object]]:
    """The levels that a mend changes, in words, each with whether it gets better."""
    return changed(rows, lambda bare: LEVELS.get(bare, bare), amount)


def afterwards(production: Production, kind: str) -> tuple[str, str]:
    """What people have to do about a mend that no file holds, and the file that they write it into then."""
    words = {
        "practise": ("Time it at rehearsal. When it is as quick, write the times that you measured into {} and cast "
                     "again.", KIT),
        "player": ("Find somebody, write the person into {} and cast again.", ENSEMBLE),
    }  # fmt: skip
    text, file = words.get(kind, ("It is for the composer: change it in {} and cast again.", production.facts.score))
    return text.format(file), file


def called(book: BookInput, figures: Iterable[str]) -> list[dict[str, str]]:
    """Figures by their bars, with the ids by which the piano view finds them."""
    known = {figure.id: figure for figure in book.casting.figures}
    return [{"id": name, "words": _named(book, known[name])} for name in figures if name in known]


def _named(book: BookInput, figure: Figure) -> str:
    at = _at(book, figure)
    return f"{at.words}, {' '.join(tag.label for tag in at.tags)} {at.how}"


def moved_words(book: BookInput, moved: Iterable[Moved]) -> list[dict[str, str]]:
    """What is cast otherwise, a line each: "bar 9, A3 felt hammer: Bo at S5, before Flo at B3"."""
    names = {player.id: player.name for player in book.players} | {ANOTHER: "another player"}
    known = {figure.id: figure for figure in book.casting.figures}
    told = []
    for row in moved:
        now, was = row.after, row.before
        if was is None:
            continue
        before = f"{names.get(was.player, was.player)} at {was.place}"
        after = f"{names.get(now.player, now.player)} at {now.place}" if now is not None else "nobody"
        change = f"{after}, before {before}" if after != before else f"{after}, {' and '.join(row.what)} otherwise"
        told.append({"id": row.figure, "words": f"{_named(book, known[row.figure])}: {change}"})
    return told
