"""What a person at the terminal sees of a production: its score, castings, books and tour."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from rimside.casting.result import Casting, Change, Mend, Proof, Uncast, bare_level
from rimside.casting.rules import MODEL_RULES
from rimside.casting.verify import Breach
from rimside.cautions import CAUTIONS
from rimside.files.checkup import CastingCheck, Checkup
from rimside.files.job import Book, Done
from rimside.files.tour import Row, State, Tour
from rimside.say.terminal import clock, columns, counted
from rimside.score.model import Figure
from rimside.score.reading import Reading

LEVELS: Mapping[str, str] = {
    "uncast": "music left out (1000 for each essential figure, 1 for each other)",
    "changed": "refits: 4 for each figure with another player, else 2 at another place and 1 with another implement",
    "risk": "hurried changes and long leaning, ms",
    "moves": "changes of place",
    "returns": "figures that come back to another player",
    "memory": "things to remember, for the busiest player",
    "load": "between the most and the least busy player, ms",
}
"""The levels of a casting's worth, weightiest first, in words."""
RULES: Mapping[str, str] = {rule.RULE: rule.NAME for rule in MODEL_RULES}
"""The rules that can keep figures apart, in words."""


def new_text(folder: str, made: Sequence[str]) -> str:
    """What `new` made, and what to do next."""
    listed = "\n".join(f"  {name}" for name in made)
    return (
        f"Made {folder}:\n{listed}\n\nEvery file says in comments what to change. It can be cast as it stands:\n"
        f"  rimside read {folder}\n  rimside cast {folder}\n  rimside check {folder}\n  rimside book {folder}"
    )


def reading_text(reading: Reading) -> str:
    """A score as read: how long, who plays how much, with which techniques, and what was not understood."""
    score, figures = reading.score, reading.figures
    head = f"{score.title or 'Without a title'}: {clock(score.end_s)}, {counted(len(score.bars), 'bar')} as played, "
    head += f"{counted(len(score.notes), 'note')}, {counted(len(figures), 'figure')}"
    notes = Counter(note.part for note in score.notes)
    by_part = Counter(figure.part for figure in figures)
    parts = [(part, str(notes[part]), str(by_part[part])) for part in score.parts]
    by_technique = Counter(figure.technique.value for figure in figures)
    techniques = [(name, str(count)) for name, count in by_technique.most_common()]
    blocks = [head, columns(("part", "notes", "figures"), parts), columns(("technique", "figures"), techniques)]
    if score.not_understood:
        rows = [(row.bar, row.part, row.text) for row in score.not_understood]
        blocks.append(f"Not understood ({len(rows)}):\n" + columns(("bar", "part", "what stands there"), rows))
    else:
        blocks.append("Everything was understood.")
    return "\n\n".join(blocks)


def cast_text(done: Done) -> str:
    """A new casting: coverage, the six levels with their bounds, and what is uncast and why."""
    casting = done.casting
    count, left = len(casting.figures), len(casting.uncast)
    head = f"{done.name}: {count - left} of {counted(count, 'figure')} cast, in {casting.seconds:.0f} s"
    blocks = [head, *done.notes, *([refit_text(casting)] if casting.like else []), *_pins_text(done)]
    blocks.append(proof_text(casting))
    if left:
        reasons = "\n".join(uncast_text(row, casting) for row in casting.uncast)
        blocks.append(f"Uncast ({left}, essential {essential_left(casting)}):\n{reasons}")
    if done.breaches:
        broken = "\n".join(f"  {breach.rule}: {breach.message}" for breach in done.breaches)
        blocks.append(f"Broken rules ({len(done.breaches)}), please report this:\n{broken}")
    else:
        blocks.append("Checked against H1 to H12: every rule holds.")
    blocks.append(f"Written to {done.path}")
    return "\n\n".join(blocks)


def refit_text(casting: Casting) -> str:
    """What a refit changes, how much of that nobody could have avoided, and whether less is possible."""
    changes = casting.changes
    if not changes:
        return f"Nothing changes from {casting.like}."
    kinds = Counter(change.what for change in changes)
    words = {"player": "of player", "place": "of place", "implement": "of implement"}
    words |= {"uncast": "no longer played", "cast": "played now"}
    told = ", ".join(f"{kinds[what]} {words[what]}" for what in words if kinds[what])
    forced, chosen = forced_and_chosen(changes)
    figures = counted(len({change.figure for change in changes}), "figure")
    return (
        f"Refit of {casting.like}: {counted(len(changes), 'change')} to {figures} ({told}); "
        f"{forced} forced (no casting could keep them), {chosen} chosen so that the rest can stay.\n"
        f"{least_text(casting)}"
    )


def forced_and_chosen(changes: Sequence[Change]) -> tuple[int, int]:
    """How many changes nobody could avoid, and how many serve the others; played no more or only now is neither."""
    forced = sum(change.forced for change in changes)
    return forced, sum(change.what not in ("uncast", "cast") for change in changes) - forced


