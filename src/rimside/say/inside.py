"""What a person at the terminal sees of a piano's inside: an overview, strings, nodes, access, magnets, places."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path

from rimside.cautions import CAUTIONS
from rimside.files.inside import Looked
from rimside.kit import HANDS, MAPPED, PERMISSIONS, TOUCH
from rimside.people import COMFORTABLE_LEAN_DEG, FULL_LEAN_DEG, lean_reach_mm
from rimside.piano import bowing, magnets
from rimside.piano.access_map import Access, Closed, access_map, within_reach
from rimside.piano.bowing import BowForce
from rimside.piano.instrument import INSTRUMENTS
from rimside.piano.magnets import Drive
from rimside.piano.model import Course, Interval, Place
from rimside.piano.nodes import Node, best_node, nodes_table
from rimside.piano.strength import SAFE_SHARE
from rimside.piano.string_report import Heard, StringReport, string_report
from rimside.piano.survey import remarks
from rimside.pitch import Key, LabelScheme, choir_of, label, plain_key, spans
from rimside.say.terminal import columns, counted
from rimside.units import LAST_KEY

Table = dict[str, object]
STATURE_MM = 1700.0
"""Of the person whose reach is told where no ensemble is asked. Our choice."""
HEADS_AT = 0.5
"""Where along the strings magnet heads are thought to lie in a row. Our choice."""
FRICTION = {False: "line bow", True: "friction strip"}
"""What draws sound from plain and from wound strings. Common practice, no published source."""


def inside_text(looked: Looked, topic: str | None) -> str:
    """One topic, or the overview when none is named."""
    return _TOPICS[topic][0](looked)


def inside_table(looked: Looked, topic: str | None) -> Table:
    """The same as a table for JSON."""
    return {"piano": looked.piano.name, "labels": looked.scheme.value, **_TOPICS[topic][1](looked)}


def written_text(paths: Sequence[Path]) -> str:
    """What was written."""
    return "\n".join(f"Written to {path}" for path in paths)


def topics() -> tuple[str, ...]:
    """What can be asked for by name."""
    return tuple(topic for topic in _TOPICS if topic is not None)


# --- overview --------------------------------------------------------------------------------------------------------


def _overview_text(looked: Looked) -> str:
    piano = looked.piano
    head = f"{piano.title}: {piano.length_mm / 10:.0f} cm, {counted(len(piano.courses), 'course')}, "
    head += f"{sum(course.strings for course in piano.courses)} strings, tuned to {piano.a4_hz:g} Hz"
    permissions = piano.permissions
    forbidden = [name for name in PERMISSIONS if name not in permissions.allowed]
    undamped = [course.key for course in piano.courses if course.damper is None]
    lines = [
        f"No damper: {spans(undamped, looked.scheme) or 'none'}",
        f"Pedals: {', '.join(sorted(pedal.value for pedal in piano.pedals)) or 'none'}",
        f"Struts: {', '.join(_strut_words(looked)) or 'none'}",
        f"Spots: {', '.join(spot.name for spot in piano.spots) or 'none'}",
        f"Allowed: {', '.join(sorted(permissions.allowed)) or 'nothing'}",
        f"Not allowed: {', '.join(forbidden) or 'nothing'}",
        f"Measured: {', '.join(sorted(piano.measured)) or 'nothing; all values are assumed'}",
    ]
    said = remarks(piano)
    unusual = "Unlike published pianos:\n" + columns((), [(row,) for row in said]) if said else "No course is unusual."
    heads = ("section", "keys", "courses", "strings", "wound", "length mm")
    return "\n\n".join([head, columns(heads, list(_sections(looked))), "\n".join(lines), unusual, _places_text(looked)])


def _sections(looked: Looked) -> Iterator[tuple[str, ...]]:
    for name, group in groupby(looked.piano.courses, key=lambda course: course.section):
        courses = list(group)
        wound = spans((course.key for course in courses if course.wound), looked.scheme)
        yield (
            name,
            spans((course.key for course in courses), looked.scheme),
            str(len(courses)),
            str(sum(course.strings for course in courses)),
            wound or "none",
            f"{courses[0].length_mm:.0f} to {courses[-1].length_mm:.0f}",
        )


def _strut_words(looked: Looked) -> list[str]:
    return [f"{strut.name}{' (over strings)' if strut.over_strings else ''}" for strut in looked.piano.struts]


def _overview_table(looked: Looked) -> Table:
    piano = looked.piano
    return {
        "title": piano.title,
        "length_mm": piano.length_mm,
        "a4_hz": piano.a4_hz,
        "courses": [_course_row(course, looked.scheme) for course in piano.courses],
        "struts": [{"name": strut.name, "over_strings": strut.over_strings} for strut in piano.struts],
        "spots": [spot.name for spot in piano.spots],
        "pedals": sorted(pedal.value for pedal in piano.pedals),
        "allowed": sorted(piano.permissions.allowed),
        "measured": sorted(piano.measured),
        "remarks": list(remarks(piano)),
        **_places_table(looked),
    }


def _course_row(course: Course, scheme: LabelScheme) -> Table:
    return {
        "key": int(course.key),
        "label": label(course.key, scheme),
        "section": course.section,
        "strings": course.strings,
        "wound": course.wound,
        "material": course.material,
        "damped": course.damper is not None,
        "length_mm": _mm(course.length_mm),
    }


# --- places ----------------------------------------------------------------------------------------------------------


def _reaches_mm(looked: Looked) -> tuple[float, float]:
    plane_mm = looked.piano.string_plane_mm
    comfortable, full = (lean_reach_mm(STATURE_MM, plane_mm, lean) for lean in (COMFORTABLE_LEAN_DEG, FULL_LEAN_DEG))
    return comfortable, max(comfortable, full)


def _places(looked: Looked) -> Iterator[tuple[Place, tuple[Key, ...], tuple[Key, ...]]]:
    """Each place with the courses that a finger reaches from it, in comfort and at full lean."""
    comfortable, full = _reaches_mm(looked)
    for place in looked.piano.places:
        reached = (within_reach(looked.piano, place, reach_mm, HANDS[TOUCH]) for reach_mm in (comfortable, full))
        easily, leaning = reached
        yield place, easily, leaning


def _places_text(looked: Looked) -> str:
    comfortable, full = _reaches_mm(looked)
    rows = [
        (place.id, spans(easily, looked.scheme) or "none", spans(leaning, looked.scheme) or "none")
        for place, easily, leaning in _places(looked)
    ]
    said = f"For somebody of {STATURE_MM / 10:.0f} cm: {comfortable:.0f} mm in comfort, {full:.0f} mm at full lean."
    return columns(("place", "courses reached", "at full lean"), rows) + f"\n\n{said}"


def _places_table(looked: Looked) -> Table:
    comfortable, full = _reaches_mm(looked)
    return {
        "reach_mm": {"stature": STATURE_MM, "comfortable": _mm(comfortable), "full": _mm(full)},
        "places": [
            {
                "id": place.id,
                "x_mm": place.at.x_mm,
                "y_mm": place.at.y_mm,
                "at_keyboard": place.at_keyboard,
                "keys_in_comfort": [int(key) for key in easily],
                "keys_at_full_lean": [int(key) for key in leaning],
            }
            for place, easily, leaning in _places(looked)
        ],
    }


# --- strings ---------------------------------------------------------------------------------------------------------


def _reports(looked: Looked) -> Iterator[StringReport]:
    """Each course, bowed at the point nearest to its near end that is open to the tool that suits it."""
    published = INSTRUMENTS[looked.piano.instrument].published
    for key in looked.keys:
        course = looked.piano.course(key)
        (row,) = access_map(looked.piano, [key], [HANDS[FRICTION[course.wound]]])
        yield string_report(course, row.open[0].from_mm if row.open else None, published=published)


_STRING_HEADS = (
    "key",
    "mm",
    "wire",
    "strings",
    "N each",
    "of break",
    "B",
    "Z kg/s",
    "along Hz",
    "at mm",
    "bow N",
    "pull N",
)


def _strings_text(looked: Looked) -> str:
    reports = list(_reports(looked))
    rows = [_string_cells(report, looked.scheme) for report in reports]
    warned = [text for report in reports for text in report.warnings]
    notes = (
        f"of break: share of the breaking load, least published strength; stay below {100 * SAFE_SHARE:.0f} %.\n"
        f"bow: least, comfortable and most force on the whole course at that point, at {bowing.BOW_M_PER_S:g} m/s, "
        f"friction step {bowing.FRICTION_STEP:g},\nbridge {bowing.BRIDGE_KG_PER_S:g} kg/s (assumed; nothing is "
        "published for pianos). Wound courses: with a strip.\n"
        "On violins more was measured as the least, up to tens of times for their weight (--json: bow_as_measured).\n"
        f"pull: what brings one string to {100 * SAFE_SHARE:.0f} % of its breaking load when it is pulled aside there."
    )
    warnings = "Look again at:\n" + columns((), [(text,) for text in warned]) if warned else "No course is unusual."
    return "\n\n".join([columns(_STRING_HEADS, rows), notes, warnings, f"Caution: {CAUTIONS['tension'].words}"])


def _string_cells(report: StringReport, scheme: LabelScheme) -> tuple[str, ...]:
    course, bow = report.course, report.bow
    wire = f"{course.wire_mm:.3f}" + (f"/{course.wrap_mm:.2f}" if course.wrap_mm is not None else "")
    return (
        label(course.key, scheme),
        f"{course.length_mm:.0f}",
        wire if course.material == "steel" else f"{wire} {course.material}",
        str(course.strings),
        f"{course.tension_n:.0f}",
        f"{100 * report.breaking_share:.0f} %",
        f"{course.inharmonicity:.2e}",
        f"{report.course_impedance_kg_per_s:.1f}",
        f"{report.longitudinal_hz:.0f}",
        "closed" if bow is None else f"{bow.from_near_mm:.0f}",
        "" if bow is None else " / ".join(map(_force, (bow.least_n, bow.comfortable_n, bow.most_n))),
        "" if report.pull_limit_n is None else f"{report.pull_limit_n:.0f}",
    )


def _force(force_n: float) -> str:
    """Two figures, as near as such a force is known."""
    if force_n < 0.001:
        return "<0.001"
    return f"{force_n:.0f}" if force_n >= 9.95 else f"{force_n:.2g}"


def _strings_table(looked: Looked) -> Table:
    return {
        "assumed": {
            "bow_m_per_s": bowing.BOW_M_PER_S,
            "friction_step": bowing.FRICTION_STEP,
            "bridge_kg_per_s": bowing.BRIDGE_KG_PER_S,
        },
        "strings": [_string_row(report, looked.scheme) for report in _reports(looked)],
    }


def _string_row(report: StringReport, scheme: LabelScheme) -> Table:
    course, bow = report.course, report.bow
    return {
        **_course_row(course, scheme),
        "wire_mm": course.wire_mm,
        "wrap_mm": course.wrap_mm,
        "frequency_hz": round(course.frequency_hz, 3),
        "tension_n": round(course.tension_n, 1),
        "course_tension_n": round(report.course_tension_n, 1),
        "breaking_n": round(report.breaking_n, 1),
        "breaking_share": round(report.breaking_share, 4),
        "inharmonicity": course.inharmonicity,
        "impedance_kg_per_s": round(report.impedance_kg_per_s, 3),
        "course_impedance_kg_per_s": round(report.course_impedance_kg_per_s, 3),
        "longitudinal_hz": round(report.longitudinal_hz, 1),
        "bow": None if bow is None else {"with": FRICTION[course.wound], **_bow_row(bow)},
        "bow_as_measured": None if report.bow_as_measured is None else _bow_row(report.bow_as_measured),
        "pull_limit_n": None if report.pull_limit_n is None else round(report.pull_limit_n, 1),
        "warnings": list(report.warnings),
    }


def _bow_row(bow: BowForce) -> Table:
    return {
        "from_near_mm": _mm(bow.from_near_mm),
        "beta": round(bow.beta, 4),
        "least_n": round(bow.least_n, 4),
        "comfortable_n": round(bow.comfortable_n, 4),
        "most_n": round(bow.most_n, 3),
    }


# --- a partial that was measured --------------------------------------------------------------------------------------


def heard_text(looked: Looked, key: Key, found: Heard) -> str:
    """What one measured partial tells of a course, beside what the survey says."""
    course = looked.piano.course(key)
    rows = [("inharmonicity B", f"{found.inharmonicity:.3e}", f"{course.inharmonicity:.3e}")]
    if found.wire_mm is not None:
        rows.append(("wire mm, from its length", f"{found.wire_mm:.3f}", f"{course.wire_mm:.3f}"))
    if found.tension_n is not None:
        rows.append(("tension of one string N", f"{found.tension_n:.0f}", f"{course.tension_n:.0f}"))
    notes = "" if found.wire_mm is not None else "\n\nWire and tension do not follow so for this string."
    return columns((f"{label(key, looked.scheme)}, partial {found.partial}", "as heard", "in the survey"), rows) + notes


def heard_table(looked: Looked, key: Key, found: Heard) -> Table:
    """The same as a table for JSON."""
    return {
        "piano": looked.piano.name,
        "key": int(key),
        "partial": found.partial,
        "inharmonicity": found.inharmonicity,
        "wire_mm": found.wire_mm,
        "tension_n": found.tension_n,
    }


# --- nodes -----------------------------------------------------------------------------------------------------------


def _nodes_text(looked: Looked) -> str:
    heads = ("key", "node", "mm", "sounds Hz", "note", "cents", "over just", "+- mm", "drive mm", "room mm", "")
    rows = [
        _node_cells(node, node == best_node(nodes, node.touch.n), looked.scheme)
        for nodes in _node_tables(looked)
        for node in nodes
    ]
    notes = (
        "cents: from equal temperament and over the just harmonic. +- mm: until another node is as near.\n"
        "drive mm: until a tenth of the partial is lost. room: to whatever comes nearest; "
        "negative when it covers the node."
    )
    return columns(heads, rows) + f"\n\n{notes}"


def _node_tables(looked: Looked) -> Iterator[tuple[Node, ...]]:
    return (nodes_table(looked.piano, key) for key in looked.keys)


def _node_cells(node: Node, best: bool, scheme: LabelScheme) -> tuple[str, ...]:
    nearest, room_mm = node.tightest
    return (
        label(node.key, scheme),
        node.touch.node,
        f"{node.from_near_mm:.1f}",
        f"{node.sounding_hz:.2f}",
        note_label(node.nearest_key, scheme),
        f"{node.cents_from_equal:+.0f}",
        f"{node.cents_from_just:+.1f}",
        f"{node.tolerance_mm:.1f}",
        f"{node.drive_mm:.1f}",
        f"{room_mm:.0f} {nearest}",
        "best" if best else "" if node.usable else "no room",
    )


def note_label(key: int, scheme: LabelScheme) -> str:
    """The label of a note; above the piano's highest C as so many semitones over it."""
    return label(Key(key), scheme) if key <= LAST_KEY else f"{label(Key(LAST_KEY), scheme)}+{key - LAST_KEY}"


