"""The kit that one or several productions need, against what the ensemble has; as a table, a CSV file and a sheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from rimside.casting.build import Order, Piece, idle, orders, pieces
from rimside.errors import BadInput
from rimside.files import project
from rimside.files.atomic import write_file
from rimside.kit import Kit
from rimside.paper.build_sheet import BuildInput, build_sheet
from rimside.pitch import Key, LabelScheme, label

COLUMNS = ("kind", "label", "needed", "in the box", "spares", "to make", "sizes", "rests on", "unit cost", "cost")


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """What is to be made for productions (by title), and what of the kit lies idle."""

    productions: tuple[str, ...]
    orders: tuple[Order, ...]
    idle: tuple[tuple[str, int], ...]
    shows: int
    risk: float
    scheme: LabelScheme
    pitch_colours: Mapping[Key, str]
    kit: Kit
    notes: tuple[str, ...] = ()

    @property
    def short(self) -> tuple[Order, ...]:
        """Pieces of which fewer are in the box than the music needs at once, spares aside."""
        return tuple(order for order in self.orders if order.short)

    def label(self, piece: Piece) -> str:
        """The label of a piece: its pitches, or nothing."""
        return " ".join(label(key, self.scheme) for key in piece.keys)


def workshop(folders: Sequence[str], casting: str | None, shows: int) -> Workshop:
    """What the castings of one or several productions need.

    Parameters
    ----------
    casting : the name of the casting in each, that of its main piano when None.
    shows : how many shows spares are counted for, over all productions.

    Raises
    ------
    BadInput : a slip in a folder, no such casting, a folder named twice.
    """
    if not 1 <= shows <= 1000:
        raise BadInput("is out of range", where="--shows", value=shows, allowed="1 to 1000")
    productions = [project.load(Path(folder)) for folder in folders]
    kits, needs, notes = [one.kit() for one in productions], {}, []
    for folder, production, kit in zip(folders, productions, kits, strict=True):
        name = project.bare_name(casting or production.facts.piano)
        plan = project.read_casting(production, name)
        title = production.facts.title
        if title in needs:
            raise BadInput("two productions have one title", where=folder, value=title, hint="was one named twice?")
        needs[title] = pieces(plan, production.piano(project.piano_of(name)), kit)
        notes += [text for text in (project.out_of_date(production, plan, name),) if text]
        if kit != kits[0]:
            notes.append(f"{folder} has another kit.toml than {folders[0]}; what is there is counted by the latter")
    first = productions[0].facts
    return Workshop(
        productions=tuple(needs), orders=orders(needs, kits[0], shows), idle=idle(needs, kits[0]), shows=shows,
        risk=kits[0].making.spare_risk, scheme=first.labels, pitch_colours=first.pitch_colours, kit=kits[0],
        notes=tuple(notes),
    )  # fmt: skip


def write_csv(shop: Workshop, file: str) -> Path:
    """Write the list as CSV with an empty column for costs where none is known."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for order in shop.orders:
        piece, unit = order.piece, order.unit_cost
        cost = "" if unit is None else f"{unit * order.make:.2f}"
        writer.writerow([piece.kind, shop.label(piece), piece.count, _there(order), order.spares, order.make,
                         sizes_text(piece), piece.source, "" if unit is None else f"{unit:.2f}", cost])  # fmt: skip
    path = Path(file)
    write_file(path, out.getvalue().encode("utf-8"), file)
    return path


def write_sheet(shop: Workshop, file: str) -> Path:
    """Write the build sheet as PDF."""
    path = Path(file)
    write_file(path, sheet(shop), file)
    return path


def sheet(shop: Workshop) -> bytes:
    """The build sheet as PDF."""
    return build_sheet(
        BuildInput(
            productions=shop.productions, orders=shop.orders, idle=shop.idle, shows=shop.shows, risk=shop.risk,
            scheme=shop.scheme, pitch_colours=shop.pitch_colours,
        )
    )  # fmt: skip


def _there(order: Order) -> int | str:
    return "" if order.there is None else order.there


def sizes_text(piece: Piece) -> str:
    """The measures of a piece in words."""
    return ", ".join(f"{size.name} {size.value:g} {size.unit}".strip() for size in piece.sizes)
