"""The leader's clock and the estimate of how far it is from one's own."""

from __future__ import annotations

import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimside.errors import BadInput
from rimside.files.ledger import Clock
from rimside.web.rehearsing.clock import best, go, loop, pace, pause, play, sample, seconds, unloop

NOW = 1.7e12
MOMENTS = st.floats(0.0, 3.6e6)


def test_a_standing_clock_stands_and_a_running_one_runs_at_its_speed() -> None:
    """Ten seconds of the server are ten of the piece, five at half speed, none while paused."""
    still = go(Clock(), NOW, 8.0)
    assert seconds(still, NOW + 10_000) == 8.0
    running = play(still, NOW)
    assert seconds(running, NOW + 10_000) == pytest.approx(18.0)
    assert seconds(pace(running, NOW, 0.5), NOW + 10_000) == pytest.approx(13.0)


def test_each_change_starts_from_where_the_piece_stands_and_counts_up() -> None:
    """Played for 4 s, slowed for 4 s, paused: 6 s in; every step has a higher epoch."""
    clocks = [play(Clock(), NOW)]
    clocks.append(pace(clocks[-1], NOW + 4000, 0.5))
    clocks.append(pause(clocks[-1], NOW + 8000))
    assert seconds(clocks[-1], NOW + 99_000) == pytest.approx(6.0)
    assert [clock.epoch for clock in clocks] == [1, 2, 3]


@given(st.floats(-20.0, 40.0), MOMENTS, st.sampled_from([0.25, 0.5, 1.0, 1.3]))
def test_a_loop_keeps_the_piece_inside_once_it_is_in(at_s: float, later_ms: float, speed: float) -> None:
    """Started anywhere, it goes to the loop's start unless inside, and never leaves [10, 14)."""
    clock = play(loop(pace(go(Clock(), NOW, at_s), NOW, speed), NOW, 10.0, 14.0), NOW)
    assert clock.at_s == (at_s if 10.0 <= at_s < 14.0 else 10.0)
    assert 10.0 <= seconds(clock, NOW + later_ms) < 14.0 + 1e-9


def test_a_loop_comes_round_after_its_length_and_can_be_left() -> None:
    """From 10 with a loop to 14: 13.5, then 10.5; without the loop it goes on from there."""
    clock = play(loop(Clock(), NOW, 10.0, 14.0), NOW)
    assert [seconds(clock, NOW + ms) for ms in (3500, 4500, 8500)] == pytest.approx([13.5, 10.5, 10.5])
    assert seconds(unloop(clock, NOW + 4500), NOW + 9500) == pytest.approx(15.5)


def test_going_before_or_behind_a_loop_plays_from_there() -> None:
    """From before it runs into the loop and goes round in it; from behind it runs on."""
    clock = play(loop(Clock(), NOW, 10.0, 14.0), NOW)
    assert seconds(go(clock, NOW, 8.0), NOW + 7000) == pytest.approx(11.0)
    assert seconds(go(clock, NOW, 20.0), NOW + 7000) == pytest.approx(27.0)


@pytest.mark.parametrize("speed", [0.2, 2.1, float("nan"), float("inf")])
def test_a_speed_nobody_rehearses_at_is_refused(speed: float) -> None:
    """Too slow, too fast and no number are told."""
    with pytest.raises(BadInput):
        pace(Clock(), NOW, speed)


@pytest.mark.parametrize("ends", [(4.0, 4.0), (4.0, 3.0), (4.0, 4.4), (float("nan"), 5.0)])
def test_a_loop_too_short_or_backwards_is_refused(ends: tuple[float, float]) -> None:
    """A loop lasts half a second at least."""
    with pytest.raises(BadInput):
        loop(Clock(), NOW, *ends)


@given(st.floats(-1e6, 1e6), st.floats(0.0, 300.0), st.floats(0.0, 300.0), st.floats(0.0, 50.0))
def test_a_sample_errs_by_half_of_its_round_trip_at_most(ahead: float, out: float, back: float, busy: float) -> None:
    """However unequal the ways there and back are, and however long the server took."""
    arrived = NOW + out + ahead
    found = sample(NOW, arrived, arrived + busy, NOW + out + busy + back)
    assert found.round_trip_ms == pytest.approx(out + back, abs=0.01)
    assert abs(found.offset_ms - ahead) <= (out + back) / 2 + 0.01


@pytest.mark.parametrize("seed", range(20))
def test_ten_pings_over_a_jittery_network_find_the_offset(seed: int) -> None:
    """With 2 ms each way and now and then 80 ms more on one of them, the best of ten is within 5 ms."""
    draw = random.Random(seed)
    samples = []
    for number in range(10):
        out, back = (2.0 + draw.expovariate(1.0) + (80.0 if draw.random() < 0.3 else 0.0) for _ in range(2))
        sent = NOW + 100 * number
        samples.append(sample(sent, sent + out + 1234.5, sent + out + 1234.6, sent + out + 0.1 + back))
    found = best(samples)
    assert found is not None
    assert abs(found.offset_ms - 1234.5) < 5.0
    assert abs(found.offset_ms - 1234.5) <= statistics.mean(abs(one.offset_ms - 1234.5) for one in samples)


def test_without_any_ping_nothing_is_known() -> None:
    """No sample, no offset."""
    assert best([]) is None
