"""How much a string bears: breaking load, the share of it in use, and how far it may be pulled aside."""

from __future__ import annotations

import math
from bisect import bisect_left

from rimside.piano.material import MATERIALS
from rimside.piano.model import Course

SAFE_SHARE = 0.7
"""No more of the breaking load than this. Source: Delacour, technicians' list, 2008-February/217643."""
PA_PER_KSI = 6.894757e6
_MM_PER_INCH = 25.4

TENSILE_KSI: tuple[tuple[float, float, float], ...] = (
    (0.030, 330.0, 365.0),
    (0.032, 327.0, 361.0),
    (0.034, 324.0, 358.0),
    (0.036, 321.0, 355.0),
    (0.038, 318.0, 352.0),
    (0.040, 315.0, 349.0),
    (0.042, 313.0, 346.0),
    (0.045, 309.0, 342.0),
    (0.051, 303.0, 335.0),
    (0.059, 296.0, 327.0),
)
"""Diameter in inches, least and most tensile strength of music wire in ksi.
Source: ASTM A228 as a wire maker's page prints it (0.036 in: 355, misprinted there as 255)."""


def steel_strength_pa(wire_mm: float) -> float:
    """The least tensile strength of music wire of a diameter, Pa, between the rows of ASTM A228.

    Thinner wire than the table's is taken to be as strong as its thinnest, thicker wire to go on as its last two rows
    do; both err on the side of caution or nearly so (ours).
    """
    inches, least = [row[0] for row in TENSILE_KSI], [row[1] for row in TENSILE_KSI]
    inch = max(wire_mm / _MM_PER_INCH, inches[0])
    upper = min(max(bisect_left(inches, inch), 1), len(inches) - 1)
    slope = (least[upper] - least[upper - 1]) / (inches[upper] - inches[upper - 1])
    return PA_PER_KSI * (least[upper] + slope * (inch - inches[upper]))


def strength_pa(course: Course) -> float:
    """The tensile strength of a course's wire or core, Pa, at the low end of what is published."""
    return MATERIALS[course.material].strength_pa or steel_strength_pa(course.wire_mm)


def core_area_m2(course: Course) -> float:
    """The cross section of the wire or core of one string; a wrap bears nothing."""
    return math.pi * (course.wire_mm / 1000.0) ** 2 / 4.0


def breaking_n(course: Course) -> float:
    """The load at which one string would break, N, at the low end."""
    return strength_pa(course) * core_area_m2(course)


def breaking_share(course: Course) -> float:
    """How much of its breaking load a string carries."""
    return course.tension_n / breaking_n(course)


def pull_aside_n(tension_n: float, stiffness_n: float, length_mm: float, from_near_mm: float, aside_mm: float) -> float:
    """The force that holds a string `aside_mm` out of its line at one point, N, and so stretches it.

    Statics of two straight pieces: F = T (h / a' + h / b') with the tension that the longer way brings.

    Parameters
    ----------
    stiffness_n : Young's modulus times the cross section of wire or core, N for each whole of stretch.
    """
    near_mm, far_mm = math.hypot(from_near_mm, aside_mm), math.hypot(length_mm - from_near_mm, aside_mm)
    stretched_n = tension_n + stiffness_n * (near_mm + far_mm - length_mm) / length_mm
    return stretched_n * (aside_mm / near_mm + aside_mm / far_mm)


def pull_limit_n(course: Course, from_near_mm: float, share: float = SAFE_SHARE) -> float:
    """How hard one string may be pulled aside at a point until it bears `share` of its breaking load, N.

    0 when its tension is there already. The string is taken to be held fast at both ends; bending over the tool, which
    brings it nearer to breaking, is left out.
    """
    spare_n = share * breaking_n(course) - course.tension_n
    if spare_n <= 0.0:
        return 0.0
    stiffness_n = MATERIALS[course.material].young_pa * core_area_m2(course)
    aside_mm = _aside_mm(course.length_mm, from_near_mm, spare_n / stiffness_n)
    return pull_aside_n(course.tension_n, stiffness_n, course.length_mm, from_near_mm, aside_mm)


def _aside_mm(length_mm: float, from_near_mm: float, stretch: float) -> float:
    """How far aside a string lies that is longer by a share `stretch`: exact, by way of the triangle's height."""
    near_mm, far_mm, way_mm = from_near_mm, length_mm - from_near_mm, length_mm * (1.0 + stretch)
    # near' + far' = way and near'^2 - far'^2 = near^2 - far^2, so near' follows at once.
    slant_mm = (way_mm + (near_mm**2 - far_mm**2) / way_mm) / 2.0
    return math.sqrt(slant_mm**2 - near_mm**2)
