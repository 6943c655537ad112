"""All that follows for the strings of one course: load, stiffness, weight at the bow, forces, and what is unusual."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rimside.errors import BadInput
from rimside.piano.bowing import BowForce, bow_force, bow_force_as_measured, course_impedance_kg_per_s
from rimside.piano.material import MATERIALS
from rimside.piano.model import Course
from rimside.piano.strength import SAFE_SHARE, breaking_n, breaking_share, pull_limit_n
from rimside.piano.strings import (
    flexible_hz,
    inharmonicity_of_partial,
    longitudinal_hz,
    plain_length_mm,
    plain_linear_density_kg_per_m,
    plain_wire_mm,
    tension_n,
    wave_impedance_kg_per_s,
)
from rimside.piano.survey import unusual


@dataclass(frozen=True, slots=True, kw_only=True)
class StringReport:
    """One course. What ends in `_n` is for one string, but for `course_tension_n` and the bow.

    `bow`, `bow_as_measured` and `pull_limit_n` are for one point, where a line or hand lies; None where none can lie.
    `longitudinal_hz` is the first mode along the string.
    """

    course: Course
    course_tension_n: float
    breaking_n: float
    breaking_share: float
    impedance_kg_per_s: float
    course_impedance_kg_per_s: float
    longitudinal_hz: float
    bow: BowForce | None
    bow_as_measured: BowForce | None
    pull_limit_n: float | None
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What one measured partial of plain strings tells: B, and wire, length and tension as far as one of them is known.

    Wire and length are each an estimate from the other; None for both where neither is given.
    """

    partial: int
    inharmonicity: float
    wire_mm: float | None
    length_mm: float | None
    tension_n: float | None


def string_report(course: Course, at_mm: float | None = None, *, published: bool = True) -> StringReport:
    """Everything about one course's strings.

    Parameters
    ----------
    at_mm : from the near end, where a bow or hand lies; None for nowhere.
    published : whether the ranges of published pianos speak of this kind of instrument (`rimside.piano.instrument`).
    """
    return StringReport(
        course=course,
        course_tension_n=course.strings * course.tension_n,
        breaking_n=breaking_n(course),
        breaking_share=breaking_share(course),
        impedance_kg_per_s=wave_impedance_kg_per_s(course.tension_n, course.linear_density_kg_per_m),
        course_impedance_kg_per_s=course_impedance_kg_per_s(course),
        longitudinal_hz=longitudinal_hz(
            MATERIALS[course.material].young_pa, course.wire_mm, course.linear_density_kg_per_m, course.length_mm
        ),
        bow=None if at_mm is None else bow_force(course, at_mm),
        bow_as_measured=None if at_mm is None else bow_force_as_measured(course, at_mm),
        pull_limit_n=None if at_mm is None else pull_limit_n(course, at_mm),
        warnings=tuple(_warnings(course, published)),
    )


def _warnings(course: Course, published: bool) -> Iterator[str]:
    """Other instruments are strung nearer to breaking, and no ranges are known: of them only that is said."""
    share = breaking_share(course)
    if published:
        yield from unusual(course)
    if share > (SAFE_SHARE if published else 1.0):
        most = (
            f"technicians stay below {100 * SAFE_SHARE:.0f} %" if published else f"by the low end for {course.material}"
        )
        yield f"course {course.key}: {100 * share:.0f} % of the breaking load; {most}"


def heard(
    partial: int, partial_hz: float, first_hz: float, *, wire_mm: float | None = None, length_mm: float | None = None
) -> Heard:
    """What a measured partial of a plain steel string tells.

    Parameters
    ----------
    partial_hz, first_hz : the measured partial and the first partial, of one string at one time.
    wire_mm, length_mm : what is known already; with both, nothing is estimated but the tension.

    Raises
    ------
    BadInput : a pitch that no such partial has; exactly as high as the harmonic, when wire or length are to be found.
    """
    found = inharmonicity_of_partial(partial, partial_hz, first_hz)
    base_hz = flexible_hz(first_hz, found)
    if (wire_mm is None) != (length_mm is None) and found <= 0.0:
        raise BadInput("is no stiff string: the partial is exactly harmonic", where=f"partial {partial}", value=found)
    if wire_mm is None and length_mm is not None:
        wire_mm = plain_wire_mm(found, base_hz, length_mm)
    elif length_mm is None and wire_mm is not None:
        length_mm = plain_length_mm(found, base_hz, wire_mm)
    known = None
    if wire_mm is not None and length_mm is not None:
        known = tension_n(base_hz, length_mm, plain_linear_density_kg_per_m(wire_mm))
    return Heard(partial=partial, inharmonicity=found, wire_mm=wire_mm, length_mm=length_mm, tension_n=known)
