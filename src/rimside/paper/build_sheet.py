"""The sheet for the workshop: what to make, what to cut, labels to cut out, and what to mind while making."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rimside.casting.build import Order, Piece
from rimside.cautions import CAUTIONS
from rimside.making import MUTE
from rimside.paper.ink import pitch_colour
from rimside.paper.typeset import typeset
from rimside.pitch import Key, LabelScheme, label

ABOUT = ("putty", "lines", "rosin", "solvents", "coils", "owner")
"""The cautions that matter in the workshop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildInput:
    """What the sheet shows."""

    productions: tuple[str, ...]
    orders: tuple[Order, ...]
    idle: tuple[tuple[str, int], ...]
    shows: int
    risk: float
    scheme: LabelScheme
    pitch_colours: Mapping[Key, str]


def build_sheet(sheet: BuildInput) -> bytes:
    """The PDF."""
    kinds = list(dict.fromkeys(order.piece.kind for order in sheet.orders))
    data = {
        "productions": list(sheet.productions),
        "shows": sheet.shows,
        "risk": f"{100 * sheet.risk:g} %",
        "scheme": sheet.scheme.value,
        "kinds": [_kind(kind, sheet) for kind in kinds],
        "lines": _cuts(sheet),
        "compound": _grams(sheet),
        "labels": [
            {"tags": _tags(order.piece, sheet), "kind": order.piece.kind}
            for order in sheet.orders
            for _ in range(order.piece.count + order.spares)
            if order.piece.keys
        ],
        "idle": [{"kind": kind, "count": count} for kind, count in sheet.idle],
        "cautions": [{"about": CAUTIONS[name].about, "words": CAUTIONS[name].words} for name in ABOUT],
    }
    return typeset("build.typ", data, {})


def _kind(kind: str, sheet: BuildInput) -> dict[str, object]:
    rows = [order for order in sheet.orders if order.piece.kind == kind]
    return {
        "kind": kind,
        "make": sum(order.make for order in rows),
        "sources": list(dict.fromkeys(order.piece.source for order in rows if order.piece.source)),
        "rows": [_row(order, sheet) for order in rows],
    }


def _row(order: Order, sheet: BuildInput) -> dict[str, object]:
    piece = order.piece
    return {
        "tags": _tags(piece, sheet),
        "needed": piece.count,
        "there": "?" if order.there is None else str(order.there),
        "short": order.short,
        "spares": order.spares,
        "make": order.make,
        "sizes": ", ".join(f"{size.name} {size.value:g} {size.unit}".strip() for size in piece.sizes),
        "cost": "" if order.unit_cost is None else f"{order.unit_cost * order.make:.2f}",
    }


def _tags(piece: Piece, sheet: BuildInput) -> list[dict[str, str]]:
    return [{"label": label(key, sheet.scheme), "colour": pitch_colour(key, sheet.pitch_colours)} for key in piece.keys]


def _cuts(sheet: BuildInput) -> list[dict[str, object]]:
    """Lines to cut, the longest first: how many of each length, and how much nylon that takes."""
    lengths: dict[tuple[float, int], int] = {}
    for order in sheet.orders:
        length_mm, strands = order.piece.size("line"), int(order.piece.size("strands"))
        if length_mm and order.make:
            lengths[length_mm, strands] = lengths.get((length_mm, strands), 0) + order.make
    return [
        {"length": f"{length_mm:g}", "strands": strands, "count": count,
         "metres": f"{length_mm * strands * count / 1000.0:.1f}"}
        for (length_mm, strands), count in sorted(lengths.items(), reverse=True)
    ]  # fmt: skip


def _grams(sheet: BuildInput) -> str:
    """Moulding compound for all mutes to be made; empty when there are none."""
    grams = sum(_compound(sheet))
    return f"{grams:.0f}" if grams else ""


def _compound(sheet: BuildInput) -> Iterator[float]:
    return (order.piece.size("compound") * order.make for order in sheet.orders if order.piece.kind == MUTE)
