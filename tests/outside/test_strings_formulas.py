"""Formulas of strings against values that were published with them."""

from __future__ import annotations

import math

import pytest

from rimside.piano import strings
from rimside.units import STEEL_KG_PER_M3, key_hz

POUND_FORCE_N = 4.4482216
KILOGRAM_FORCE_N = 9.80665


def plain_tension_n(frequency_hz: float, length_mm: float, wire_mm: float) -> float:
    return strings.tension_n(frequency_hz, length_mm, strings.plain_linear_density_kg_per_m(wire_mm))


@pytest.mark.parametrize(
    ("frequency_hz", "length_mm", "wire_mm", "published_n", "tolerance"),
    [
        # Delacour, technicians' list, 2002-May/108449: C6, 18.1 cm, 0.925 mm: 170.2 lbf.
        (1046.50, 181.0, 0.925, 170.2 * POUND_FORCE_N, 0.0005),
        # Collin, technicians' list, attachment 20060726/7fc38d11: A4 440 Hz, 357 mm, 0.850 mm: 44.8 kgf.
        (440.0, 357.0, 0.850, 44.8 * KILOGRAM_FORCE_N, 0.001),
        # The same page: 43.8 kgf at 435 Hz.
        (435.0, 357.0, 0.850, 43.8 * KILOGRAM_FORCE_N, 0.001),
        # Fandrich, technicians' list, 1998-June/000540: C8, 58.7 mm, 0.030 in: 194 lbf.
        (key_hz(88), 58.7, 0.030 * 25.4, 194.0 * POUND_FORCE_N, 0.003),
    ],
)
def test_tension_of_plain_wire_is_what_technicians_published(
    frequency_hz: float, length_mm: float, wire_mm: float, published_n: float, tolerance: float
) -> None:
    """The four published plain strings come out to the printed digits."""
    assert plain_tension_n(frequency_hz, length_mm, wire_mm) == pytest.approx(published_n, rel=tolerance)


def test_the_constant_of_the_one_line_formula() -> None:
    """Mas Cabre's constant 24662 f^2 L^2 d^2 (PTG Journal 7/2000 p. 62) is pi times our steel."""
    # Mas Cabre, technicians' list, 2000-November/074016: 24662 in SI.
    assert math.pi * STEEL_KG_PER_M3 == pytest.approx(24662.0, rel=1e-4)
    assert plain_tension_n(1.0, 1000.0, 1000.0) == pytest.approx(24662.0, rel=1e-4)


def test_a_wound_string_against_delacours_rule() -> None:
    """F3, 82.2 cm, 0.178 cm outside: his rule from the outside diameter says 326 lbf; a wound string is within 4 %."""
    # Delacour, technicians' list, 2006-September/196115: T = (f L D)^2 / 20000, 326 lbf. The core is our assumption.
    density = strings.wound_linear_density_kg_per_m(1.0, 1.78)
    assert strings.tension_n(174.61, 822.0, density) == pytest.approx(326.0 * POUND_FORCE_N, rel=0.04)


# Chabassier, Chaigne & Joly, JASA 134 (2013) 648: f0 Hz, L m, core mm, equivalent density, T N. Second hand.
CHABASSIER = [
    ("D#1", 38.98, 1.965, 1.492, 43195.0, 1773.0),
    ("C2", 65.56, 1.602, 1.051, 23919.0, 915.0),
    ("G#2", 104.06, 1.591, 1.095, 7589.0, 783.0),
    ("F3", 175.01, 0.960, 1.049, 7850.0, 766.0),
    ("A3", 220.49, 0.773, 1.027, 7850.0, 755.0),
    ("C#5", 555.60, 0.326, 0.928, 7850.0, 695.0),
    ("G#5", 832.54, 0.223, 0.904, 7850.0, 696.0),
    ("G6", 1571.35, 0.124, 0.860, 7850.0, 689.0),
    ("C7", 2098.32, 0.095, 0.831, 7850.0, 670.0),
    ("F#7", 2965.15, 0.069, 0.787, 7850.0, 631.0),
]


