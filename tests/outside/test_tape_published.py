"""Tape surveys against published pianos: read off the ends of the sections only, and see how far the rest is off."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rimside.piano.readings import Counts, Reading
from rimside.piano.tape import Known, Surveyed, surveyed
from tests.piano.tape_example import EVERY, known, with_reading

# A 170 cm grand of 1936, keys 27 to 88, mm: P. Stewart, "String lengths?", technicians' forum my.ptg.org, 16 Oct 2019.
LENGTHS_170 = (
    1009, 1001, 990, 979, 965, 948, 922, 900, 847, 798, 756, 715, 678, 640, 607, 572, 542, 511, 482, 456, 432, 412, 392,
    374, 355, 340, 327, 312, 290, 274, 259, 245, 232, 219, 208, 196, 186, 176, 164, 156, 149, 142, 135, 129, 123, 114,
    109, 102, 95, 90, 85, 80, 75, 71, 68, 64, 61, 58, 56, 54, 52, 50,
)  # fmt: skip
FIRST = 27
# Its jumps at 34/35, 54/55 and 71/72 lie where bars of the plate stand; 26 and below are on the bass bridge.
LASTS = (26, 34, 54, 71, 88)
C8_DOUBTED = 88  # A colleague in the same thread doubts its length of 50.


def of_170(like: str, keys: tuple[int, ...]) -> Surveyed:
    counts = Counts(last_keys=LASTS, last_single=8, last_double=26, first_plain=27, last_damper=66,
                    struts_after=LASTS[:-1])  # fmt: skip
    taken = [Reading(name="length", mm=1700.0, plus_minus_mm=4.0)]
    taken += [Reading(name=f"length_{key}", mm=LENGTHS_170[key - FIRST], plus_minus_mm=1.0) for key in keys]
    return surveyed(Known(name="hall", title="Hall", counts=counts, readings=tuple(taken), like=like), EVERY)


ENDS = (27, 34, 35, 54, 55, 71, 72, 88)


def off_percent(done: Surveyed) -> dict[int, float]:
    """By how much each length is off, percent, the keys read off excepted."""
    lengths = {int(course.key): course.length_mm for course in done.piano.courses}
    return {
        key: 100.0 * math.log(lengths[key] / true)
        for key, true in enumerate(LENGTHS_170, start=FIRST)
        if key not in ENDS and key != C8_DOUBTED
    }


@pytest.mark.parametrize(("like", "bound"), [("grand_170", 3.2), ("grand_210", 3.2), ("grand_275", 4.2)])
def test_lengths_between_section_ends(like: str, bound: float) -> None:
    """Eight of 62 published lengths read off: the other 54 come back to an rms of 2.9, 2.9 and 3.8 percent."""
    off = off_percent(of_170(like, ENDS))
    assert math.sqrt(sum(one**2 for one in off.values()) / len(off)) < bound


@pytest.mark.parametrize(("like", "least"), [("grand_170", 0.9), ("grand_210", 0.9), ("grand_275", 0.7)])
def test_published_lengths_lie_inside_the_stated_errors(like: str, least: float) -> None:
    """Of the lengths not read 96, 96 and 76 of 100 lie inside two of the stated standard errors.

    The spreads of `tape_fit` were chosen with these lengths in view, leaning on the 170 cm grand, so this holds them
    and proves nothing; the 76 is what leaning on a piano a metre longer costs. Lengths that had no part in it: below.
    """
    done = of_170(like, ENDS)
    inside = [abs(one) <= 200.0 * done.fit.length_error_mm(key) / LENGTHS_170[key - FIRST]
              for key, one in off_percent(done).items()]  # fmt: skip
    assert sum(inside) >= least * len(inside)


# Lowest strings by length of the case, mm. Technicians' lists: attachments/20080206/3c071833 (180 cm: 1377, another
# 54 1/4 in); attachments/21/d5/25/de (180 cm about 1400; 183 to 185 cm first 1350, then 1400); 2001-December/098592
# (185 cm: 1311; 5 ft 10 in: 1258; 6 ft 3 in: 1387).
LOWEST = ((1800, 1377), (1800, 1378), (1800, 1400), (1840, 1350), (1840, 1400), (1850, 1311), (1778, 1258),
          (1905, 1387))  # fmt: skip


def of_case(case_mm: float, lasts: tuple[int, ...], like: str | None) -> Surveyed:
    """A piano of which nothing is known but the length of its case and where its bass ends."""
    counts = Counts(last_keys=lasts, last_single=8, last_double=lasts[0], first_plain=lasts[0] + 1, last_damper=68,
                    struts_after=lasts[:-1])  # fmt: skip
    read = (Reading(name="length", mm=case_mm, plus_minus_mm=4.0),)
    return surveyed(Known(name="hall", title="Hall", counts=counts, readings=read, like=like), EVERY)


def sigmas(done: Surveyed, key: int, true_mm: float) -> float:
    return (math.exp(done.fit.course(key).log_length) - true_mm) / done.fit.length_error_mm(key)


def test_lowest_strings_lie_inside_the_stated_errors() -> None:
    """From the case alone, leaning on the nearest piano: all eight inside two standard errors (measured: 1.0)."""
    for case_mm, lowest_mm in LOWEST:
        done = of_case(case_mm, (20, 40, 53, 67, 88) if case_mm > 1900 else (26, 45, 66, 88), None)
        assert abs(sigmas(done, 1, lowest_mm)) < 2.0, (case_mm, lowest_mm)


def test_a_published_bass_scale() -> None:
    """A 180 cm grand: nine keys from its case alone inside the stated errors; 1 and 9 read, the rest to 4.0 mm too.

    Delacour, technicians' lists, attachments/20080206/3c071833, who gives them "give or take a few mm".
    """
    lengths = (1377, 1362, 1348, 1333, 1318, 1305, 1291, 1278, 1264)
    done = of_case(1800.0, (26, 45, 66, 88), None)
    assert all(abs(sigmas(done, key, true)) < 2.0 for key, true in enumerate(lengths, start=1))
    ends = tuple(Reading(name=f"length_{key}", mm=lengths[key - 1], plus_minus_mm=1.0) for key in (1, 9))
    found = surveyed(replace(done.known, readings=(*done.known.readings, *ends)), EVERY)
    off = [math.exp(found.fit.course(key).log_length) - true for key, true in enumerate(lengths, start=1)]
    assert max(map(abs, off)) < 5.0
    assert all(abs(sigmas(found, key, lengths[key - 1])) < 2.0 for key in range(2, 9))


@pytest.mark.parametrize("like", ["grand_210", "grand_170"])
def test_a_published_concert_scale_from_other_pianos(like: str) -> None:
    """Ten lengths of a 274 cm grand from its case alone: inside two standard errors (measured: 1.0 and 1.4).

    Chabassier, Chaigne & Joly, JASA 134 (2013) 648. Leaning on the 275 cm grand would prove little: its lengths were
    guided by this table.
    """
    table = {7: 1965, 16: 1602, 24: 1591, 33: 960, 37: 773, 53: 326, 60: 223, 71: 124, 76: 95, 82: 69}
    done = of_case(2740.0, (20, 37, 53, 70, 88), like)
    assert max(abs(sigmas(done, key, true)) for key, true in table.items()) < 2.0


def test_published_lengths_are_not_doubted() -> None:
    """A real piano's readings, 62 of them, leaning on an invented one: none is doubted."""
    every = tuple(range(FIRST, FIRST + len(LENGTHS_170)))
    assert of_170("grand_170", every).doubts == ()


@pytest.mark.parametrize("keyboard_inches", [47 + 7 / 8, 48 + 3 / 8])
def test_published_keyboards_are_not_doubted(keyboard_inches: float) -> None:
    """Keyboards from 47 7/8 to 48 3/8 in wide (technicians' lists) agree with the assumed one; 46 in does not."""
    base = known("grand_210", "grand_210", all_of_it=True)
    read = {reading.name: reading.mm for reading in base.readings}
    parts = read["left_cheek"] + read["right_cheek"]
    assert surveyed(with_reading(base, "width", parts + 25.4 * keyboard_inches), EVERY).doubts == ()
    assert surveyed(with_reading(base, "width", parts + 25.4 * 46.0), EVERY).doubts != ()


@pytest.mark.parametrize("last", [66, 67, 69, 70, 71])
def test_published_ends_of_the_dampers(last: int) -> None:
    """Dampers that end between D6 and G6 (technicians' lists, keys 66 to 71) make a piano with as many dampers."""
    base = known("grand_210")
    done = surveyed(replace(base, counts=replace(base.counts, last_damper=last)), EVERY)
    assert sum(course.damper is not None for course in done.piano.courses) == last
