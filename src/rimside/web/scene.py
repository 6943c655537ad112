"""What the piano view needs of a casting, as plain values: who is where and when, what sounds, what is in the hand.

Points are plan coordinates in mm, times s from the first downbeat. The still drawing of the instrument is apart.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping

from rimside.casting.chore import ChoreKind
from rimside.casting.result import CastChore, CastFigure, Casting, Contact
from rimside.paper import plan_case, plan_strings, wording
from rimside.paper.changes import Part, parts_of
from rimside.paper.ink import letters_on, pitch_colour
from rimside.paper.material import BookInput
from rimside.paper.plan import view_box_mm
from rimside.paper.rests import named_rests
from rimside.paper.sections import bar_of, sections
from rimside.people import Player
from rimside.piano.geometry import walking_line
from rimside.piano.model import Course, Piano, Point
from rimside.pitch import Key, label
from rimside.score.model import Figure, Pedal

FORMAT = "rimside-scene/1"
LINE_STEP_MM = 100.0
"""From point to point of the walking line as it is sent."""
SHOULDER_SHARE = 0.36
"""From the middle of a body to a shoulder joint, of its breadth. Our own choice, as on paper."""
PEDAL_STEP_MM, PEDAL_MM = 75.0, -55.0
"""From pedal to pedal, and how far before the keyboard's front they are drawn. From memory of usual lyres."""
Row = dict[str, object]


def still(piano: Piano) -> str:
    """The instrument without people and words, as SVG in mm of the plan turned by a quarter."""
    left, top, width, height = view_box_mm(piano)
    layers = (*plan_case.case(piano, "still"), *plan_strings.strings(piano, None, {}, "still"))
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left} {top} {width} {height}" '
            f'width="{width}" height="{height}" aria-hidden="true">',
            *layers,
            "</svg>",
        )
    )


def scene(book: BookInput, name: str) -> Row:
    """Everything that moves, and all that is told of it.

    Parameters
    ----------
    name : of the casting.
    """
    casting, piano = book.casting, book.piano
    parts = {part.figure.id: part for player in book.players for part in parts_of(player.id, casting, piano, book.kit)}
    return {
        "format": FORMAT,
        "casting": name,
        "title": book.title,
        "ensemble": book.ensemble_name,
        "notes": list(book.notes),
        "instrument": piano.instrument,
        "piano": piano.title,
        "view": view_box_mm(piano),
        "outline": [[round(point.x_mm, 1), round(point.y_mm, 1)] for point in piano.outline],
        "begin_s": min((0.0, *(chore.start_s for chore in casting.chores))),
        "end_s": _end_s(book),
        "settle_s": casting.times.settle_s,
        "turn_s": casting.times.turn_s,
        "walk_mm_per_s": casting.times.walk_mm_per_s,
        "rim_length_mm": casting.rim_length_mm,
        "rim": _rim(piano),
        "places": {p.id: [p.at.x_mm, p.at.y_mm, p.heading_deg, p.along_rim_mm] for p in casting.places},
        "spots": [[spot.name, spot.at.x_mm, spot.at.y_mm] for spot in piano.spots],
        "rests": [[rest.name, rest.at.x_mm, rest.at.y_mm, list(rest.implements)] for rest in named_rests(casting)],
        "courses": dict(_courses(book)),
        "implements": {i.id: [i.kind, i.rest_x_mm, i.rest_y_mm, i.key] for i in casting.implements},
        "players": [_player(book, player) for player in book.players],
        "figures": [_figure(book, figure, parts.get(figure.id)) for figure in casting.figures],
        "chores": [_chore(book, chore) for chore in casting.chores],
        "pedals": [
            [wording.held(row, book.scheme), row.down_s, row.up_s, _named(book, row.by), row.pedal]
            for row in casting.pedals
        ],
        "lyre": _lyre(piano),
        "mutes": list(_mutes(casting)),
        "cues": [[cue.onset_s, f"{cue.part}: {cue.text}" if cue.part else cue.text] for cue in book.score.cues],
        "bars": [[bar.start_s, bar.bar, wording.pass_at(book.score, bar.bar, bar.start_s)] for bar in book.score.bars],
        "marks": [[mark.start_s, mark.name, mark.bar, mark.nth] for mark in sections(book.score)],
    }


def _end_s(book: BookInput) -> float:
    return max((book.score.end_s, *(f.end_s for f in book.casting.figures), *(c.end_s for c in book.casting.chores)))