def _nodes_table(looked: Looked) -> Table:
    return {
        "nodes": [
            _node_row(node, node == best_node(nodes, node.touch.n), looked.scheme)
            for nodes in _node_tables(looked)
            for node in nodes
        ]
    }


def _node_row(node: Node, best: bool, scheme: LabelScheme) -> Table:
    return {
        "key": int(node.key),
        "label": label(node.key, scheme),
        "k": node.touch.k,
        "n": node.touch.n,
        "from_near_mm": _mm(node.from_near_mm),
        "sounding_hz": round(node.sounding_hz, 3),
        "note": note_label(node.nearest_key, scheme),
        "cents_from_equal": round(node.cents_from_equal, 2),
        "cents_from_just": round(node.cents_from_just, 2),
        "tolerance_mm": _mm(node.tolerance_mm),
        "drive_mm": _mm(node.drive_mm),
        "clearances_mm": {name: _mm(free_mm) for name, free_mm in node.clearances_mm},
        "usable": node.usable,
        "best": best,
    }


# --- access ----------------------------------------------------------------------------------------------------------


def _access(looked: Looked) -> tuple[Access, ...]:
    return access_map(looked.piano, looked.keys, [HANDS[name] for name in MAPPED])


def _access_text(looked: Looked) -> str:
    rows = [
        (
            label(row.key, looked.scheme),
            row.hand,
            ", ".join(map(_stretch, row.open)) or "nowhere",
            "" if row.suits else f"not on {'wound' if looked.piano.course(row.key).wound else 'plain'} strings",
            "; ".join(f"{closed.by} {_stretch(closed.stretch)}" for closed in row.closed),
        )
        for row in _access(looked)
    ]
    note = (
        "All in mm from the near end, where the middle of the hand or tool may lie; what closes is as wide as it needs."
    )
    return columns(("key", "hand", "open mm", "", "closed by"), rows) + f"\n\n{note}"


