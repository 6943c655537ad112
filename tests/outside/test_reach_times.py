"""Reach and motion times against published values."""

from __future__ import annotations

import pytest

from rimside import kit, people
from rimside.units import MTM_TMU_S, tmu_s

# Gordon et al., 2012 Anthropometric Survey of U.S. Army Personnel, NATICK/TR-15/007 (2014), means in mm, men and women.
STATURE = (1756.21, 1628.47)
ACROMIAL_HEIGHT = (1440.74, 1335.10)
TROCHANTERION_HEIGHT = (900.93, 845.35)
BIDELTOID_BREADTH = (510.42, 450.32)
SHOULDER_TO_GRIP = (712.7, 652.0)


@pytest.mark.parametrize(
    ("share", "published"),
    [
        (people.SHOULDER_HEIGHT_SHARE, ACROMIAL_HEIGHT),
        (people.ARM_SHARE, SHOULDER_TO_GRIP),
        (people.HIP_HEIGHT_SHARE, TROCHANTERION_HEIGHT),
    ],
)
def test_body_proportions_are_the_surveys_means(share: float, published: tuple[float, float]) -> None:
    """Shoulder, arm and hip as shares of stature lie within 1 percent of both sexes' means."""
    for stature, height in zip(STATURE, published, strict=True):
        assert share * stature == pytest.approx(height, rel=0.01)


def test_shoulder_breadth_is_never_taken_too_small() -> None:
    """The men's ratio serves for all: the survey's mean for men, 20 mm or more above for women."""
    assert people.SHOULDER_BREADTH_SHARE * STATURE[0] == pytest.approx(BIDELTOID_BREADTH[0], rel=0.005)
    assert people.SHOULDER_BREADTH_SHARE * STATURE[1] > BIDELTOID_BREADTH[1] + 20


def test_shoulder_height_agrees_with_the_older_source() -> None:
    """Drillis and Contini's 0.818 of stature."""
    # Drillis & Contini, Body Segment Parameters, New York University TR 1166.03 (1966), in Winter 2009, fig. 4.1.
    assert pytest.approx(0.818, abs=0.003) == people.SHOULDER_HEIGHT_SHARE


def test_arm_agrees_with_a_published_example() -> None:
    """Stature 1504: shoulder 1230 mm; our arm lies between the published grip, 558, and pinch, 606 mm."""
    # Armstrong, University of Michigan, Links4: stature 1504 mm, shoulder 1230, pinch 606, grip 558 mm.
    assert pytest.approx(1230, rel=0.005) == people.SHOULDER_HEIGHT_SHARE * 1504
    assert 558 <= people.ARM_SHARE * 1504 <= 607


@pytest.mark.parametrize(
    ("arm_mm", "drop_mm", "published_mm"),
    [
        # sqrt(L^2 - (S - h)^2): Pheasant & Haslegrave, Bodyspace (from memory); Armstrong, University of Michigan.
        (500.0, 300.0, 400.0),
        (600.0, 317.0, 509.4),
        (712.7, 514.0, 493.7),
    ],
)
def test_level_reach(arm_mm: float, drop_mm: float, published_mm: float) -> None:
    """The zone of convenient reach, worked examples."""
    assert people.level_reach_mm(arm_mm, 950.0 + drop_mm, 950.0) == pytest.approx(published_mm, abs=0.1)


def test_nothing_is_reached_below_arms_length() -> None:
    """A surface further down than the arm is long gives 0, not an error."""
    assert people.level_reach_mm(600.0, 1500.0, 850.0) == 0.0


@pytest.mark.parametrize(("stature_mm", "upright_mm", "leaning_mm"), [(1755.0, 491.0, 707.0), (1626.0, 504.0, 694.0)])
def test_reach_of_the_median_body_over_a_rim(stature_mm: float, upright_mm: float, leaning_mm: float) -> None:
    """Grip reach over a plane at 950 mm, upright and leaning 20 degrees: per-subject medians within 6 percent."""
    # Computed per subject from ANSUR II with 25 mm shoes (a regression value, not an independent publication).
    assert people.lean_reach_mm(stature_mm, 950.0, 0.0) == pytest.approx(upright_mm, rel=0.06)
    assert people.lean_reach_mm(stature_mm, 950.0, people.COMFORTABLE_LEAN_DEG) == pytest.approx(leaning_mm, rel=0.06)


def test_taller_people_do_not_reach_further_upright() -> None:
    """Over a low rim the short reach as far as the tall, or further."""
    # ANSUR II per subject: upright median 504 mm (women), 491 mm (men) over 950 mm.
    assert people.lean_reach_mm(1626.0, 950.0, 0.0) >= people.lean_reach_mm(1755.0, 950.0, 0.0)


