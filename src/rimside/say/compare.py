"""What a person at the terminal sees of two pianos beside each other."""

from __future__ import annotations

from rimside.casting.compare import Difference, Weight
from rimside.files.comparing import Compared
from rimside.paper.compare_plan import few
from rimside.say.terminal import columns


def compare_text(done: Compared) -> str:
    """The differences by weight, a row each."""
    found = done.found
    blocks = [f"{done.title}: {found.here.name} (here) beside {found.there.name} (there)"]
    for weight in Weight:
        if rows := found.of(weight):
            heads = ("what", "here", "there", "figures")
            blocks.append(f"{weight.value[0].upper()}{weight.value[1:]}:\n" + columns(heads, list(map(_row, rows))))
    if not found.differences:
        blocks.append("Nothing that matters to this piece differs.")
    return "\n\n".join([*blocks, *([f"Written: {done.written}"] if done.written else [])])


def _row(one: Difference) -> tuple[str, str, str, str]:
    return one.what, one.here, one.there, few(one.figures)


def compare_table(done: Compared) -> dict[str, object]:
    """The same as a table for JSON."""
    return {
        "title": done.title,
        "here": done.found.here.name,
        "there": done.found.there.name,
        "differences": [
            {
                "weight": one.weight.value,
                "what": one.what,
                "here": one.here,
                "there": one.there,
                "figures": list(one.figures),
                "source": one.source,
            }
            for one in done.found.differences
        ],
        "written": None if done.written is None else str(done.written),
    }
