"""The invented pianos against what is published about real ones."""

from __future__ import annotations

import itertools
import math

import pytest

from rimside.piano.model import Piano
from rimside.piano.shipped import SHIPPED
from rimside.piano.strings import inharmonicity_young_1952_cents, published_range
from rimside.piano.survey import remarks
from rimside.pitch import Key
from tests.piano.example import piano, survey

every_piano = pytest.mark.parametrize("name", SHIPPED)


@every_piano
def test_tension_and_inharmonicity_lie_where_published_pianos_do(name: str) -> None:
    """No course of a shipped piano leaves the ranges of `published_range` (sources in its rows)."""
    assert remarks(piano(name)) == ()


@every_piano
def test_average_tension(name: str) -> None:
    """About 200 lbf a string on a concert grand; the shipped pianos lie within 25 percent below it."""
    # "Piano acoustics", an encyclopedia: average about 200 lbf (890 N) a string, more than 20 t in all, concert grand.
    courses = piano(name).courses
    total_n = sum(course.strings * course.tension_n for course in courses)
    average_n = total_n / sum(course.strings for course in courses)
    assert 0.75 * 890 <= average_n <= 890


@every_piano
def test_treble_tension_is_the_scalers_target(name: str) -> None:
    """Plain treble strings carry 140 to 170 lbf."""
    # Technicians' list, 2006-September/196295 and 2000-November/074016: 160 lbf, top 140 to 170 lbf.
    for course in piano(name).courses:
        if course.key >= 52:
            assert 140 * 4.448 <= course.tension_n <= 170 * 4.448, course.key


@every_piano
def test_middle_c_is_about_the_same_in_all_pianos(name: str) -> None:
    """Second partial of middle C: 1.2 cents, about the same in six pianos; here within 12 percent."""
    # Young, JASA 24(3), May 1952, abstract.
    c4 = piano(name).course(Key(40))
    cents = inharmonicity_young_1952_cents(2, c4.wire_mm, c4.frequency_hz, c4.length_mm)
    assert cents == pytest.approx(1.2, rel=0.12)


@every_piano
def test_inharmonicity_doubles_every_eight_semitones(name: str) -> None:
    """Above middle C: 40 semitones are five doublings, within a fifth of one."""
    # Young 1952, abstract: doubles every 8 semitones; Rigaud, David & Daudet 2011: every 7.49.
    doublings = math.log2(piano(name).course(Key(80)).inharmonicity / piano(name).course(Key(40)).inharmonicity)
    assert 40 / 8 - 0.2 <= doublings <= 40 / 7.49 + 0.2


@every_piano
def test_treble_follows_the_two_line_model(name: str) -> None:
    """From C5 up B lies within 30 percent of the model's universal treble line."""
    # Rigaud, David & Daudet, DAFx-11 (2011) 393: exp(0.0926 m - 13.64), m the MIDI number. Second hand.
    for course in piano(name).courses:
        if course.key >= 52:
            model = math.exp(0.0926 * (course.key + 20) - 13.64)
            assert course.inharmonicity == pytest.approx(model, rel=0.30), course.key


def test_the_bass_of_a_longer_piano_is_less_inharmonic() -> None:
    """Below C4 inharmonicity is consistently less in large pianos."""
    # Young 1952, abstract.
    long, middle, short = (piano(name) for name in SHIPPED)
    for key in range(1, 33):
        values = [p.course(Key(key)).inharmonicity for p in (long, middle, short)]
        assert values[0] < values[2], key
        assert values[0] < values[1], key


@every_piano
def test_longest_and_shortest_string(name: str) -> None:
    """C8 is 47 to 56 mm; the lowest string of the concert grand is about 2.01 m."""
    # Technicians' lists, 2001-September/093603 and 1998-June/000540: C8 47 to 56 mm.
    assert 47 <= piano(name).course(Key(88)).length_mm <= 56
    # From memory (high confidence): A0 of a 274 cm grand about 2.01 m.
    assert piano("grand_275").course(Key(1)).length_mm == pytest.approx(2010, rel=0.02)


def test_plain_lengths_of_a_170_cm_grand() -> None:
    """The plain strings of the 170 cm piano lie within 8 percent of a published list of a 170 cm grand."""
    # P. Stewart, technicians' forum, "String lengths?", 16 Oct 2019: speaking lengths of a 170 cm grand of 1936, mm.
    published = {31: 965, 34: 900, 37: 756, 40: 640, 45: 482, 49: 392, 52: 340, 56: 274, 60: 219, 64: 176, 68: 142,
                 72: 114, 76: 90, 80: 71, 84: 58, 88: 50}  # fmt: skip
    for key, length_mm in published.items():
        assert piano("grand_170").course(Key(key)).length_mm == pytest.approx(length_mm, rel=0.08), key