def test_one_time_measurement_unit() -> None:
    """A hundred thousand units are an hour."""
    # Maynard, Stegemerten & Schwab, Methods-Time Measurement, 1948: 1 TMU = 0.00001 h.
    assert tmu_s(100_000) == pytest.approx(3600.0)
    assert pytest.approx(27.8, abs=0.03) == 1 / MTM_TMU_S


def test_default_pick_and_put_are_chains_of_published_motions() -> None:
    """Eye focus 7.3, reach 12 in case B 12.9, grasp G1A 2.0, release RL1 2.0 units, times our stated allowance."""
    # MTM-1 values: reach rows in a published hand-out of the 1948 data; release from memory (high confidence).
    assert pytest.approx(kit.ALLOWANCE * (7.3 + 12.9 + 2.0) * 0.036) == kit.DEFAULT_PICK_S
    assert pytest.approx(kit.ALLOWANCE * (12.9 + 2.0) * 0.036) == kit.DEFAULT_PUT_S


def test_default_turn_is_the_published_turn_of_the_body() -> None:
    """Turn 45 to 90 degrees, case 1: 18.6 units, 0.670 s, times the allowance."""
    # MTM-1 data card 2019: TBC1 18.6 TMU.
    assert pytest.approx(0.670, abs=0.001) == kit.DEFAULT_TURN_S / kit.ALLOWANCE


def test_default_walk_is_not_faster_than_a_published_pace() -> None:
    """Slower than 15 units a pace; a pace of the data set is 34 in."""
    # MTM-1: walk 15.0 TMU a pace (from memory, high confidence); 5.3 TMU a foot.
    published_mm_per_s = 304.8 / (5.3 * 0.036)
    assert published_mm_per_s / 2 < kit.DEFAULT_WALK_MM_PER_S < published_mm_per_s


def test_worked_chains_of_motions() -> None:
    """Reach, grasp, move and release over 10 and 30 inches take 0.997 and 1.948 s."""
    # MTM-1 rows: R10B 11.5, G1A 2.0, M10B 12.2, RL1 2.0; R30B 25.8, M30B 24.3.
    assert tmu_s(11.5 + 2.0 + 12.2 + 2.0) == pytest.approx(0.997, abs=0.001)
    assert tmu_s(25.8 + 2.0 + 24.3 + 2.0) == pytest.approx(1.948, abs=0.001)


def test_fitts_line_on_worked_examples() -> None:
    """12.8 + 94.7 log2(2A/W) ms for three movements."""
    # Fitts, J. Exp. Psychol. 47 (1954) 381: the line, r = .9831. Values computed from it.
    assert people.fitts_s(400.0, 20.0) == pytest.approx(0.5168, abs=0.0001)
    assert people.fitts_s(800.0, 20.0) == pytest.approx(0.6115, abs=0.0001)
    assert people.fitts_s(300.0, 50.0) == pytest.approx(0.3523, abs=0.0001)


def test_fitts_line_against_fitts_data() -> None:
    """The sixteen measured times scatter about the line by less than 75 ms, and by nothing on average."""
    # Fitts 1954, 1-oz stylus, ms by amplitude (2, 4, 8, 16 in) and width (0.25, 0.5, 1, 2 in). Table from memory (high
    # confidence: its regression gives the published 12.8, 94.7 and .9831).
    table = {
        2: (392, 281, 212, 180),
        4: (484, 372, 260, 203),
        8: (580, 469, 357, 279),
        16: (731, 595, 481, 388),
    }
    errors = [
        people.fitts_s(a * 25.4, w * 25.4) * 1000 - ms
        for a, row in table.items()
        for w, ms in zip((0.25, 0.5, 1, 2), row, strict=True)
    ]
    assert max(map(abs, errors)) < 75
    assert sum(errors) / len(errors) == pytest.approx(0.0, abs=0.5)


def test_fitts_line_at_its_ends() -> None:
    """No way, no time; a way shorter than half the target costs the intercept alone."""
    assert people.fitts_s(0.0, 14.0) == 0.0
    assert people.fitts_s(3.0, 14.0) == pytest.approx(0.0128)


def test_hand_rate_is_the_published_tapping_limit() -> None:
    """Fast repeated strokes of one hand: 5 to 7 a second."""
    # Fujii, Kudo, Ohtsuki & Oda, Neurosci. Lett. 459 (2009) 69: one-hand tapping limit 5 to 7 Hz.
    from rimside.score.model import Technique

    assert 5.0 <= kit.TECHNIQUES[Technique.FELT_HAMMER].repeat_limit_hz <= 7.0


def test_clearance_between_two_players_is_a_broad_hand() -> None:
    """95th percentile of men's hand breadth."""
    # ANSUR II, Gordon et al. 2014: hand breadth, men, p95, 96 mm.
    assert kit.HAND_CLEARANCE_MM == 96.0
