"""Whether a casting is about things that exist, and its own figures are true."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rimside.casting.judge.levels import changed_level, levels
from rimside.casting.judge.plan import HANDS, TIE_MM, TIE_S, WHOLE_TIE, Breach, Plan, named, point_of
from rimside.casting.result import HELD_KEYS, Casting, Contact
from rimside.kit import DEFAULT_PICK_S, DEFAULT_PUT_S
from rimside.piano.model import Course, Keyboard, Place, Point
from rimside.pitch import Key, label

KEY_LENGTH_MM = 160.0
KEY_ASIDE_MM = 25.0
"""How far a finger may be from the middle of its key. Our assumption: one white key's width."""


def ids(plan: Plan) -> Iterator[Breach]:
    """Names that lead nowhere, or that two things share."""
    casting = plan.casting
    known = {
        "figure": [figure.id for figure in casting.figures],
        "player": [player.id for player in casting.players],
        "place": [place.id for place in casting.places],
        "implement": [implement.id for implement in casting.implements],
        "chore": [chore.id for chore in casting.chores],
    }
    for what, names in known.items():
        for name in (name for name, number in Counter(names).items() if number > 1):
            yield Breach(rule="ids", message=f"Two of the {what}s are called {name}.", figures=())
    for what, name, figures in _references(casting):
        if name not in known[what]:
            yield Breach(rule="ids", message=f"There is no {what} {name}.", figures=figures)
    yield from _odd_hands(casting)


def _references(casting: Casting) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Every id that one row uses for another: what it is, its name, and the figure that uses it."""
    for row in casting.cast:
        about = (row.figure,)
        yield from (("figure", row.figure, about), ("player", row.player, about), ("place", row.place, about))
        yield from (("implement", name, about) for name in row.implements)
    for left in casting.uncast:
        yield from (("figure", name, (left.figure,)) for name in (left.figure, *left.competing))
    for chore in casting.chores:
        yield from () if chore.player is None else (("player", chore.player, ()),)
        yield from () if chore.place is None else (("place", chore.place, ()),)
        yield from (("implement", name, ()) for name in chore.implements)
        yield from (("figure", name, ()) for name in chore.needed_by)
    for action in casting.pedals:
        yield from () if action.by in ("wedge", "unassigned") else (("player", action.by, ()),)


def _odd_hands(casting: Casting) -> Iterator[Breach]:
    rows = [(row.figure, row.hands, (row.figure,)) for row in casting.cast]
    for name, hands, figures in (*rows, *((chore.id, chore.hands, ()) for chore in casting.chores)):
        if len(set(hands)) != len(hands) or not set(hands) <= set(HANDS):
            yield Breach(rule="ids", message=f"{name}: hands are left and right, each once.", figures=figures)


def people(plan: Plan) -> Iterator[Breach]:
    """Bodies are what `people.py` gives on this piano; a measured reach goes before an estimate."""
    for player in plan.casting.players:
        if (person := plan.people.get(player.id)) is None:
            yield Breach(rule="people", message=f"Nobody in the ensemble is called {player.id}.", figures=())
            continue
        reach = person.reach(plan.piano.string_plane_mm)
        pairs = {
            "stature": (player.stature_mm, person.stature_mm),
            "full reach": (player.reach_mm, reach.full_mm),
            "comfortable reach": (player.comfortable_reach_mm, reach.comfortable_mm),
            "shoulder height": (player.shoulder_height_mm, person.shoulder_height_mm),
            "shoulder breadth": (player.shoulder_breadth_mm, person.shoulder_breadth_mm),
        }
        for what, (says, true) in pairs.items():
            if abs(says - true) > TIE_MM:
                message = f"{player.name}'s {what} is {true:.1f} mm on this piano; the casting says {says:.1f} mm."
                yield Breach(rule="people", message=message, figures=())


def same_piano(plan: Plan) -> Iterator[Breach]:
    """Places, rim and pitch that are not this piano's."""
    casting, piano = plan.casting, plan.piano
    if casting.piano != piano.name or abs(casting.a4_hz - piano.a4_hz) > TIE_S:
        message = f"The casting is for {casting.piano} at {casting.a4_hz:g} Hz, not {piano.name} at {piano.a4_hz:g} Hz."
        yield Breach(rule="piano", message=message, figures=())
    if abs(casting.rim_length_mm - piano.rim_length_mm) > TIE_MM:
        yield Breach(rule="piano", message="The way round the rim is not this piano's.", figures=())
    there = {place.id: place for place in piano.places}
    for place in casting.places:
        if place.id not in there or not _same_place(place, there[place.id]):
            yield Breach(rule="piano", message=f"The place {place.id} is not where this piano has it.", figures=())
    for task in plan.tasks:
        if missing := [key for key in task.figure.keys if plan.course(key) is None]:
            names = " ".join(label(key) for key in missing)
            yield Breach(rule="piano", message=f"This piano has no {names}.", figures=(task.figure.id,))
        if task.figure.spot is not None and piano.spot(task.figure.spot) is None:
            yield Breach(rule="piano", message=f"This piano has no {task.figure.spot}.", figures=(task.figure.id,))


