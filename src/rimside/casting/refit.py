"""A refit: an earlier casting in a new problem's terms, where to start from it, and what had to change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rimside.casting.objective import KIND_CHANGED, PLACE_CHANGED, PLAYER_CHANGED, change_cost
from rimside.casting.problem import Choice, Liked, Problem, Task
from rimside.casting.result import CastFigure, Casting, Change
from rimside.piano.model import Place
from rimside.score.model import Figure

PLAYER, PLACE, IMPLEMENT = "player", "place", "implement"
"""What a change can be of, the hardest to relearn first."""
UNCAST, CAST = "uncast", "cast"
"""A figure that nobody plays any more, and one that somebody plays now."""
WEIGHTS = {PLAYER: PLAYER_CHANGED, PLACE: PLACE_CHANGED, IMPLEMENT: KIND_CHANGED, UNCAST: 0, CAST: 0}
NOTHING_IN_HAND = "bare hands"
"""What a change of implement calls having none."""
SHARE_TIE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """The casting that a refit stays close to, and its name."""

    name: str
    casting: Casting


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """How the figures of a score differ from those that an earlier casting was made of, by their ids.

    `other` are figures of one id that are no longer the same music.
    """

    same: tuple[str, ...]
    other: tuple[str, ...]
    gone: tuple[str, ...]
    new: tuple[str, ...]

    @property
    def another_score(self) -> bool:
        """Whether less than half of the casting's figures are in the score: it was made of another one."""
        return len(self.same) < len(self.other) + len(self.gone)


def compare(earlier: Casting, figures: Iterable[Figure]) -> Difference:
    """Which figures of a score the earlier casting knows; when they come may differ, what is played may not."""
    before = {figure.id: figure for figure in earlier.figures}
    now = {figure.id: figure for figure in figures}
    shared = [name for name in before if name in now]
    return Difference(
        same=tuple(name for name in shared if _music(before[name]) == _music(now[name])),
        other=tuple(name for name in shared if _music(before[name]) != _music(now[name])),
        gone=tuple(name for name in before if name not in now),
        new=tuple(name for name in now if name not in before),
    )


def _music(figure: Figure) -> tuple[object, ...]:
    """What makes a figure the same to whoever learned it; a technique that gave way to another counts as written."""
    technique, touch = figure.written or figure.technique, figure.touch.asked if figure.touch else ""
    return figure.part, figure.bar, figure.beat, technique, figure.keys, figure.spot, touch, figure.mute


def liking(problem: Problem, earlier: Casting) -> Problem:
    """The same problem, to be answered as closely to an earlier casting as can be."""
    return replace(problem, liked=liked(problem, earlier))


def liked(problem: Problem, earlier: Casting) -> dict[int, Liked]:
    """What the earlier casting does with each figure that it casts and that is still the same."""
    tasks = {task.figure.id: task for task in problem.tasks if task.figure is not None}
    same = frozenset(compare(earlier, (task.figure for task in tasks.values() if task.figure is not None)).same)
    players = {player.id: number for number, player in enumerate(problem.players)}
    places = corresponding(earlier, problem.piano.places, problem.piano.rim_length_mm)
    numbers = {place.id: number for number, place in enumerate(problem.piano.places)}
    kinds = _kinds(earlier)
    return {
        tasks[row.figure].index: Liked(
            player=players.get(row.player),
            places=frozenset(numbers[name] for name in places[row.place]),
            kind=kinds[row.figure],
        )
        for row in earlier.cast
        if row.figure in same
    }


def _kinds(casting: Casting) -> dict[str, str]:
    """The kind of implement of each cast figure, "" for bare hands."""
    kind = {implement.id: implement.kind for implement in casting.implements}
    return {row.figure: next((kind[name] for name in row.implements), "") for row in casting.cast}


