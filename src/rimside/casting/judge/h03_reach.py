"""H3 as the judge reads it: every contact is within reach and open."""

from __future__ import annotations

from collections.abc import Iterator

from rimside.casting.judge.plan import TIE_MM, TIE_S, Breach, Plan, Task, ceil_s, named, reach_need_mm
from rimside.casting.result import Contact
from rimside.people import LEAN_LIMIT_S
from rimside.piano.access import OVER_HEIGHT_MM, OVERHEAD_CLEARANCE_MM, Window
from rimside.piano.model import Course, Piano, Point, Strut
from rimside.pitch import Key, label
from rimside.score.model import Figure, Mute


def breaches(plan: Plan) -> Iterator[Breach]:
    """Contacts out of reach, or covered."""
    for task in plan.tasks:
        yield from _near_enough(plan, task)
        yield from _all_met(task)
        yield from _keyboard(task)
        for contact in task.cast.contacts:
            if (course := plan.course(contact.key)) is not None and contact.from_near_end_mm is not None:
                yield from _open(plan, task, contact, course, contact.from_near_end_mm)


def _h3(task: Task, message: str) -> Breach:
    return Breach(rule="H3", message=message, figures=(task.figure.id,))


def _near_enough(plan: Plan, task: Task) -> Iterator[Breach]:
    need_mm, full_mm = reach_need_mm(task), task.player.reach_mm
    where = f"{named(task.figure)} from {task.place.id}"
    if need_mm > full_mm + TIE_MM:
        yield _h3(task, f"{task.player.name} reaches {full_mm:.1f} mm; {where} is {need_mm:.1f} mm away.")
    leans = need_mm > task.player.comfortable_reach_mm + TIE_MM
    lasts_s = task.figure.end_s - task.figure.start_s
    if leans and lasts_s > LEAN_LIMIT_S + TIE_S:
        yield _h3(task, f"{task.player.name} would lean {ceil_s(lasts_s)} for {where}; {LEAN_LIMIT_S:g} s is the most.")


def _all_met(task: Task) -> Iterator[Breach]:
    """Each course is played, touched and muted as the figure says, and nothing else is."""
    figure = task.figure
    courses: set[Key | str | None] = {figure.spot} if figure.spot is not None else set(figure.keys)
    wanted = {
        "play": courses,
        "touch": courses if figure.touch is not None else set(),
        "mute": courses if figure.mute is Mute.FINGER else set(),
    }
    for role, expected in wanted.items():
        met = {contact.spot if contact.key is None else contact.key for contact in task.contacts(role)}
        if met != expected:
            said = " ".join(sorted(_met_said(thing) for thing in expected ^ met))
            yield _h3(task, f"{named(task.figure)}: its {role} contacts do not agree with it about {said}.")


def _met_said(thing: Key | str | None) -> str:
    return label(Key(thing)) if isinstance(thing, int) else str(thing)


def _keyboard(task: Task) -> Iterator[Breach]:
    at_keys = [c for c in task.contacts("play") if c.key is not None and c.from_near_end_mm is None]
    if task.row.at_keyboard and not task.place.at_keyboard:
        yield _h3(task, f"{task.player.name} cannot play {named(task.figure)}: {task.place.id} is not at the keyboard.")
    if task.row.at_keyboard and len(at_keys) < len(task.contacts("play")):
        yield _h3(task, f"{named(task.figure)} is played on the keys, not on the strings.")
    if not task.row.at_keyboard and at_keys:
        yield _h3(task, f"{named(task.figure)} is played on the strings, and it is not said where along them.")


def _open(plan: Plan, task: Task, contact: Contact, course: Course, at_mm: float) -> Iterator[Breach]:
    if contact.role == "touch":
        closed = _off_node(task.figure, course, at_mm) or _covered(plan.piano, course, at_mm, 0.0, damper=True)
    else:
        closed = _closed(plan.piano, course, task.row.window, at_mm)
    if closed:
        yield _h3(task, f"{named(task.figure)}: at {at_mm:.1f} mm on {label(course.key)} {closed}.")


def _off_node(figure: Figure, course: Course, at_mm: float) -> str | None:
    if figure.touch is None:
        return None
    node_mm = course.length_mm * figure.touch.k / figure.touch.n
    away = abs(at_mm - node_mm) > TIE_MM
    return f"the finger misses node {figure.touch.node} at {node_mm:.1f} mm" if away else None