def _stretch(stretch: Interval) -> str:
    return f"{stretch.from_mm:.0f}–{stretch.to_mm:.0f}"


def _access_table(looked: Looked) -> Table:
    return {
        "access": [
            {
                "key": int(row.key),
                "label": label(row.key, looked.scheme),
                "hand": row.hand,
                "suits": row.suits,
                "open_mm": [_pair(stretch) for stretch in row.open],
                "closed": [_closed_row(closed) for closed in row.closed],
            }
            for row in _access(looked)
        ]
    }


def _closed_row(closed: Closed) -> Table:
    return {"by": closed.by, "mm": _pair(closed.stretch)}


def _pair(stretch: Interval) -> list[float]:
    return [_mm(stretch.from_mm), _mm(stretch.to_mm)]


# --- magnets ---------------------------------------------------------------------------------------------------------


def _magnets_text(looked: Looked) -> str:
    heads = (
        "key",
        "sounds Hz",
        "coil alone Hz",
        "with bias Hz",
        "gap",
        "poor for partial 2 (mm)",
        "for partial 3 (mm)",
    )
    rows = [_magnet_cells(looked.piano.course(key), looked.scheme) for key in looked.keys]
    octaves = [(_octave_words(keys, looked), str(len(row)), str(deep)) for keys, row, deep in _octaves(looked)]
    share = 100 * magnets.other_partials_share()
    notes = (
        "A coil without a steady field pulls twice a turn: it takes half the frequency. "
        "With one it takes the course's own.\n"
        f"Bias four times the alternating field leaves {share:.2f} % at twice the frequency. "
        "For partial n take n times all and a little more.\n"
        f"poor: where a head gives less than half of its drive to that partial. gap: what the wrap adds, mm."
    )
    cautions = f"Caution: {CAUTIONS['coils'].words} {CAUTIONS['owner'].words}"
    table = columns(("octave", f"heads of {magnets.HEAD_MM:g} mm in a row", "rows for all"), octaves)
    return "\n\n".join([columns(heads, rows), notes, table, cautions])


