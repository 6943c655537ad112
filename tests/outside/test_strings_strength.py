"""Strength of music wire, modes along strings, measured partials: against published tables."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rimside.casting.rules.h06_tools import misfit
from rimside.piano.material import MATERIALS
from rimside.piano.shipped import SHIPPED
from rimside.piano.strength import SAFE_SHARE, breaking_n, breaking_share, steel_strength_pa
from rimside.piano.string_report import string_report
from rimside.piano.strings import (
    inharmonicity_fletcher_1964,
    inharmonicity_of_partial,
    longitudinal_hz,
    plain_length_mm,
    plain_linear_density_kg_per_m,
    plain_wire_mm,
)
from rimside.pitch import Key
from rimside.score.model import Technique
from rimside.units import COPPER_KG_PER_M3
from tests.casting.worlds import figure, toy_kit, toy_piano
from tests.piano.example import piano

POUND_FORCE_N = 4.4482216
# ASTM A228 as a wire maker prints it (interwiregroup.com): inch, mm, least ksi, least MPa, breaking load N (computed).
A228 = [
    (0.030, 0.762, 330, 2275, 1038),
    (0.032, 0.813, 327, 2255, 1170),
    (0.034, 0.864, 324, 2234, 1309),
    (0.036, 0.914, 321, 2213, 1453),
    (0.038, 0.965, 318, 2193, 1604),
    (0.040, 1.016, 315, 2172, 1761),
    (0.042, 1.067, 313, 2158, 1929),
    (0.045, 1.143, 309, 2130, 2186),
    (0.051, 1.295, 303, 2089, 2753),
    (0.059, 1.499, 296, 2041, 3600),
]


@pytest.mark.parametrize(("inch", "mm", "ksi", "mpa", "newton"), A228)
def test_least_strength_of_music_wire(inch: float, mm: float, ksi: float, mpa: float, newton: float) -> None:
    """Each printed diameter has its printed strength and breaking load, to the rounding of the table."""
    assert inch * 25.4 == pytest.approx(mm, abs=0.0006)
    assert steel_strength_pa(inch * 25.4) / 1e6 == pytest.approx(mpa, abs=0.6)
    course = replace(piano().course(Key(40)), wire_mm=inch * 25.4)
    assert breaking_n(course) == pytest.approx(newton, rel=0.001)


def test_technicians_numbers_lie_above_ours() -> None:
    """No. 13 breaks at 290 to 300 lbf in a technician's hands: above our lower bound, by a fifth of it at most."""
    # Fandrich, technicians' list, 1998-June/000540: #13 (0.775 mm metric, 0.787 American) breaks at 290 to 300 lbf.
    for mm in (0.775, 0.787):
        ours_n = steel_strength_pa(mm) * math.pi * (mm / 2000.0) ** 2
        assert 0.8 <= ours_n / (290.0 * POUND_FORCE_N) <= 1.0


def test_seventy_percent_is_the_most() -> None:
    """The share that technicians stay below."""
    # Delacour, technicians' list, 2008-February/217643: never exceed 70 %; 137 of 196 lbf for #13, 260 of 371 for #20.
    for limit_lbf, most_lbf in ((196, 137), (371, 260)):
        assert SAFE_SHARE * limit_lbf == pytest.approx(most_lbf, abs=0.5)


@pytest.mark.parametrize("length_m", [0.05, 0.6, 1.3])
def test_the_first_mode_along_plain_steel(length_m: float) -> None:
    """About 2500 Hz over the length in m, whatever the diameter, within 2 percent."""
    # Conklin 1996, part III, as quoted by Nossaman, technicians' list, 2001-November/097333 (second hand).
    for wire_mm in (0.775, 1.2):
        found = longitudinal_hz(200e9, wire_mm, plain_linear_density_kg_per_m(wire_mm), 1000.0 * length_m)
        assert found == pytest.approx(2500.0 / length_m, rel=0.02)


@pytest.mark.parametrize("name", SHIPPED)
def test_modes_along_strings_lie_where_conklin_found_them(name: str) -> None:
    """More than ten times the note everywhere; on plain strings between 11.5 and 20.2 times."""
    # Conklin, Five Lectures, longitudinal: between 3 octaves + fifth (12.0) and 4 octaves + third (20.2); always > 10.
    for course in piano(name).courses:
        ratio = string_report(course).longitudinal_hz / course.frequency_hz
        assert ratio > 10.0, course.key
        if not course.wound:
            assert 12.0 * 0.96 <= ratio <= 20.2, course.key


