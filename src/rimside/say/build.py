"""What a person at the terminal sees of the kit to build."""

from __future__ import annotations

from rimside.casting.build import Order
from rimside.files.building import Workshop, sizes_text
from rimside.say.terminal import columns, counted

HEADS = ("kind", "label", "needed", "there", "spares", "make", "sizes")


def build_text(shop: Workshop, written: tuple[str, ...]) -> str:
    """A row for each piece, what is short, what lies idle, and what was written."""
    head = f"The kit for {', '.join(shop.productions)}, spares for {counted(shop.shows, 'show')}"
    blocks = [head, *shop.notes, columns(HEADS, [_row(shop, order) for order in shop.orders])]
    if shop.short:
        names = (f"{order.piece.kind} {shop.label(order.piece)}".strip() for order in shop.short)
        blocks.append(f"Fewer in the box than the music needs: {', '.join(names)}")
    if shop.idle:
        blocks.append("Not needed: " + ", ".join(f"{count} {kind}" for kind, count in shop.idle))
    grams = sum(order.piece.size("compound") * order.make for order in shop.orders)
    line_m = sum(o.piece.size("line") * o.piece.size("strands") * o.make for o in shop.orders) / 1000.0
    blocks.append(f"Nylon line to cut: {line_m:.1f} m; moulding compound: {grams:.0f} g")
    assumed = sorted({order.piece.source for order in shop.orders if "assumption" in order.piece.source})
    if assumed:
        blocks.append("Sizes that rest on our assumptions ([build] in kit.toml replaces them):\n" + "\n".join(
            f"  {source.partition(': ')[2]}" for source in assumed))  # fmt: skip
    return "\n\n".join([*blocks, *(f"Written: {path}" for path in written)])


def _row(shop: Workshop, order: Order) -> tuple[str, ...]:
    piece, there = order.piece, "?" if order.there is None else str(order.there)
    counts = str(piece.count), there, str(order.spares), str(order.make)
    return (piece.kind, shop.label(piece) or "any", *counts, sizes_text(piece))


def build_table(shop: Workshop, written: tuple[str, ...]) -> dict[str, object]:
    """The same as a table for JSON."""
    return {
        "productions": list(shop.productions),
        "shows": shop.shows,
        "spare_risk": shop.risk,
        "pieces": [
            {
                "kind": order.piece.kind,
                "label": shop.label(order.piece),
                "keys": [int(key) for key in order.piece.keys],
                "needed": order.piece.count,
                "needed_by": list(order.needed_by),
                "there": order.there,
                "spares": order.spares,
                "make": order.make,
                "sizes": [{"name": s.name, "value": s.value, "unit": s.unit} for s in order.piece.sizes],
                "source": order.piece.source,
                "unit_cost": order.unit_cost,
            }
            for order in shop.orders
        ],
        "not_needed": [{"kind": kind, "count": count} for kind, count in shop.idle],
        "notes": list(shop.notes),
        "written": list(written),
    }