def _same_place(a: Place, b: Place) -> bool:
    near = a.at.distance_mm(b.at) <= TIE_MM and abs(a.along_rim_mm - b.along_rim_mm) <= TIE_MM
    return near and a.at_keyboard == b.at_keyboard and abs(a.heading_deg - b.heading_deg) <= TIE_MM


def same_times(plan: Plan) -> Iterator[Breach]:
    """The casting's times are the kit's: measured for the kind, else of the table of times, else the default."""
    says, kit = plan.casting.times, plan.kit.times
    pairs: dict[str, tuple[float | None, float]] = {
        "walking, mm/s": (says.walk_mm_per_s, kit.walk_mm_per_s),
        "turning": (says.turn_s, kit.turn_s),
        "settling": (says.settle_s, kit.settle_s),
    }
    for kind in sorted({tool.kind for tool in plan.casting.implements}):
        stock = plan.stock(kind)
        pick_s = _kit_time_s(None if stock is None else stock.pick_s, kit.pick_s.get(kind), DEFAULT_PICK_S)
        put_s = _kit_time_s(None if stock is None else stock.put_s, kit.put_s.get(kind), DEFAULT_PUT_S)
        pairs[f"picking up the {kind}"] = (says.pick_s.get(kind), pick_s)
        pairs[f"putting down the {kind}"] = (says.put_s.get(kind), put_s)
    for what, (said, true) in pairs.items():
        if said is None or abs(said - true) > WHOLE_TIE:
            yield Breach(rule="times", message=f"{what}: the kit says {true:g}, the casting {said}.", figures=())


def _kit_time_s(of_stock_s: float | None, of_times_s: float | None, default_s: float) -> float:
    return next((time_s for time_s in (of_stock_s, of_times_s) if time_s is not None), default_s)


def contacts(plan: Plan) -> Iterator[Breach]:
    """Contacts that do not lie where they say."""
    for task in plan.tasks:
        for contact in task.cast.contacts:
            if (wrong := _misplaced(plan, contact)) is not None:
                yield Breach(rule="contacts", message=f"{named(task.figure)}: {wrong}.", figures=(task.figure.id,))
    for chore in plan.casting.chores:
        for contact in chore.contacts:
            if (wrong := _misplaced(plan, contact)) is not None:
                yield Breach(rule="contacts", message=f"The chore {chore.id}: {wrong}.", figures=())
    for tool in plan.casting.implements:
        course = plan.course(tool.key)
        if course is not None and tool.from_near_end_mm is not None:
            rest = Point(x_mm=tool.rest_x_mm, y_mm=tool.rest_y_mm)
            if not _lies(course, tool.from_near_end_mm, rest):
                message = f"The rest of {tool.id} does not lie on {label(course.key)} where it says."
                yield Breach(rule="contacts", message=message, figures=())