def _lyre(piano: Piano) -> list[list[object]]:
    """Where the pedals are drawn, [pedal, x, y]: in their order before the middle of the keyboard."""
    if piano.keyboard is None:
        return []
    middle_mm = (piano.keyboard.from_mm + piano.keyboard.to_mm) / 2.0
    there = [pedal for pedal in (Pedal.UNA_CORDA, Pedal.SOSTENUTO, Pedal.DAMPER) if pedal in piano.pedals]
    return [
        [pedal.value, middle_mm + PEDAL_STEP_MM * (number - (len(there) - 1) / 2.0), PEDAL_MM]
        for number, pedal in enumerate(there)
    ]


def _rim(piano: Piano) -> list[list[float]]:
    """The walking line as [along, x, y, heading]."""
    return [
        [round(along, 1), round(at.x_mm, 1), round(at.y_mm, 1), round(heading, 1)]
        for along, at, heading in walking_line(piano.outline, LINE_STEP_MM)
    ]


def _courses(book: BookInput) -> Iterator[tuple[str, Row]]:
    """The courses that anything is done to, by key."""
    casting = book.casting
    keys = {key for figure in casting.figures for key in figure.keys}
    met = [contacts for rows in (casting.cast, casting.chores) for contacts in (row.contacts for row in rows)]
    keys |= {contact.key for contacts in met for contact in contacts if contact.key is not None}
    for course in book.piano.courses:
        if course.key in keys:
            yield str(int(course.key)), _course(book, course)


def _course(book: BookInput, course: Course) -> Row:
    breadth = (course.strings - 1) * course.spacing_mm + (course.wrap_mm or course.wire_mm)
    return {
        "label": label(course.key, book.scheme),
        "line": [round(v, 1) for v in (course.near.x_mm, course.near.y_mm, course.far.x_mm, course.far.y_mm)],
        "colour": pitch_colour(course.key, book.pitch_colours),
        "breadth_mm": round(breadth, 1),
        "hz": round(course.frequency_hz, 2),
        "wound": course.wound,
    }


def _player(book: BookInput, player: Player) -> Row:
    body = next(body for body in book.casting.players if body.id == player.id)
    return {
        "id": player.id,
        "name": player.name,
        "sign": player.sign,
        "colour": player.colour,
        "on": letters_on(player.colour),
        "breadth_mm": round(body.shoulder_breadth_mm, 1),
        "reach_mm": round(body.reach_mm, 1),
        "comfortable_mm": round(body.comfortable_reach_mm, 1),
        "stays": sorted(_stays(book, player.id), key=lambda stay: (stay["start"], stay["end"])),
    }


def _stays(book: BookInput, player: str) -> Iterator[Row]:
    """When a player is busy, where the hands are then, and with what in them."""
    casting = book.casting
    figures = {figure.id: figure for figure in casting.figures}
    for row in casting.cast:
        if row.player == player:
            yield _stay(book, row, figures[row.figure].start_s, figures[row.figure].end_s)
    for chore in casting.chores:
        if chore.player == player and chore.place is not None:
            yield _stay(book, chore, chore.start_s, chore.end_s)


def _stay(book: BookInput, row: CastFigure | CastChore, start_s: float, end_s: float) -> Row:
    casting = book.casting
    kinds = {implement.id: implement.kind for implement in casting.implements}
    used = [kinds[tool] for tool in row.implements if tool in kinds]
    figure = isinstance(row, CastFigure)
    pick_s = max((casting.times.pick_s.get(kind, 0.0) for kind in used), default=0.0) if figure else 0.0
    put_s = max((casting.times.put_s.get(kind, 0.0) for kind in used), default=0.0) if figure else 0.0
    return {
        "kind": "figure" if figure else "chore",
        "id": row.figure if isinstance(row, CastFigure) else row.id,
        "from": round(start_s - pick_s, 6),
        "start": start_s,
        "end": end_s,
        "until": round(end_s + put_s, 6),
        "place": row.place,
        "hands": _hands(book, row),
        "tools": list(row.implements),
    }


def _hands(book: BookInput, row: CastFigure | CastChore) -> Row:
    """For each hand in use the points that it goes to, [key, x, y, role]: the left takes what lies nearer to it."""
    place = next(place for place in book.casting.places if place.id == row.place)
    body = next(body for body in book.casting.players if body.id == row.player)
    turn = math.radians(place.heading_deg + 90.0)
    left = Point(
        x_mm=place.at.x_mm + SHOULDER_SHARE * body.shoulder_breadth_mm * math.cos(turn),
        y_mm=place.at.y_mm + SHOULDER_SHARE * body.shoulder_breadth_mm * math.sin(turn),
    )
    right = Point(x_mm=2 * place.at.x_mm - left.x_mm, y_mm=2 * place.at.y_mm - left.y_mm)
    ordered = sorted(row.contacts, key=lambda c: _at(c).distance_mm(left) - _at(c).distance_mm(right))
    shares = {row.hands[0]: ordered} if len(row.hands) == 1 else _shared(row.hands, ordered)
    return {hand: [_contact(contact) for contact in mine] for hand, mine in shares.items()}


