"""What strings bear, and how hard they may be pulled aside."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from rimside.errors import BadInput
from rimside.piano.shipped import SHIPPED
from rimside.piano.strength import (
    SAFE_SHARE,
    breaking_n,
    breaking_share,
    core_area_m2,
    pull_aside_n,
    pull_limit_n,
    steel_strength_pa,
)
from rimside.piano.string_report import heard, string_report
from rimside.piano.strings import partial_hz, plain_linear_density_kg_per_m, tension_n
from rimside.pitch import Key
from rimside.units import STEEL_YOUNG_PA
from tests.piano.example import piano


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_strings_hold(name: str) -> None:
    """No string of a shipped piano carries more than technicians allow, and none next to nothing."""
    for course in piano(name).courses:
        assert 0.2 < breaking_share(course) < SAFE_SHARE, course.key


def test_a_course_above_the_limit_is_warned_of() -> None:
    """Three quarters of the breaking load are said in the report; a string at rest below it brings no such word."""
    course = piano().course(Key(40))
    tight = replace(course, tension_n=0.75 * breaking_n(course))
    assert any("75 % of the breaking load" in text for text in string_report(tight).warnings)
    assert string_report(course).warnings == ()
    assert string_report(tight, published=False).warnings == ()
    torn = replace(course, tension_n=1.01 * breaking_n(course))
    assert any("101 % of the breaking load" in text for text in string_report(torn, published=False).warnings)


def test_strength_falls_with_thickness_and_never_jumps() -> None:
    """From 0.7 to 1.7 mm each thicker wire is weaker for its size, or as strong, and steps are small."""
    values = [steel_strength_pa(mm / 1000) for mm in range(700, 1700)]
    assert all(0.0 <= a - b < 2e6 for a, b in pairwise(values))


def test_other_materials_have_their_own_strength() -> None:
    """Brass of one diameter breaks at its table's strength."""
    course = replace(piano().course(Key(40)), material="brass")
    assert breaking_n(course) == pytest.approx(0.75e9 * core_area_m2(course))


def test_pulled_to_its_limit_a_string_bears_just_that() -> None:
    """The force at the limit, found again by stretching step by step, brings 70 percent of the breaking load."""
    course = piano().course(Key(40))
    at_mm, stiff_n = 150.0, STEEL_YOUNG_PA * core_area_m2(course)
    limit_n, aside_mm = pull_limit_n(course, at_mm), 0.0
    while pull_aside_n(course.tension_n, stiff_n, course.length_mm, at_mm, aside_mm) < limit_n:
        aside_mm += 0.001
    longer = (
        (at_mm**2 + aside_mm**2) ** 0.5 + ((course.length_mm - at_mm) ** 2 + aside_mm**2) ** 0.5
    ) / course.length_mm
    assert course.tension_n + stiff_n * (longer - 1.0) == pytest.approx(SAFE_SHARE * breaking_n(course), rel=1e-3)


def test_light_strings_bear_less() -> None:
    """Half as thick, as taut for its size: a quarter of the pull. At its limit already, a string bears nothing more."""
    heavy = replace(piano().course(Key(40)), material="brass", tension_n=300.0)
    light = replace(heavy, wire_mm=heavy.wire_mm / 2, tension_n=heavy.tension_n / 4)
    assert pull_limit_n(light, 150.0) == pytest.approx(pull_limit_n(heavy, 150.0) / 4)
    assert pull_limit_n(heavy, 150.0) > 10.0
    assert pull_limit_n(replace(heavy, tension_n=SAFE_SHARE * breaking_n(heavy)), 150.0) == 0.0


def test_a_small_pull_is_as_a_taut_string_says() -> None:
    """Without stretch and for small steps F = T h (1/a + 1/b)."""
    assert pull_aside_n(700.0, 0.0, 600.0, 200.0, 1.0) == pytest.approx(700.0 * (1 / 200 + 1 / 400), rel=1e-4)


@pytest.mark.parametrize("known", ["wire", "length", "both", "neither"])
def test_a_heard_partial_gives_back_the_string(known: str) -> None:
    """From the eighth partial of a plain string that we made: its B, and wire, length and tension as far as asked."""
    course = piano().course(Key(40))
    tension = tension_n(course.frequency_hz, course.length_mm, plain_linear_density_kg_per_m(course.wire_mm))
    first, eighth = (partial_hz(course.frequency_hz, n, course.inharmonicity) for n in (1, 8))
    found = heard(
        8,
        eighth,
        first,
        wire_mm=course.wire_mm if known in ("wire", "both") else None,
        length_mm=course.length_mm if known in ("length", "both") else None,
    )
    assert found.inharmonicity == pytest.approx(course.inharmonicity)
    if known == "neither":
        assert (found.wire_mm, found.length_mm, found.tension_n) == (None, None, None)
    else:
        assert found.wire_mm == pytest.approx(course.wire_mm, rel=1e-3)
        assert found.length_mm == pytest.approx(course.length_mm, rel=1e-3)
        assert found.tension_n == pytest.approx(tension, rel=2e-3)


@pytest.mark.parametrize(("n", "hz"), [(1, 100.0), (3, 299.0), (3, 900.0)])
def test_what_no_partial_can_be(n: int, hz: float) -> None:
    """The first partial, one that is flat, one that is sharper than any stiffness makes it."""
    with pytest.raises(BadInput):
        heard(n, hz, 100.0)


def test_an_exact_harmonic_has_no_wire() -> None:
    """B is 0, which no length of steel has; without a length it is taken as it is."""
    with pytest.raises(BadInput, match="exactly harmonic"):
        heard(3, 300.0, 100.0, length_mm=600.0)
    assert heard(3, 300.0, 100.0).inharmonicity == 0.0