@every_piano
def test_lengths_fall_from_key_to_key(name: str) -> None:
    """Inside the bass, and from the lowest tenor key up, each string is shorter than the one before."""
    # P. Stewart 2019: strictly decreasing over keys 27 to 88.
    courses = piano(name).courses
    for a, b in itertools.pairwise(courses):
        if a.section == b.section or a.section != "bass":
            assert b.length_mm < a.length_mm, b.key


def test_strings_of_the_concert_grand() -> None:
    """243 strings: 8 singles, 5 pairs, 7 wound triples, 68 plain triples."""
    # Crombie, Piano, after the Virtual Piano Museum of a technicians' guild: 243 for a 274 cm grand.
    courses = piano("grand_275").courses
    assert sum(course.strings for course in courses) == 243
    # Split from memory (medium confidence); the first treble note #21: technicians' list, 2007-September/023586.
    assert [course.strings for course in courses] == [1] * 8 + [2] * 5 + [3] * 75
    assert [course.key for course in courses if course.wound] == list(range(1, 21))


@every_piano
def test_dampers_end_between_d6_and_g6(name: str) -> None:
    """The last damper is one of keys 66 to 71, so 17 to 22 courses ring freely."""
    # Technicians' list, attachment b2/c2/ba/2d: D6 to G6 depending on the maker.
    undamped = [course.key for course in piano(name).courses if course.damper is None]
    assert undamped == list(range(undamped[0], 89))
    assert 67 <= undamped[0] <= 72
    assert 17 <= len(undamped) <= 22


@every_piano
def test_break_between_bass_and_tenor(name: str) -> None:
    """At 20/21 on large grands, 26/27 on small ones."""
    # Technicians' list, 2001-September/093603 (211 cm and 274 cm: 20/21), attachment bc/91/ce/ac (170, 180 cm: 26/27).
    breaks = {"grand_275": 21, "grand_210": 21, "grand_170": 27}
    first = next(course.key for course in piano(name).courses if course.section != "bass")
    assert first == breaks[name]


@every_piano
def test_hammers_strike_where_conklin_measured(name: str) -> None:
    """The strike share follows Conklin's curve within 0.013."""
    # Conklin, Five Lectures, fig. 11, read off the figure (second hand; reading +-.005, and pianos differ).
    conklin = {1: 0.122, 28: 0.122, 40: 0.121, 50: 0.115, 55: 0.108, 60: 0.100, 70: 0.090, 80: 0.075, 88: 0.065}
    for key, share in conklin.items():
        assert _strike_share(piano(name), key) == pytest.approx(share, abs=0.013), key


@every_piano
def test_hammers_strike_a_little_below_an_eighth_and_far_less_at_the_top(name: str) -> None:
    """Bass at most an eighth; C8 between 1/17 and 1/12."""
    # Conklin, Five Lectures, "Where should the hammers hit?": a little less than 1/8; C8 1/12 to 1/17.
    assert all(0.105 <= _strike_share(piano(name), key) <= 0.1255 for key in range(1, 41))
    assert 1 / 17 <= _strike_share(piano(name), 88) <= 1 / 12


def _strike_share(instrument: Piano, key: int) -> float:
    course = instrument.course(Key(key))
    assert course.strike_mm is not None
    return course.strike_mm / course.length_mm


@every_piano
def test_the_case_is_as_wide_and_long_as_pianos_are(name: str) -> None:
    """Width 1460 to 1570 mm, as published for 155 to 274 cm grands."""
    # Concert grand 274 by 156 cm (encyclopedia); other models 146 to 149 cm wide (fan pages; from memory in cm).
    xs = [point.x_mm for point in survey(name).outline]
    assert 1460 <= max(xs) - min(xs) <= 1570


def test_published_range_holds_published_strings() -> None:
    """Strings that were published and did not make the table lie inside it."""
    # Woodhouse, Euphonics 12.2.1 (old grand, second hand): C4 682 N, B 3.65e-4; C8 643 N, B 2.0e-2.
    # A measured 211 cm grand (third party): C6 B 1.9e-3. Bensa 2003: C2 B 8.48e-5.
    for key, tension_n, coefficient in ((40, 682, 3.65e-4), (88, 643, 2.0e-2), (64, 634, 1.9e-3), (16, 915, 8.48e-5)):
        usual = published_range(key)
        assert usual.least_tension_n <= tension_n <= usual.most_tension_n
        assert usual.least_inharmonicity <= coefficient <= usual.most_inharmonicity
