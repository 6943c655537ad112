"""Magnet drive against what is published of it, and against the spectrum of the pull by numbers."""

from __future__ import annotations

import numpy as np
import pytest

from rimside.piano.magnets import coupling, drivable, drive, other_partials_share
from rimside.piano.shipped import SHIPPED
from rimside.pitch import Key
from tests.piano.example import piano

TURNS, SAMPLES = 32, 4096


def pull(steady: float, alternating: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The spectrum of a pull that goes with the square of the field, by Fourier transform; index: multiples of f."""
    at = np.arange(SAMPLES) / SAMPLES * TURNS * 2.0 * np.pi
    force = (steady + alternating * np.cos(at)) ** 2
    found = np.abs(np.fft.rfft(force)) / SAMPLES * 2.0
    return found[::TURNS]


def test_without_bias_the_pull_has_twice_the_frequency_of_the_current() -> None:
    """Nothing at f, all at 2f; so the current for a course has half its frequency."""
    # Berdahl, Backer & Smith, ICMC 2005: force about proportional to i^2. PASCO manual 012-03489E p. 7: "usually twice
    # the driver frequency, since the driver electromagnet exerts a force on the wire twice during each cycle".
    spectrum = pull(0.0, 1.0)
    assert spectrum[1] == pytest.approx(0.0, abs=1e-12)
    assert spectrum[2] == pytest.approx(0.5)
    own = drive(piano().course(Key(49)))
    assert 2.0 * own.without_bias_hz == pytest.approx(own.sounding_hz)
    # ISO 16:1975: A4 is 440 Hz; half of it feeds an unbiased coil (builders' list, 2022-September/130248).
    assert own.without_bias_hz == pytest.approx(220.0)
    assert own.with_bias_hz == pytest.approx(440.0)


@pytest.mark.parametrize("ratio", [0.05, 0.25, 0.5, 1.0])
def test_with_bias_the_octave_has_a_quarter_of_the_ratio(ratio: float) -> None:
    """The pull at 2f over that at f is b / (4 B), by Fourier transform."""
    # Algebra on (B + b cos)^2; numpy as the independent check. Same advice: ICMC 2005; builders' list 2022-September.
    spectrum = pull(1.0, ratio)
    assert spectrum[2] / spectrum[1] == pytest.approx(other_partials_share(ratio))
    assert spectrum[3:8] == pytest.approx(np.zeros(5), abs=1e-12)


def test_a_quarter_of_alternating_field_leaves_six_percent() -> None:
    """b = B / 4: 6.25 % at the octave."""
    # The same algebra, worked.
    assert other_partials_share(0.25) == pytest.approx(0.0625)


@pytest.mark.parametrize("partial", [2, 3, 4, 7])
def test_heads_are_dead_at_nodes_and_strongest_between(partial: int) -> None:
    """The coupling is 0 at every node of a partial and 1 half-way between two of them."""
    # Builders' list, 2022-September/130217: the drive couples to partial n as sin(n pi x / L).
    course = piano().course(Key(28))
    for k in range(partial):
        assert coupling(course, partial, course.length_mm * k / partial) == pytest.approx(0.0, abs=1e-12)
        assert coupling(course, partial, course.length_mm * (k + 0.5) / partial) == pytest.approx(1.0)


@pytest.mark.parametrize("name", SHIPPED)
def test_steel_under_copper_is_driven_with_a_bigger_gap(name: str) -> None:
    """All strings of a piano have steel in them; the wrap, which no magnet pulls, adds to the gap in the bass alone."""
    # From memory (high confidence): copper is not magnetic, only the core is pulled.
    for course in piano(name).courses:
        assert drivable(course)
        assert (drive(course).extra_gap_mm > 0.0) == course.wound