@pytest.mark.parametrize(("note", "f_hz", "length_m", "core_mm", "density", "published_n"), CHABASSIER)
def test_tensions_of_a_published_274_cm_grand(
    note: str, f_hz: float, length_m: float, core_mm: float, density: float, published_n: float
) -> None:
    """Its ten tensions follow from length, core and mass within the rounding of the lengths to mm (12 cents, 1.4 %)."""
    linear = strings.plain_linear_density_kg_per_m(core_mm) * density / STEEL_KG_PER_M3
    assert strings.tension_n(f_hz, 1000.0 * length_m, linear) == pytest.approx(published_n, rel=0.015), note


def test_young_1952_agrees_with_fletcher_1964() -> None:
    """Young's constant and the pinned-string coefficient are one law within 0.3 percent, with Young's steel."""
    # Young, JASA 24(3), May 1952, abstract: 3.4e13 n^2 d^2 / (f^2 l^4), E/rho = 25.5e10 (cm/s)^2.
    young_pa = 25.5e10 * 1e-4 * STEEL_KG_PER_M3
    tension = plain_tension_n(261.6, 630.0, 1.0)
    coefficient = strings.inharmonicity_fletcher_1964(1.0, tension, 630.0, young_pa)
    cents = strings.inharmonicity_young_1952_cents(2, 1.0, 261.6, 630.0)
    assert cents == pytest.approx(600.0 / math.log(2.0) * coefficient * 4, rel=0.003)


def test_young_1952_in_inches() -> None:
    """The inch form 5.3e12 d^2 / (f^2 L^4) gives the same cents within its two digits."""
    # McFerrin, The Piano: Its Acoustics, p. 43 sec. 4.5, quoted on the technicians' list, 2000-June/066430.
    inches = 5.3e12 * (1.0 / 25.4) ** 2 / (261.6**2 * (630.0 / 25.4) ** 4)
    assert strings.inharmonicity_young_1952_cents(1, 1.0, 261.6, 630.0) == pytest.approx(inches, rel=0.01)


def test_inharmonicity_of_a_published_simulation_string() -> None:
    """Chaigne and Askenfelt's middle C: B from its mass, length and tension within the 6 % that authors differ by."""
    # Chaigne & Askenfelt, JASA 95 (1994) 1112: C4 0.62 m, 3.93 g, 670 N, eps 3.82e-5, B = pi^2 eps. Second hand; the
    # wire's diameter is not printed, so it is taken from the mass and our density.
    wire_mm = 1000.0 * math.sqrt(4.0 * 3.93e-3 / 0.62 / (math.pi * STEEL_KG_PER_M3))
    coefficient = strings.inharmonicity_fletcher_1964(wire_mm, 670.0, 620.0)
    assert coefficient == pytest.approx(math.pi**2 * 3.82e-5, rel=0.06)


def test_middle_c_by_young() -> None:
    """Young: 1.2 cents at the second partial of middle C; 0.63 m of 1.0 mm wire has that within 6 percent."""
    # Young 1952, abstract: about the same in six pianos. Length: Bensa et al., JASA 114 (2003) 1095, second hand.
    assert strings.inharmonicity_young_1952_cents(2, 1.0, 261.6, 630.0) == pytest.approx(1.2, rel=0.06)


@pytest.mark.parametrize(
    ("published", "speed_m_s", "stiffness_m2_s", "length_m"),
    [
        # Bensa, Bilbao, Kronland-Martinet & Smith, JASA 114 (2003) 1095, table I, second hand; B = (kappa pi/(c L))^2.
        (3.58e-4, 329.6, 1.25, 0.63),
        (8.66e-3, 418.6, 1.24, 0.10),
    ],
)
def test_two_publications_agree_on_b(
    published: float, speed_m_s: float, stiffness_m2_s: float, length_m: float
) -> None:
    """Plain wire of that stiffness, speed and length has Bensa's B within the 6 % that authors differ by."""
    assert (stiffness_m2_s * math.pi / (speed_m_s * length_m)) ** 2 == pytest.approx(published, rel=0.01)
    wire_mm = 4000.0 * stiffness_m2_s / math.sqrt(200e9 / STEEL_KG_PER_M3)
    tension = strings.plain_linear_density_kg_per_m(wire_mm) * speed_m_s**2
    assert strings.inharmonicity_fletcher_1964(wire_mm, tension, 1000 * length_m) == pytest.approx(published, rel=0.06)


