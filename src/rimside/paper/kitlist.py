"""The kit list: every implement, where it rests, who uses it, whether there are enough; and the cautions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rimside.casting.result import CastFigure
from rimside.cautions import CAUTIONS
from rimside.kit import DEFAULT_PICK_S, DEFAULT_PUT_S, PERMISSIONS, Implement, Stock
from rimside.paper.ink import pitch_colour
from rimside.paper.material import BookInput
from rimside.paper.rests import landmark, rest_of
from rimside.paper.running import who
from rimside.piano.resting import nearest_hang
from rimside.pitch import label


def kit_list(book: BookInput) -> dict[str, object]:
    """Implements, stock, techniques' cautions and permissions as plain values for the template."""
    return {
        "implements": [_implement(book, implement) for implement in _ordered(book)],
        "stock": [_stock(book, stock) for stock in book.kit.stock],
        "times": _times(book),
        "techniques": list(_technique_cautions(book)),
        "general": [{"about": caution.about, "words": caution.words} for caution in CAUTIONS.values()],
        "allowed": [PERMISSIONS.get(name, name) for name in sorted(book.piano.permissions.allowed)],
        "forbidden": [words for name, words in PERMISSIONS.items() if name not in book.piano.permissions.allowed],
        "barred": sorted(book.piano.permissions.forbidden_spots),
        "note": book.piano.permissions.note,
    }


def _ordered(book: BookInput) -> list[Implement]:
    order = {stock.kind: number for number, stock in enumerate(book.kit.stock)}
    return sorted(book.casting.implements, key=lambda one: (order.get(one.kind, 99), int(one.key or 0), one.id))


def _users(book: BookInput, implement: str) -> list[CastFigure]:
    return [cast for cast in book.casting.cast if implement in cast.implements]


def _implement(book: BookInput, implement: Implement) -> dict[str, object]:
    used = _users(book, implement.id)
    names = {cast.player for cast in used}
    rest = rest_of(book.casting).get(implement.id)
    pitch = [] if implement.key is None else [
        {"label": label(implement.key, book.scheme), "colour": pitch_colour(implement.key, book.pitch_colours)}
    ]  # fmt: skip
    return {
        "id": implement.id, "kind": implement.kind, "pitch": pitch, "rest": rest.name if rest else "",
        "where": _where(book, implement), "who": [who(player) for player in book.players if player.id in names],
        "used": len(used),
    }  # fmt: skip


def _where(book: BookInput, implement: Implement) -> str:
    if implement.key is not None and implement.from_near_end_mm is not None:
        return f"threaded, {implement.from_near_end_mm:.0f} mm from the near end{_hangs(book, implement)}"
    return landmark(book.piano, implement)


def _hangs(book: BookInput, implement: Implement) -> str:
    """Where the handles of a threaded line hang, when a strut is near."""
    assert implement.key is not None and implement.from_near_end_mm is not None
    hang = nearest_hang(book.piano, book.piano.course(implement.key), implement.from_near_end_mm)
    return f"; handles on {hang.strut}" if hang else ""


def _stock(book: BookInput, stock: Stock) -> dict[str, object]:
    """How many a casting uses against what is owned; kinds of one pitch are counted for the pitch that needs most."""
    laid = [one for one in book.casting.implements if one.kind == stock.kind and _users(book, one.id)]
    most = max(Counter(one.key for one in laid).values(), default=0)
    return {
        "kind": stock.kind, "owned": f"{stock.count} a pitch" if stock.per_pitch else str(stock.count),
        "used": f"{len(laid)} on {len({one.key for one in laid})} courses" if stock.per_pitch else str(len(laid)),
        "enough": (most if stock.per_pitch else len(laid)) <= stock.count,
        "pick": _time(book, "pick_s", stock.kind, stock.pick_s, DEFAULT_PICK_S),
        "put": _time(book, "put_s", stock.kind, stock.put_s, DEFAULT_PUT_S),
    }  # fmt: skip


def _time(book: BookInput, name: str, kind: str, measured_s: float | None, default_s: float) -> dict[str, object]:
    """The time that the casting used, and whether a rehearsal measured it."""
    times = book.casting.times
    used_s = (times.pick_s if name == "pick_s" else times.put_s).get(
        kind, default_s if measured_s is None else measured_s
    )
    measured = measured_s is not None or f"{name} of {kind}" in times.measured
    return {"s": f"{used_s:.2f} s", "measured": measured}


def _times(book: BookInput) -> list[dict[str, object]]:
    times, measured = book.casting.times, book.casting.times.measured
    return [
        {"what": what, "value": value, "measured": name in measured}
        for what, name, value in (
            ("walking", "walk_mm_per_s", f"{times.walk_mm_per_s:.0f} mm/s"),
            ("turning", "turn_s", f"{times.turn_s:.2f} s"),
            ("settling", "settle_s", f"{times.settle_s:.2f} s"),
        )
    ]


def _technique_cautions(book: BookInput) -> Iterator[dict[str, object]]:
    """The cautions of the techniques that this music uses, in the order of the table."""
    used = {figure.technique for figure in book.casting.figures}
    for technique, row in book.kit.rows.items():
        if technique in used:
            yield {
                "name": technique.value, "cautions": list(row.cautions), "noise": row.put_down_noise,
                "source": row.source,
            }  # fmt: skip
