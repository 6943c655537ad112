"""Bow forces against what is published about violins, and piano strings' weight beside theirs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rimside.piano.bowing import (
    MEASURED,
    VIOLIN_KG_PER_S,
    Measured,
    bow_force_as_measured,
    least_force_n,
    most_force_n,
    slip_m_per_s,
)
from rimside.piano.magnets import coupling
from rimside.piano.strings import wave_impedance_kg_per_s
from rimside.pitch import Key
from tests.piano.example import piano

# Woodhouse, Euphonics 12.2.1, table 1 (an old grand, second hand): L mm, strings, mass of all strings g, note Hz.
OLD_GRAND = {"C2": (925, 1, 73.0, 65.406), "C4": (639, 3, 11.7, 261.626), "C7": (96, 3, 1.15, 2093.005)}


def impedance(note: str) -> float:
    length_mm, strings, grams, hz = OLD_GRAND[note]
    density = grams / strings / length_mm
    return wave_impedance_kg_per_s(density * (2.0 * hz * length_mm / 1000.0) ** 2, density)


def test_helmholtz_motion_slips_ten_times_as_fast_at_an_eleventh() -> None:
    """v = 0.1 m/s at beta = 1/11: the string slips back at 1.0 m/s."""
    # Euphonics 9.3.1, Schelleng's bow force limits: slip speed -v (1 / beta - 1).
    assert slip_m_per_s(0.1, 1.0 / 11.0) == pytest.approx(-1.0)


@pytest.mark.parametrize("beta", [0.05, 0.1, 0.2])
def test_stick_and_slip_close_the_period(beta: float) -> None:
    """Sticking at v and slipping back meet after one period, and the jump between them is v / beta."""
    # Euphonics 9.3.1: stick (1 - beta) P, slip beta P, jump v / beta.
    assert (1.0 - beta) * 0.1 + beta * slip_m_per_s(0.1, beta) == pytest.approx(0.0)
    assert 0.1 - slip_m_per_s(0.1, beta) == pytest.approx(0.1 / beta)


@pytest.mark.parametrize("row", MEASURED)
def test_the_most_force_is_what_was_measured(row: Measured) -> None:
    """Schelleng's most force for a violin D string with the friction found at each speed, within what was measured."""
    # Schoonderwaldt, Guettler & Askenfelt, Acta Acust. 94 (2008) 604, second hand: D string 0.25, E string 0.18 kg/s;
    # most force c_u v / beta. Between the two strings' laws, a tenth aside.
    light, heavy = (most_force_n(z, row.bow_m_per_s, 0.1, row.friction_step) for z in (0.18, 0.25))
    measured = row.most_kg_per_s * row.bow_m_per_s / 0.1
    assert 0.9 * light <= measured <= 1.1 * heavy


def test_worked_most_and_least_force() -> None:
    """Z = 0.25, v = 0.1 m/s, beta = 0.1, step 0.69: 0.725 N at most; the measured form says 0.73 and 0.042 N."""
    # The same publication, v = 10 cm/s: c_u 0.73 kg/s, c_l 4.2 g/s, friction step 0.69.
    assert most_force_n(0.25, 0.1, 0.1, 0.69) == pytest.approx(0.725, abs=0.0005)
    row = MEASURED[1]
    assert row.most_kg_per_s * row.bow_m_per_s / 0.1 == pytest.approx(0.73)
    assert row.least_kg_per_s * row.bow_m_per_s / 0.1**2 == pytest.approx(0.042)


def test_a_violin_string_gets_back_what_was_measured() -> None:
    """A course of a violin string's weight, bowed at a tenth at 20 cm/s: the printed 1.5 N and 0.036 N."""
    # The same publication, v = 20 cm/s: c_u 0.75 kg/s, c_l 1.8 g/s; impedance between its two strings.
    middle = piano().course(Key(40))
    light = replace(middle, strings=1, linear_density_kg_per_m=VIOLIN_KG_PER_S**2 / middle.tension_n)
    found = bow_force_as_measured(light, 0.1 * light.length_mm)
    assert [found.most_n, found.least_n] == pytest.approx([1.5, 0.036])


def test_the_least_force_hardly_depends_on_speed() -> None:
    """The measured least force is the same from 5 to 20 cm/s, within the printed 15 percent."""
    # The same publication: "F_min found independent of v"; errors printed 14 to 17 % at the ends.
    forces = [row.least_kg_per_s * row.bow_m_per_s for row in MEASURED]
    mean = sum(forces) / len(forces)
    assert all(force == pytest.approx(mean, rel=0.15) for force in forces)


@pytest.mark.parametrize(("beta", "bridge"), [(0.05, 10.0), (0.1, 1000.0), (0.2, 50.0)])
def test_most_over_least(beta: float, bridge: float) -> None:
    """Whatever speed and friction: 4 beta R / Z."""
    # Schelleng, JASA 53 (1973) 26, second hand; the ratio by algebra.
    for speed, step in ((0.05, 0.5), (0.2, 0.3)):
        least, most = least_force_n(2.0, speed, beta, step, bridge), most_force_n(2.0, speed, beta, step)
        assert most / least == pytest.approx(4.0 * beta * bridge / 2.0)


def test_piano_strings_are_heavy() -> None:
    """C2 9.5, C4 2.04, C7 1.60 kg/s of an old grand, against 0.18 to 0.25 of a violin."""
    # Woodhouse, Euphonics 12.2.1, table 1 (second hand); violin: Schoonderwaldt et al. 2008.
    assert impedance("C2") == pytest.approx(9.5, rel=0.02)
    assert impedance("C4") == pytest.approx(2.04, rel=0.01)
    assert impedance("C7") == pytest.approx(1.60, rel=0.01)
    assert impedance("C7") > 6.0 * 0.25


@pytest.mark.parametrize(("note", "newton"), [("C4", 20.0), ("C2", 95.0)])
def test_a_single_piano_string_takes_tens_of_newtons(note: str, newton: float) -> None:
    """v = 0.2 m/s, beta = 0.1, friction step 0.4: 20 N for C4, 95 N for C2."""
    # Schelleng's law with the impedances above.
    assert most_force_n(impedance(note), 0.2, 0.1, 0.4) == pytest.approx(newton, rel=0.03)


def test_a_bow_at_a_node_cannot_drive_its_partial() -> None:
    """sin(n pi beta) is 0 where a partial has its node, and small for all low partials near the end."""
    # Raman 1918, sec. X; comb factor sin(n pi beta): Schelleng 1973, Schoonderwaldt 2009, second hand.
    course = piano().course(Key(40))
    for n in (2, 3, 5, 8):
        assert coupling(course, n, course.length_mm / n) == pytest.approx(0.0, abs=1e-12)
        assert coupling(course, n, 0.03 * course.length_mm) == pytest.approx(math.sin(n * math.pi * 0.03))