def _misplaced(plan: Plan, contact: Contact) -> str | None:
    """Why a contact is not where it says, or None."""
    if contact.key is None:
        spot = plan.piano.spot(contact.spot or "")
        off = spot is None or contact.from_near_end_mm is not None or spot.at.distance_mm(point_of(contact)) > TIE_MM
        return f"the contact is not at {contact.spot}" if off else None
    if (course := plan.course(contact.key)) is None:
        return f"this piano has no {label(contact.key)}"
    if contact.from_near_end_mm is None:
        on_key = _on_key(plan.piano.keyboard, contact.key, contact)
        return None if on_key else f"the contact is not on the key {label(contact.key)}"
    on = _lies(course, contact.from_near_end_mm, point_of(contact))
    return None if on else f"the contact does not lie on {label(contact.key)} where it says"


def _lies(course: Course, from_near_end_mm: float, point: Point) -> bool:
    inside = -TIE_MM <= from_near_end_mm <= course.length_mm + TIE_MM
    return inside and course.at(from_near_end_mm).distance_mm(point) <= TIE_MM


def _on_key(keys: Keyboard | None, key: Key, contact: Contact) -> bool:
    """A key of any choir is a key of the one keyboard, and all its keys are equally broad."""
    number = int(key) % 100
    if keys is None or not keys.first_key <= number <= keys.last_key:
        return False
    pitch_mm = (keys.to_mm - keys.from_mm) / (keys.last_key + 1 - keys.first_key)
    middle_mm = keys.from_mm + (number - keys.first_key) * pitch_mm + pitch_mm / 2.0
    return abs(contact.x_mm - middle_mm) <= KEY_ASIDE_MM and 0.0 <= contact.y_mm <= KEY_LENGTH_MM


def pedals(plan: Plan) -> Iterator[Breach]:
    """Pedals that this piano lacks, keys that it lacks, and spans that end before they begin."""
    for action in plan.casting.pedals:
        if action.pedal == HELD_KEYS:
            what = "The group of keys"
            if not action.keys or any(plan.course(key) is None for key in action.keys):
                message = f"The keys held at {action.down_s:g} s are not keys of this piano."
                yield Breach(rule="pedals", message=message, figures=())
        else:
            what = f"The {action.pedal} pedal"
            if action.pedal not in plan.piano.pedals:
                yield Breach(rule="pedals", message=f"This piano has no {action.pedal} pedal.", figures=())
        if not action.up_s > action.down_s:
            message = f"{what} comes up before it goes down at {action.down_s:g} s."
            yield Breach(rule="pedals", message=message, figures=())


def proof(plan: Plan) -> Iterator[Breach]:
    """Values of the proof that are not what the casting is worth, and bounds above them."""
    levels_now = list(levels(plan.casting, plan.kit))
    bare = ["uncast", "risk", "moves", "returns", "memory", "load"]
    if plan.casting.like:
        bare.insert(1, "changed")
        levels_now.insert(1, changed_level(plan.casting))
    names = tuple(f"{number} {name}" for number, name in enumerate(bare, start=1))
    true = dict(zip(names, levels_now, strict=True))
    said = {proof.level: proof for proof in plan.casting.proof}
    if [proof.level for proof in plan.casting.proof] != list(names):
        yield Breach(rule="proof", message=f"The proof must name the levels {', '.join(names)}.", figures=())
    for name, value in true.items():
        if name in said and said[name].value != value:
            message = f"Level {name} is {value}; the casting says {said[name].value}."
            yield Breach(rule="proof", message=message, figures=())
        if name in said and said[name].bound > said[name].value:
            yield Breach(rule="proof", message=f"Level {name} is below its own bound.", figures=())