def _magnet_cells(course: Course, scheme: LabelScheme) -> tuple[str, ...]:
    if not magnets.drivable(course):
        return (label(course.key, scheme), "", "", "", "", f"{course.material}: no magnet pulls it", "")
    own = magnets.drive(course)
    dead = ["; ".join(map(_stretch, magnets.dead_stretches(course, partial))) for partial in (2, 3)]
    hz = (own.sounding_hz, own.without_bias_hz, own.with_bias_hz)
    return (label(course.key, scheme), *(f"{value:.2f}" for value in hz), f"{own.extra_gap_mm:.2f}", *dead)


def _octaves(looked: Looked) -> Iterator[tuple[list[Key], tuple[Key, ...], int]]:
    """Twelve keys at a time from the lowest: those over which heads fit in one row, and how many rows take all."""
    for _, group in groupby(looked.keys, key=lambda key: (choir_of(key), (plain_key(key) - 1) // 12)):
        keys = list(group)
        yield (
            keys,
            magnets.side_by_side(looked.piano, keys, HEADS_AT),
            magnets.rows_for_all(looked.piano, keys, HEADS_AT),
        )


def _octave_words(keys: Sequence[Key], looked: Looked) -> str:
    return spans(keys, looked.scheme)


def _magnets_table(looked: Looked) -> Table:
    return {
        "head_mm": magnets.HEAD_MM,
        "second_share_with_bias": magnets.other_partials_share(),
        "magnets": [_magnet_row(looked.piano.course(key), looked.scheme) for key in looked.keys],
        "octaves": [
            {"keys": [int(key) for key in keys], "in_one_row": [int(key) for key in row], "rows_for_all": deep}
            for keys, row, deep in _octaves(looked)
        ],
    }


def _magnet_row(course: Course, scheme: LabelScheme) -> Table:
    able = magnets.drivable(course)
    drives = [magnets.drive(course, partial) for partial in range(1, 9)] if able else []
    return {
        "key": int(course.key),
        "label": label(course.key, scheme),
        "drivable": able,
        "extra_gap_mm": _mm(drives[0].extra_gap_mm) if drives else None,
        "partials": [_drive_row(drive) for drive in drives],
    }


def _drive_row(drive: Drive) -> Table:
    return {
        "n": drive.partial,
        "sounding_hz": round(drive.sounding_hz, 3),
        "current_without_bias_hz": round(drive.without_bias_hz, 3),
        "current_with_bias_hz": round(drive.with_bias_hz, 3),
        "poor_mm": [_pair(stretch) for stretch in drive.dead],
    }


def _mm(value_mm: float) -> float:
    return round(value_mm, 2)


_TOPICS: Mapping[str | None, tuple[Callable[[Looked], str], Callable[[Looked], Table]]] = {
    None: (_overview_text, _overview_table),
    "strings": (_strings_text, _strings_table),
    "nodes": (_nodes_text, _nodes_table),
    "access": (_access_text, _access_table),
    "magnets": (_magnets_text, _magnets_table),
    "places": (_places_text, _places_table),
}
"""What can be asked for, as text and as a table."""