def corresponding(earlier: Casting, places: Sequence[Place], rim_length_mm: float) -> dict[str, tuple[str, ...]]:
    """For each place of the earlier casting, by id, the places of another piano that count as the same, nearest first.

    Places correspond by their share of the way round the rim, keyboard places to keyboard places: the nearest one, and
    all that lie no further away than half the mean distance of the earlier places.
    """
    near = 0.5 / max(1, len(earlier.places))
    found: dict[str, tuple[str, ...]] = {}
    for old in earlier.places:
        away = {
            place.id: _apart(old.along_rim_mm / earlier.rim_length_mm, place.along_rim_mm / rim_length_mm)
            for place in places
            if place.at_keyboard == old.at_keyboard
        }
        limit = max(near, min(away.values(), default=0.0)) + SHARE_TIE
        found[old.id] = tuple(sorted((name for name in away if away[name] <= limit), key=lambda name: away[name]))
    return found


def _apart(a: float, b: float) -> float:
    """The shorter way between two shares of a closed rim."""
    ahead = abs(a - b) % 1.0
    return min(ahead, 1.0 - ahead)


def unavoidable(problem: Problem, index: int) -> frozenset[str]:
    """What must change for a liked figure whatever the others do: no option of its own keeps it."""
    task, old = problem.tasks[index], problem.liked[index]
    stays = {choice.place for choice in choices(problem, task) if choice.player == old.player}
    if not stays:
        return frozenset({PLAYER})
    moved = {PLACE} if stays.isdisjoint(old.places) else set()
    return frozenset(moved | ({IMPLEMENT} if task.kind != old.kind else set()))


def choices(problem: Problem, task: Task) -> Iterator[Choice]:
    """Every player, place and lane of a figure by itself, whatever the others do."""
    for player in task.players:
        for place in task.places:
            for lane in range(len(task.lanes)):
                if problem.allows(task, player, lane, place):
                    yield Choice(player=player, place=place, lane=lane)


def start(problem: Problem) -> dict[int, Choice]:
    """For each liked figure the option that changes least; a first guess, which may break rules between figures."""
    closest: dict[int, Choice] = {}
    for index in problem.liked:
        if problem.tasks[index].barred is None:
            options = choices(problem, problem.tasks[index])
            closest[index] = min(options, key=lambda choice: change_cost(problem, index, choice))
    return closest


def marked(casting: Casting, problem: Problem, earlier: Earlier) -> Casting:
    """A casting that says what it stays close to and what it changes."""
    return replace(casting, like=earlier.name, changes=changes(casting, problem, earlier.casting))


def changes(casting: Casting, problem: Problem, earlier: Casting) -> tuple[Change, ...]:
    """What a casting does otherwise than an earlier one, figure by figure in the order of the piece.

    With another player all else is new anyway, so that alone is listed. Figures that are not the same music are no
    changes.
    """
    numbers = {task.work.id: task.index for task in problem.tasks if task.index in problem.liked}
    same = frozenset(compare(earlier, casting.figures).same)
    before = {row.figure: row for row in earlier.cast}
    after = {row.figure: row for row in casting.cast}
    match = corresponding(earlier, casting.places, casting.rim_length_mm)
    kinds = _kinds(earlier), _kinds(casting)
    found: list[Change] = []
    for figure in casting.figures:
        old, new = before.get(figure.id), after.get(figure.id)
        if figure.id not in same:
            continue
        if old is not None and new is not None:
            known = unavoidable(problem, numbers[figure.id])
            found += (replace(c, forced=c.what in known) for c in _changes_of(old, new, match, kinds))
        elif old is not None:
            found.append(Change(figure=figure.id, what=UNCAST, before=old.player, after=""))
        elif new is not None:
            found.append(Change(figure=figure.id, what=CAST, before="", after=new.player))
    return tuple(found)


def _changes_of(
    old: CastFigure, new: CastFigure, match: Mapping[str, tuple[str, ...]], kinds: tuple[Mapping[str, str], ...]
) -> Iterator[Change]:
    was, now = (kind[new.figure] or NOTHING_IN_HAND for kind in kinds)
    if new.player != old.player:
        yield Change(figure=new.figure, what=PLAYER, before=old.player, after=new.player)
        return
    if new.place not in match[old.place]:
        stay = match[old.place][0] if match[old.place] else ""
        yield Change(figure=new.figure, what=PLACE, before=old.place, after=new.place, stay=stay)
    if was != now:
        yield Change(figure=new.figure, what=IMPLEMENT, before=was, after=now)


def weight(listed: Iterable[Change]) -> int:
    """What changes weigh together, as the level of changes counts them."""
    return sum(WEIGHTS[change.what] for change in listed)
