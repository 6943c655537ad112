"""How hard a course is bowed: the least and the most force at which it sounds with its own pitch.

Nothing is published about bowed piano strings. These are the laws of bowed strings, with a piano string put in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from rimside.errors import BadInput
from rimside.piano.model import Course
from rimside.piano.strings import wave_impedance_kg_per_s

BOW_M_PER_S = 0.2
"""Speed of a line or hair, in the middle of what violinists use (0.05 to 0.2 m/s and more). Our assumption."""
FRICTION_STEP = 0.4
"""Sticking less sliding friction of rosin. Our assumption; Schoonderwaldt et al. 2008 found 0.51 to 0.69 for hair."""
BRIDGE_KG_PER_S = 1000.0
"""What the bridge takes from the string, as a dashpot. The order of size of piano soundboards; from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BowForce:
    """The force of a bow on all strings of a course together, at one point, N.

    `beta` is the distance to the nearer end over the speaking length. Below `least_n` the note breaks up or whistles,
    above `most_n` it is a rough noise; `comfortable_n` lies half-way between, in ratio. No window when least > most.
    """

    from_near_mm: float
    beta: float
    least_n: float
    comfortable_n: float
    most_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A violin string bowed by a machine: most force c_most v / beta, least c_least v / beta^2; c in kg/s."""

    bow_m_per_s: float
    most_kg_per_s: float
    least_kg_per_s: float
    friction_step: float


MEASURED = (
    Measured(bow_m_per_s=0.05, most_kg_per_s=1.0, least_kg_per_s=7.0e-3, friction_step=0.51),
    Measured(bow_m_per_s=0.10, most_kg_per_s=0.73, least_kg_per_s=4.2e-3, friction_step=0.69),
    Measured(bow_m_per_s=0.15, most_kg_per_s=0.75, least_kg_per_s=2.3e-3, friction_step=0.67),
    Measured(bow_m_per_s=0.20, most_kg_per_s=0.75, least_kg_per_s=1.8e-3, friction_step=0.67),
)
"""Violin D and E strings (wave impedance 0.25 and 0.18 kg/s); the least force does not depend on speed.
Source: Schoonderwaldt, Guettler & Askenfelt, Acta Acust. 94 (2008) 604, second hand."""


VIOLIN_KG_PER_S = 0.215
"""Wave impedance between those two strings."""


def slip_m_per_s(bow_m_per_s: float, beta: float) -> float:
    """How fast a string slips back under the bow in Helmholtz motion: -v (1 / beta - 1)."""
    return -bow_m_per_s * (1.0 / beta - 1.0)


def most_force_n(impedance_kg_per_s: float, bow_m_per_s: float, beta: float, friction_step: float) -> float:
    """The most bow force, N: 2 Z v / (beta (mu_s - mu_d)). Source: Schelleng, JASA 53 (1973) 26."""
    return 2.0 * impedance_kg_per_s * bow_m_per_s / (beta * friction_step)


def least_force_n(
    impedance_kg_per_s: float, bow_m_per_s: float, beta: float, friction_step: float, bridge_kg_per_s: float
) -> float:
    """The least bow force, N: Z^2 v / (2 R beta^2 (mu_s - mu_d)), the bridge a dashpot R. Source: Schelleng 1973."""
    return impedance_kg_per_s**2 * bow_m_per_s / (2.0 * bridge_kg_per_s * beta**2 * friction_step)


def bow_force(
    course: Course,
    from_near_mm: float,
    *,
    bow_m_per_s: float = BOW_M_PER_S,
    friction_step: float = FRICTION_STEP,
    bridge_kg_per_s: float = BRIDGE_KG_PER_S,
) -> BowForce:
    """The window of bow forces for a whole course, whose strings count together.

    Raises
    ------
    BadInput : the bow does not lie between the two ends.
    """
    if not 0.0 < from_near_mm < course.length_mm:
        raise BadInput(
            "the bow lies beyond the string's ends",
            where=f"course {course.key}",
            value=from_near_mm,
            allowed=f"0 to {course.length_mm:.0f} mm",
        )
    beta = min(from_near_mm, course.length_mm - from_near_mm) / course.length_mm
    impedance = course_impedance_kg_per_s(course)
    least_n = least_force_n(impedance, bow_m_per_s, beta, friction_step, bridge_kg_per_s)
    most_n = most_force_n(impedance, bow_m_per_s, beta, friction_step)
    return _window(from_near_mm, beta, least_n, most_n)


def bow_force_as_measured(course: Course, from_near_mm: float) -> BowForce:
    """The same at `BOW_M_PER_S` from what was measured on violins, scaled by weight as Schelleng's laws scale.

    A violin's bridge yields far more than a piano's, so the least force comes out on the high side.
    """
    beta = bow_force(course, from_near_mm).beta
    row = next(row for row in MEASURED if row.bow_m_per_s == BOW_M_PER_S)
    heavier = course_impedance_kg_per_s(course) / VIOLIN_KG_PER_S
    least_n = row.least_kg_per_s * heavier**2 * row.bow_m_per_s / beta**2
    return _window(from_near_mm, beta, least_n, row.most_kg_per_s * heavier * row.bow_m_per_s / beta)


def _window(from_near_mm: float, beta: float, least_n: float, most_n: float) -> BowForce:
    return BowForce(
        from_near_mm=from_near_mm,
        beta=beta,
        least_n=least_n,
        comfortable_n=math.sqrt(least_n * most_n),
        most_n=most_n,
    )


def course_impedance_kg_per_s(course: Course) -> float:
    """The wave impedance of all strings of a course together, kg/s."""
    return course.strings * wave_impedance_kg_per_s(course.tension_n, course.linear_density_kg_per_m)