def least_text(casting: Casting) -> str:
    """Whether fewer changes are possible, by weight."""
    proof = changed_level(casting)
    if proof is None:
        return ""
    if proof.proved:
        return f"That is the least: weight {proof.value}, proved."
    return f"Weight {proof.value}; no casting gets below {proof.bound}."


def changed_level(casting: Casting) -> Proof | None:
    """The level of changes of a refit."""
    return next((row for row in casting.proof if bare_level(row.level) == "changed"), None)


def _pins_text(done: Done) -> list[str]:
    """How much is pinned, and what is no longer as it was in a casting that was kept."""
    pins, figures = done.casting.pins, {pin.figure for pin in done.casting.pins}
    lines = [f"Pinned: {counted(len(pins), 'pin')} on {counted(len(figures), 'figure')}"] if pins else []
    if done.kept is not None:
        same = len(done.casting.figures) - len(done.altered)
        lines.append(f"Kept as it was: {counted(same, 'figure')}; changed: {', '.join(done.altered) or 'none'}")
    return lines


def essential_left(casting: Casting) -> int:
    """How many of the uncast figures are essential."""
    essential = {figure.id for figure in casting.figures if figure.essential}
    return sum(row.figure in essential for row in casting.uncast)


def proof_text(casting: Casting) -> str:
    """The objective's levels: value, bound, and whether the value is proven best."""
    rows = [
        (
            row.level,
            str(row.value),
            str(row.bound),
            "yes" if row.proved else "no",
            LEVELS.get(bare_level(row.level), ""),
        )
        for row in casting.proof
    ]
    return columns(("level", "value", "bound", "proved", "what it counts"), rows)


def uncast_text(row: Uncast, casting: Casting) -> str:
    """One uncast figure: where it stands, the rule in its way, the reason, what competes, and what would mend it."""
    figure = next((figure for figure in casting.figures if figure.id == row.figure), None)
    lines = [f"  {row.figure}{f' ({place_text(figure)})' if figure else ''}", f"    {row.rule}: {row.reason}"]
    if row.competing:
        lines.append(f"    competes with {', '.join(row.competing)}{'' if row.proved else ' (not proved)'}")
    if len(row.rules) > 1:
        lines.append(
            f"    kept out by {' and '.join(f'{rule} ({RULES.get(rule, rule)})' for rule in row.rules)} together"
        )
    lines += [f"    mend: {mend.text}{of_music_text(mend)}" for mend in row.mends]
    return "\n".join(lines)


def of_music_text(mend: Mend) -> str:
    """How much of the music a mend changes, unless its text says so already."""
    return f" ({mend.of_music:.1f} s of music)" if mend.of_music and mend.kind != "shorten" else ""


def place_text(figure: Figure) -> str:
    """Where a figure stands: part, bar, moment, technique."""
    essential = ", essential" if figure.essential else ""
    return f"{figure.part}, bar {figure.bar}, {clock(figure.start_s)}, {figure.technique.value}{essential}"


def cast_table(done: Done) -> dict[str, object]:
    """The same as a table for JSON; the whole plan is in the file that it names."""
    casting = done.casting
    return {
        "casting": done.name,
        "file": str(done.path),
        "figures": len(casting.figures),
        "cast": len(casting.figures) - len(casting.uncast),
        "uncast": [_uncast(row) for row in casting.uncast],
        "proof": [
            {"level": row.level, "value": row.value, "bound": row.bound, "proved": row.proved} for row in casting.proof
        ],
        "breaches": [_breach(row) for row in done.breaches],
        "pins": [{"figure": pin.figure, **pin.named, "forbid": pin.forbid} for pin in casting.pins],
        "changed": list(done.altered) if done.kept is not None else None,
        "seconds": casting.seconds,
        "like": casting.like,
        "changes": [_change(row) for row in casting.changes],
        "notes": list(done.notes),
    }


def checkup_text(found: Checkup) -> str:
    """Every input file and every casting, a line each, and what is wrong below it."""
    inputs = [(row.name, "slip" if row.slip else "good", row.says) for row in found.inputs]
    blocks = [columns(("file", "state", "holds"), inputs)]
    if found.castings:
        blocks.append("\n".join(casting_text(row) for row in found.castings))
    else:
        blocks.append("No castings yet.")
    if found.books:
        blocks.append("\n".join(found.books))
    if found.unread:
        rows = [(name, CAUTIONS[name].words) for name in found.unread]
        blocks.append("Cautions to read (then name them in production.toml, cautions_read):\n" + columns((), rows))
    return "\n\n".join(blocks)


def casting_text(row: CastingCheck) -> str:
    """One casting's state, in one line and what is wrong below it."""
    if row.slip:
        return f"casting {row.name}: cannot be read"
    lines = [f"casting {row.name}: {row.figures - row.uncast} of {counted(row.figures, 'figure')} cast"]
    lines += [f"  {row.out_of_date}"] if row.out_of_date else []
    lines += [f"  not judged: {row.not_judged}"] if row.not_judged else []
    lines += [f"  {breach.rule}: {breach.message}" for breach in row.breaches]
    if not (row.not_judged or row.breaches):
        lines[0] += ", every rule holds"
    return "\n".join(lines)