def _shared(hands: tuple[str, ...], ordered: list[Contact]) -> Mapping[str, list[Contact]]:
    """Two hands: one contact is held by both, several are parted in the middle."""
    if not hands:
        return {}
    if len(ordered) == 1:
        return {"left": ordered, "right": ordered}
    middle = (len(ordered) + 1) // 2
    return {"left": ordered[:middle], "right": ordered[middle:]}


def _at(contact: Contact) -> Point:
    return Point(x_mm=contact.x_mm, y_mm=contact.y_mm)


def _contact(contact: Contact) -> list[object]:
    return [None if contact.key is None else int(contact.key), contact.x_mm, contact.y_mm, contact.role]


def _figure(book: BookInput, figure: Figure, part: Part | None) -> Row:
    row: Row = {
        "id": figure.id, "part": figure.part, "section": figure.section, "bar": figure.bar,
        "pass": wording.pass_at(book.score, figure.bar, figure.start_s), "beat": wording.beat(figure),
        "start": figure.start_s, "end": figure.end_s, "technique": figure.technique.value, "how": wording.how(figure),
        "keys": [int(key) for key in figure.keys], "spot": figure.spot, "times": figure.cycles,
        "essential": figure.essential, "dynamic": figure.dynamic,
        "strokes": [[s.onset_s, s.until_s, None if s.key is None else int(s.key)] for s in figure.strokes],
    }  # fmt: skip
    if part is None:
        left = next((row for row in book.casting.uncast if row.figure == figure.id), None)
        return {**row, "uncast": left.reason if left is not None else "not cast"}
    cast = part.cast
    return {
        **row,
        "player": cast.player, "place": cast.place, "hands": list(cast.hands), "tools": list(cast.implements),
        "contacts": [_contact(contact) for contact in cast.contacts],
        "near_mm": next((c.from_near_end_mm for c in cast.contacts if c.from_near_end_mm is not None), None),
        "slack": part.slack_s, "hurried": part.hurried, "kept": part.kept, "walk_mm": round(part.walk_mm),
        "left": part.to_left,
    }  # fmt: skip


def _chore(book: BookInput, chore: CastChore) -> Row:
    tags, words = wording.deed(chore, book.casting, book.scheme, book.pitch_colours)
    return {
        "id": chore.id, "kind": str(chore.kind), "start": chore.start_s, "end": chore.end_s, "player": chore.player,
        "place": chore.place, "bar": bar_of(book, chore.start_s), "words": words,
        "on": [tag["label"] for tag in tags], "reason": chore.reason,
    }  # fmt: skip


def _mutes(casting: Casting) -> Iterator[list[object]]:
    """Where a moulded mute lies and from when to when: [key, x, y, from, until]."""
    laid: dict[Key, tuple[float, Contact]] = {}
    for chore in sorted(casting.chores, key=lambda chore: chore.start_s):
        contact = next((contact for contact in chore.contacts if contact.key is not None), None)
        if contact is None or contact.key is None:
            continue
        if chore.kind == ChoreKind.LAY:
            laid[contact.key] = chore.end_s, contact
        elif chore.kind == ChoreKind.LIFT and contact.key in laid:
            from_s, where = laid.pop(contact.key)
            yield [int(contact.key), where.x_mm, where.y_mm, from_s, chore.start_s]
    for key, (from_s, where) in laid.items():
        yield [int(key), where.x_mm, where.y_mm, from_s, math.ceil(_last_s(casting))]


def _last_s(casting: Casting) -> float:
    return max((chore.end_s for chore in casting.chores), default=0.0)


def _named(book: BookInput, by: str) -> str:
    return next((player.name for player in book.players if player.id == by), by)


def busy_at(book: BookInput, step_s: float = 2.0) -> list[int]:
    """How many people play at each step of the piece: the swelling of the time line."""
    counts: defaultdict[int, set[str]] = defaultdict(set)
    figures = {figure.id: figure for figure in book.casting.figures}
    for row in book.casting.cast:
        figure = figures[row.figure]
        for step in range(max(0, int(figure.start_s // step_s)), int(figure.end_s // step_s) + 1):
            counts[step].add(row.player)
    return [len(counts[step]) for step in range(max(counts, default=-1) + 1)]