def test_partials_of_a_measured_string() -> None:
    """Partials 1 : 2.001 : 3.005 : 4.012 lie within their printed thousandth for B = 4.0e-4."""
    # Five Lectures on the Acoustics of the Piano (KTH, 1990), second hand.
    first = strings.partial_hz(1.0, 1, 4.0e-4)
    for partial, ratio in ((2, 2.001), (3, 3.005), (4, 4.012)):
        assert strings.partial_hz(1.0, partial, 4.0e-4) / first == pytest.approx(ratio, abs=0.0006)


def test_the_twentieth_partial_of_a0() -> None:
    """Fletcher's upright: the twentieth partial of A0 lay at 605 instead of 550 Hz, with B = 5.3e-4."""
    # Fletcher, Blackham & Stratton, JASA 34 (1962) 749, tables I to VII, second hand.
    assert strings.partial_hz(27.5, 20, 5.3e-4) == pytest.approx(605.0, rel=0.002)


def test_fairchilds_core_formula_implies_203_gpa() -> None:
    """Dc^4 / (81 L^2 T) cents in American units stands for E = 203 GPa."""
    # Fairchild hand-out, technicians' list, 2000-March/060485.
    assert strings.young_pa_of_fairchild() == pytest.approx(203.0e9, rel=0.003)


def test_the_wrap_constant_is_round_wire() -> None:
    """The same hand-out's 0.89 is copper over steel times pi/4."""
    # Fairchild hand-out, technicians' list, 2000-March/060485: 0.89, with copper of 8960 kg/m3.
    assert pytest.approx(0.89, abs=0.007) == 8960.0 / STEEL_KG_PER_M3 * strings.WRAP_PACKING


def test_impedance_of_an_old_grands_middle_c() -> None:
    """Woodhouse's old grand: C4 has 2.04 kg/s, C7 1.60 kg/s, from tension and mass."""
    # Woodhouse, Euphonics 12.2.1 table 1, second hand: 11.7 g and 1.15 g for three strings of 639 and 96 mm.
    assert strings.wave_impedance_kg_per_s(682.0, 11.7e-3 / 3 / 0.639) == pytest.approx(2.04, rel=0.01)
    assert strings.wave_impedance_kg_per_s(645.0, 1.15e-3 / 3 / 0.096) == pytest.approx(1.60, rel=0.01)


def test_plain_wire_of_an_old_grand_weighs_what_its_diameter_says() -> None:
    """C4 to C8 of Woodhouse's grand: mass over length within 4 percent of plain steel of the measured diameter."""
    # Woodhouse, Euphonics 12.2.1 table 1, second hand: L mm, d mm, mass of three strings g.
    table = [(639, 1.00, 11.7), (324, 0.94, 5.3), (181, 0.85, 2.4), (96, 0.82, 1.15), (51, 0.76, 0.54)]
    for length_mm, wire_mm, grams in table:
        measured = grams / 3 / length_mm
        assert strings.plain_linear_density_kg_per_m(wire_mm) == pytest.approx(measured, rel=0.045)


def test_wound_strings_are_heavier_than_their_core_by_far() -> None:
    """The formula for a wound string can reach the published mass of C1 (187 g/m) with a wrap of possible size."""
    # Woodhouse, Euphonics 12.2.1 table 1, second hand: 1013 mm, core 1.21 mm, 189 g.
    measured = 189e-3 / 1.013
    outer = [wrap / 100 for wrap in range(130, 800)]
    wrap_mm = min(outer, key=lambda w: abs(strings.wound_linear_density_kg_per_m(1.21, w) - measured))
    assert strings.wound_linear_density_kg_per_m(1.21, wrap_mm) == pytest.approx(measured, rel=0.01)
    assert 5.0 < wrap_mm < 6.5