def checkup_table(found: Checkup) -> dict[str, object]:
    """The same as a table for JSON."""
    return {
        "inputs": [{"name": row.name, "says": row.says, "slip": row.slip} for row in found.inputs],
        "castings": [
            {
                "name": row.name,
                "figures": row.figures,
                "uncast": row.uncast,
                "out_of_date": row.out_of_date,
                "breaches": [_breach(breach) for breach in row.breaches],
                "not_judged": row.not_judged,
                "slip": row.slip,
            }
            for row in found.castings
        ],
        "books_out_of_date": list(found.books),
        "cautions_unread": list(found.unread),
    }


def books_text(books: Sequence[Book]) -> str:
    """What was printed, and what to know before handing it out."""
    lines = []
    for book in books:
        lines.append(f"Printed {book.path}")
        lines += [f"  {book.warning}"] if book.warning else []
        if book.pages_of.uncast:
            lines.append(f"  {counted(len(book.pages_of.uncast), 'figure')} uncast, listed in it")
    return "\n".join(lines)


def books_table(books: Sequence[Book]) -> dict[str, object]:
    """The same as a table for JSON."""
    return {
        "books": [
            {
                "casting": book.name,
                "file": str(book.path),
                "out_of_date": book.warning,
                "uncast": len(book.pages_of.uncast),
            }
            for book in books
        ]
    }


def tour_text(found: Tour) -> str:
    """A row for each piano and absence: whether it can be played, what changes, and why not."""
    rows = [
        (row.stop.piano, ", ".join(row.stop.absent) or "nobody", state_text(row), why_text(row)) for row in found.rows
    ]
    heads = ("piano", "without", "state", "")
    playable = sum(row.playable for row in found.rows)
    kept = sum(row.kept for row in found.rows)
    blocks = [f"Tour close to {found.like}: {playable} of {counted(len(found.rows), 'stop')} playable", *found.notes]
    blocks.append(columns(heads, rows))
    if kept:
        blocks.append(f"Already up to date: {kept} of these; --anew casts all again.")
    return "\n\n".join(blocks)


def state_text(row: Row) -> str:
    """What became of one stop, with the number of its changes."""
    if row.breaches:
        return "breaks rules"
    if row.state is State.CHANGED:
        return f"playable with {counted(len(row.changes), 'change')}"
    if row.state is State.NOT_PLAYABLE and row.casting is not None:
        return f"not playable: {counted(len(row.casting.uncast), 'figure')} uncast"
    return row.state.value


def why_text(row: Row) -> str:
    """Of changes, how many were forced and whether fewer are possible; of what is uncast, the first reason."""
    if row.casting is None:
        return row.slip
    if row.breaches:
        return f"please report this: {row.breaches[0].rule}: {row.breaches[0].message}"
    if row.casting.uncast:
        first = row.casting.uncast[0]
        more = f" (and {len(row.casting.uncast) - 1} more)" if len(row.casting.uncast) > 1 else ""
        return f"{first.figure}: {first.rule}: {first.reason}{more}"
    if not row.changes:
        return ""
    (forced, chosen), proof = forced_and_chosen(row.changes), changed_level(row.casting)
    least = (
        "" if proof is None else ", the least" if proof.proved else f", weight {proof.value}, at least {proof.bound}"
    )
    return f"{forced} forced, {chosen} chosen{least}"


def tour_table(found: Tour) -> dict[str, object]:
    """The same as a table for JSON."""
    return {"like": found.like, "notes": list(found.notes), "stops": [_stop(row, found.like) for row in found.rows]}


def _stop(row: Row, like: str) -> dict[str, object]:
    proof = None if row.casting is None or row.casting.like != like else changed_level(row.casting)
    return {
        "casting": row.stop.name,
        "piano": row.stop.piano,
        "without": list(row.stop.absent),
        "state": row.state.value,
        "changes": [_change(change) for change in row.changes],
        "weight": None if proof is None else {"value": proof.value, "bound": proof.bound, "proved": proof.proved},
        "uncast": [] if row.casting is None else [_uncast(left) for left in row.casting.uncast],
        "breaches": [_breach(breach) for breach in row.breaches],
        "slip": row.slip,
        "kept": row.kept,
    }


def _uncast(row: Uncast) -> dict[str, object]:
    return {
        "figure": row.figure,
        "rule": row.rule,
        "reason": row.reason,
        "competing": list(row.competing),
        "rules": list(row.rules),
        "proved": row.proved,
        "mends": [{"kind": mend.kind, "text": mend.text, "of_music_s": mend.of_music} for mend in row.mends],
    }


def _change(row: Change) -> dict[str, object]:
    return {"figure": row.figure, "what": row.what, "before": row.before, "after": row.after, "forced": row.forced}


def _breach(breach: Breach) -> dict[str, object]:
    return {"rule": breach.rule, "message": breach.message, "figures": list(breach.figures)}