def _closed(piano: Piano, course: Course, window: Window, at_mm: float) -> str | None:
    """Why a tool may not work here, or None.

    The contact itself keeps clear of the two ends; all that the tool covers keeps clear of what is in the way.
    """
    length_mm = course.length_mm
    if not window.from_share * length_mm - TIE_MM <= at_mm <= window.to_share * length_mm + TIE_MM:
        return "the technique does not work"
    if at_mm < window.clear_of_near_mm - TIE_MM:
        return f"it is nearer than {window.clear_of_near_mm:g} mm to the near end"
    if at_mm > length_mm - window.clear_of_far_mm + TIE_MM:
        return f"it is nearer than {window.clear_of_far_mm:g} mm to the far end"
    return _covered(piano, course, at_mm, window.half_width_mm, damper=window.clear_of_damper)


def _covered(piano: Piano, course: Course, at_mm: float, half_mm: float, *, damper: bool) -> str | None:
    """What lies over the `half_mm` to both sides of a contact, in words, or None."""
    felt = course.damper
    low_mm, high_mm = at_mm - half_mm + TIE_MM, at_mm + half_mm - TIE_MM
    if damper and felt is not None and low_mm < felt.to_mm and high_mm > felt.from_mm:
        return "the damper felt is in the way"
    for strut in piano.struts:
        if _under(course, strut, low_mm, high_mm):
            return f"{strut.name} is in the way"
    for section, (first_mm, last_mm) in _strings_over(piano, course).items():
        if low_mm < last_mm + OVERHEAD_CLEARANCE_MM and high_mm > first_mm - OVERHEAD_CLEARANCE_MM:
            return f"the strings of the {section} pass over it"
    return None


def _under(course: Course, strut: Strut, low_mm: float, high_mm: float) -> bool:
    """Whether a strut covers any of a course between two points, given in mm from its near end; a tool has a width."""
    from shapely import LineString

    low_mm, high_mm = max(0.0, low_mm), min(course.length_mm, max(high_mm, low_mm + 2.0 * TIE_MM))
    low, high = course.at(low_mm), course.at(high_mm)
    bar = LineString([(strut.start.x_mm, strut.start.y_mm), (strut.end.x_mm, strut.end.y_mm)])
    covered = LineString([(low.x_mm, low.y_mm), (high.x_mm, high.y_mm)]).intersection(
        bar.buffer(strut.width_mm / 2.0, cap_style="flat")
    )
    return bool(covered.length > 0.0)


def _strings_over(piano: Piano, course: Course) -> dict[str, tuple[float, float]]:
    """For each higher section that crosses a course: the first and the last crossing string, mm from its near end."""
    found: dict[str, list[float]] = {}
    for other in piano.courses:
        if other.section != course.section and other.height_mm >= course.height_mm + OVER_HEIGHT_MM:
            found.setdefault(other.section, []).extend(_crossing_mm(course, other))
    return {section: (min(edges), max(edges)) for section, edges in found.items() if edges}


def _crossing_mm(course: Course, other: Course) -> tuple[float, ...]:
    """The two edges of another course where it crosses this one, mm from the near end; none when they do not cross."""
    (near_along, near_aside), (far_along, far_aside) = (_beside_mm(course, end) for end in (other.near, other.far))
    if near_aside * far_aside > 0.0 or near_aside == far_aside:
        return ()
    plan_mm = course.near.distance_mm(course.far)
    along_mm = near_along + near_aside / (near_aside - far_aside) * (far_along - near_along)
    if not 0.0 <= along_mm <= plan_mm:
        return ()
    sine = max(0.05, abs(far_aside - near_aside) / other.near.distance_mm(other.far))
    half_mm = ((other.strings - 1) * other.spacing_mm + (other.wrap_mm or other.wire_mm)) / 2.0 / sine
    at_mm = along_mm * course.length_mm / plan_mm
    return (at_mm - half_mm, at_mm + half_mm)


def _beside_mm(course: Course, point: Point) -> tuple[float, float]:
    """A point seen from a course: how far along it and how far to its left, mm."""
    plan_mm = course.near.distance_mm(course.far)
    ux, uy = (course.far.x_mm - course.near.x_mm) / plan_mm, (course.far.y_mm - course.near.y_mm) / plan_mm
    px, py = point.x_mm - course.near.x_mm, point.y_mm - course.near.y_mm
    return (px * ux + py * uy, py * ux - px * uy)
