"""For a refit: one sheet for each player with only what changed, as it was and as it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from rimside.casting.result import CastFigure, Change
from rimside.paper.ink import letters_on
from rimside.paper.material import BookInput
from rimside.paper.rests import landmark, rest_of
from rimside.paper.running import who
from rimside.paper.wording import beat, hands, how, pass_at, tags
from rimside.people import Player
from rimside.score.model import Figure

Row = dict[str, object]


def change_sheets(book: BookInput) -> list[dict[str, object]]:
    """A sheet for each player as plain values for the template, none when the casting is no refit."""
    if not book.casting.like:
        return []
    cast = {row.figure: row for row in book.casting.cast}
    figures = {figure.id: figure for figure in book.casting.figures}
    by_figure = [(figures[name], list(changes)) for name, changes in groupby(book.casting.changes, _figure_of)]
    return [
        {
            "id": player.id, "name": player.name.strip() or player.id, "who": who(player),
            "letters": letters_on(player.colour),
            "rows": list(_rows(book, player, by_figure, cast)),
        }
        for player in book.players
    ]  # fmt: skip


def _figure_of(change: Change) -> str:
    return change.figure


def _rows(
    book: BookInput,
    player: Player,
    by_figure: Sequence[tuple[Figure, list[Change]]],
    cast: Mapping[str, CastFigure],
) -> Iterator[Row]:
    """What is new to a player, what no longer is, and what is done from elsewhere or with something else."""
    for figure, changes in by_figure:
        now = cast.get(figure.id)
        if now is None:
            if changes[0].before == player.id:
                yield _row(book, figure, "gone", was=["you"], now=["nobody: not playable here"])
            continue
        if changes[0].what == "cast":
            if now.player == player.id:
                yield _row(book, figure, "new", was=["nobody"], now=_doing(book, now))
            continue
        handed = next((change for change in changes if change.what == "player"), None)
        if handed is not None and handed.before == player.id:
            yield _row(book, figure, "gone", was=["you"], now=[_name(book, handed.after)])
        elif handed is not None and handed.after == player.id:
            yield _row(book, figure, "new", was=[_name(book, handed.before)], now=_doing(book, now))
        elif now.player == player.id:
            was, here = zip(*(_was_and_is(book, change, now) for change in changes), strict=True)
            yield _row(book, figure, "same", was=list(was), now=list(here))


def _row(book: BookInput, figure: Figure, kind: str, *, was: list[str], now: list[str]) -> Row:
    return {
        "kind": kind, "bar": figure.bar, "beat": beat(figure), "pass": pass_at(book.score, figure.bar, figure.start_s),
        "tags": tags(figure, book.scheme, book.pitch_colours), "how": how(figure), "was": was, "now": now,
    }  # fmt: skip


def _name(book: BookInput, player: str) -> str:
    """A player by name, somebody who is not there too."""
    everybody = (*book.players, *book.absent)
    return next((one.name.strip() or one.id for one in everybody if one.id == player), player)


def _doing(book: BookInput, cast: CastFigure) -> list[str]:
    """Where a new figure is played, with which hands, and where its implements are."""
    return [", ".join(word for word in ("you", f"at {cast.place}", hands(cast.hands)) if word), *_taken(book, cast)]


def _taken(book: BookInput, cast: CastFigure) -> list[str]:
    """Each kind of implement with where it rests."""
    named, implements = rest_of(book.casting), {one.id: one for one in book.casting.implements}
    used = [implements[name] for name in cast.implements]
    rests = {(one.kind, named[one.id].name if one.id in named else landmark(book.piano, one)) for one in used}
    return [f"{kind}, {rest}" for kind, rest in sorted(rests)]


def _was_and_is(book: BookInput, change: Change, now: CastFigure) -> tuple[str, str]:
    if change.what == "place":
        meant = f" (here {change.stay})" if change.stay not in ("", change.before) else ""
        return f"at {change.before}{meant}", f"at {change.after}"
    return change.before, "; ".join(_taken(book, now)) or change.after