@pytest.mark.parametrize(("n", "ratio", "printed"), [(2, 2.001, 3.3e-4), (3, 3.005, 4.2e-4), (4, 4.012, 4.0e-4)])
def test_inharmonicity_from_measured_partials(n: int, ratio: float, printed: float) -> None:
    """Partials 1 : 2.001 : 3.005 : 4.012 give 3.3, 4.2 and 4.0e-4, as far as the printed thousandths tell."""
    # Five Lectures on the Acoustics of the Piano (KTH, 1990), second hand; B by algebra, rounded to two digits.
    assert inharmonicity_of_partial(n, ratio, 1.0) == pytest.approx(printed, rel=0.02)


def test_inharmonicity_of_a0_from_its_twentieth_partial() -> None:
    """605 instead of 550 Hz: B = 5.3e-4, as the table says."""
    # Fletcher, Blackham & Stratton, JASA 34 (1962) 749, tables I to VII, second hand: A0 5.3e-4. G5 and G6 of the same
    # tables contradict themselves and are left out.
    assert inharmonicity_of_partial(20, 605.0, 27.5) == pytest.approx(5.3e-4, rel=0.01)


@pytest.mark.parametrize(
    ("note", "f_hz", "length_m", "wire_mm"),
    # Chabassier, Chaigne & Joly, JASA 134 (2013) 648, plain strings, second hand.
    [("A3", 220.49, 0.773, 1.027), ("C#5", 555.60, 0.326, 0.928), ("G6", 1571.35, 0.124, 0.860)],
)
def test_wire_and_length_come_back_from_b(note: str, f_hz: float, length_m: float, wire_mm: float) -> None:
    """With B by Fletcher's law from the published tension, wire and length follow within the rounding of the table."""
    tensions = {"A3": 755.0, "C#5": 695.0, "G6": 689.0}
    b = inharmonicity_fletcher_1964(wire_mm, tensions[note], 1000.0 * length_m)
    assert plain_wire_mm(b, f_hz, 1000.0 * length_m) == pytest.approx(wire_mm, rel=0.005)
    assert plain_length_mm(b, f_hz, wire_mm) == pytest.approx(1000.0 * length_m, rel=0.005)


def test_materials_are_told_apart() -> None:
    """Brass is heavier, softer and weaker than steel, nylon lighter than both; only iron and steel are magnetic."""
    # Common knowledge of materials, from memory; the table's rows say so.
    steel, brass, nylon = (MATERIALS[name] for name in ("steel", "brass", "nylon"))
    assert nylon.density_kg_per_m3 < steel.density_kg_per_m3 < brass.density_kg_per_m3
    assert nylon.young_pa < brass.young_pa < steel.young_pa
    assert {name for name, row in MATERIALS.items() if row.magnetic} == {"steel", "iron"}


def test_lines_do_not_grip_wound_strings() -> None:
    """A line bow and a stick bow are for plain strings, a strip for wound ones."""
    # Common practice, no published source; lines with rosin on plain and strips without on wound strings: technicians'
    # list, caut 20071113/fdd4d2fb.
    toy, kit = toy_piano(), toy_kit()
    for technique, on_wound in (
        (Technique.LINE_BOW, False),
        (Technique.STICK_BOW, False),
        (Technique.FRICTION_STRIP, True),
    ):
        for key in (10, 40):
            fits = misfit(figure("f", technique, (key,), 0.0, 1.0), kit.rows[technique], toy) is None
            assert fits == (toy.course(Key(key)).wound is on_wound)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_strings_are_strung_as_pianos_are(name: str) -> None:
    """Every string lies between a quarter and seven tenths of its breaking load; the top octave is the tightest."""
    # Technicians disagree on limits (Fandrich 1998, Delacour 2006 and 2008); 70 % is the strictest of them.
    shares = {course.key: breaking_share(course) for course in piano(name).courses}
    assert all(0.25 <= share <= 0.70 for share in shares.values())
    assert max(shares.values()) == max(shares[key] for key in shares if key > 76)


def test_steel_and_copper_are_what_handbooks_say() -> None:
    """Music wire between 195 and 212 GPa and 7800 and 7860 kg/m3, copper within a percent of 8930 to 8960."""
    # Chaigne & Askenfelt 1994 (200), Young 1952 (200.2, implied), Fairchild (203.0, implied), a third party's 210 GPa;
    # densities: Mas Cabre 2000 and technicians' lists. Copper from memory (high confidence).
    steel = MATERIALS["steel"]
    assert 195e9 <= steel.young_pa <= 212e9
    assert 7800 <= steel.density_kg_per_m3 <= 7860
    assert 0.99 * 8930 <= COPPER_KG_PER_M3 <= 1.01 * 8960
