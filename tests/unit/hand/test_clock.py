from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.hand.clock import recover_clock
from feelcheck.model import Gap, Provenance, Recording, ReportClock, Status, Stream, TimeBase

Floats = NDArray[Any]


def lost(clock: ReportClock) -> float:
    """The share of lost reports; where none was lost, the largest share that could have been."""
    share = clock.lost_fraction
    return float(share.value if share.value is not None else share.bound or 0.0)


def test_a_perfect_table_is_its_own_clock() -> None:
    t_s = np.round(np.arange(6000) * 1e-3, 6)
    time = TimeBase.from_instants(t_s)
    codes = np.rint(20000 * np.sin(20 * t_s)).astype(int)
    recording = Recording(streams=(Stream(name="x", time=time, codes=codes),), provenance=Provenance())
    clock = recover_clock(recording)
    assert clock.trusted
    assert clock.interval.value == pytest.approx(1e-3, rel=1e-6)
    assert clock.jitter.status is Status.AT_MOST


def motion(t_s: Floats) -> tuple[Floats, Floats]:
    """A stick that rests, moves fast, and rests, over and over."""
    on = (np.mod(t_s, 1.0) < 0.6).astype(np.float64)
    return 30000 * on * np.sin(2 * np.pi * 2.3 * t_s), 28000 * on * np.cos(2 * np.pi * 1.7 * t_s)


def table(stamps: Floats, device_s: Floats, **more: Any) -> Recording:
    time = TimeBase.from_instants(np.maximum.accumulate(stamps))
    streams = tuple(
        Stream(name=name, time=time, codes=np.round(values).astype(np.int64))
        for name, values in zip("xy", motion(device_s), strict=True)
    )
    return Recording(streams=streams, provenance=Provenance(), **more)


def changes(device_s: Floats, t_lo_s: Floats, t_hi_s: Floats) -> Recording:
    streams = []
    for name, values in zip("xy", motion(device_s), strict=True):
        codes = np.round(values / 16).astype(np.int64) * 16
        changed = np.append(True, np.diff(codes) != 0)
        time = TimeBase(t_lo_s=t_lo_s[changed], t_hi_s=t_hi_s[changed], clock="host")
        streams.append(Stream(name=name, time=time, codes=codes[changed], reports="on_change"))
    return Recording(streams=tuple(streams), provenance=Provenance())


def device(interval_s: float, seconds: float, loss: float, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return report instants and their stamps: late by 30 us on average, and by a stall now and then."""
    slots = np.arange(int(seconds / interval_s))
    kept = slots[rng.random(slots.size) >= loss]
    device_s = 5.0 + interval_s * kept
    stamps = device_s + rng.exponential(3e-5, kept.size)
    for start in rng.uniform(5.0, 5.0 + seconds, 12):
        first, last = np.searchsorted(stamps, (start, start + 0.004))
        stamps[first:last] = start + 0.004
    return device_s, np.maximum.accumulate(stamps)


def polled(stamps: Floats, poll_s: float) -> tuple[Floats, Floats]:
    number = np.ceil(stamps / poll_s)
    return poll_s * (number - 1), poll_s * number


@pytest.mark.parametrize("interval_s", [0.000125, 0.00025, 0.001, 0.002, 0.004, 0.008])
@pytest.mark.parametrize("loss", [0.0, 0.02])
def test_the_interval_of_a_table(interval_s: float, loss: float) -> None:
    device_s, stamps = device(interval_s * (1 - 150e-6), 20.0, loss, np.random.default_rng(1))
    clock = recover_clock(table(stamps, device_s))
    assert clock.trusted
    assert clock.interval.value == pytest.approx(interval_s * (1 - 150e-6), rel=5e-5)
    assert lost(clock) == pytest.approx(loss, abs=0.008)
    assert np.quantile(np.abs(clock.report_t_s["x"] - device_s), 0.95) < 4e-5
    assert 5e-5 < (clock.jitter.value or 0) < 4e-4


@pytest.mark.parametrize("interval_s", [0.001, 0.004, 0.008])
def test_the_interval_of_changes_alone(interval_s: float) -> None:
    device_s, stamps = device(interval_s, 20.0, 0.0, np.random.default_rng(2))
    clock = recover_clock(changes(device_s, *polled(stamps, 0.0001)))
    assert clock.interval.value == pytest.approx(interval_s, rel=1e-4)
    assert lost(clock) == pytest.approx(0.0, abs=0.01)
    assert clock.gaps == ()
    assert np.all(np.diff(clock.report_t_s["x"]) >= 0)


def test_loss_in_changes_is_judged_in_fast_motion() -> None:
    device_s, stamps = device(0.002, 40.0, 0.05, np.random.default_rng(3))
    clock = recover_clock(changes(device_s, *polled(stamps, 0.0001)))
    assert clock.lost_fraction.value == pytest.approx(0.05, abs=0.02)


def test_a_poll_as_slow_as_the_reports_is_refused() -> None:
    device_s, stamps = device(0.001, 20.0, 0.0, np.random.default_rng(4))
    clock = recover_clock(changes(device_s, *polled(stamps, 0.00107)))
    assert not clock.trusted
    assert clock.interval.status is Status.NOT_RESOLVED
    assert clock.interval.caveats[0].code == "poll_limited"


def test_jitter_beyond_the_interval_is_refused() -> None:
    rng = np.random.default_rng(5)
    device_s = 0.0075 * np.arange(4000)
    stamps = np.sort(device_s + rng.exponential(0.012, device_s.size))
    recording = changes(device_s, stamps, stamps)
    clock = recover_clock(recording)
    assert not clock.trusted
    assert clock.interval.caveats[0].code == "clock_not_recovered"
    assert np.array_equal(clock.report_t_s["x"], recording.stream("x").time.t_hi_s)


def rounded(interval_s: float, step_s: float, seed: int) -> ReportClock:
    device_s, stamps = device(interval_s, 30.0, 0.0, np.random.default_rng(seed))
    return recover_clock(table(np.round(stamps / step_s) * step_s, device_s))


@pytest.mark.parametrize("interval_s", [0.004, 0.008, 0.0041667, 0.00225])
def test_stamps_in_milliseconds_are_fine_for_slower_reports(interval_s: float) -> None:
    clock = rounded(interval_s, 0.001, 6)
    assert clock.trusted
    assert clock.interval.value == pytest.approx(interval_s, rel=5e-4)


@pytest.mark.parametrize("interval_s", [0.001, 0.000125, 0.0005])
def test_stamps_in_milliseconds_still_tell_the_interval_of_quick_reports(interval_s: float) -> None:
    clock = rounded(interval_s, 0.001, 7)
    assert not clock.trusted
    assert clock.interval.value == pytest.approx(interval_s, rel=5e-3)
    assert any(c.code in ("coarse_stamps", "interval_counted") for c in clock.interval.caveats)


def test_a_stated_rate_is_taken_and_said() -> None:
    t_s = 0.002 * np.arange(3000)
    time = TimeBase.from_instants(t_s, regular_interval_s=0.002)
    stream = Stream(name="x", time=time, codes=np.round(motion(t_s)[0]).astype(np.int64))
    clock = recover_clock(Recording(streams=(stream,), provenance=Provenance()))
    assert clock.interval.value == pytest.approx(0.002)
    assert clock.interval.caveats[0].code == "rate_stated"
    assert clock.jitter.status is Status.NOT_RESOLVED


def test_a_picture_rate_log_says_so() -> None:
    rng = np.random.default_rng(8)
    stamps = np.sort(np.arange(1800) / 60 + rng.normal(0, 4e-4, 1800))
    clock = recover_clock(table(stamps - stamps[0], stamps))
    assert clock.interval.value == pytest.approx(1 / 60, rel=1e-3)
    assert "maybe_logger_rate" in [c.code for c in clock.interval.caveats]


def test_a_hole_in_a_table_is_a_gap_and_the_clock_goes_on_after_it() -> None:
    device_s, stamps = device(0.001, 20.0, 0.0, np.random.default_rng(9))
    kept = (stamps < 12.0) | (stamps > 13.5)
    later = device_s + 0.00037 * (device_s > 12.7)
    clock = recover_clock(table(stamps[kept] + 0.00037 * (stamps[kept] > 12.7), later[kept]))
    assert [round(g.end_s - g.start_s, 2) for g in clock.gaps] == [1.5]
    assert np.quantile(np.abs(clock.report_t_s["x"] - later[kept]), 0.95) < 6e-5


def test_the_readers_own_gaps_are_kept() -> None:
    device_s, stamps = device(0.004, 10.0, 0.0, np.random.default_rng(10))
    gap = Gap(start_s=7.0, end_s=7.2, reason="unplugged")
    assert recover_clock(table(stamps, device_s, gaps=(gap,))).gaps == (gap,)


def test_a_handful_of_reports_tells_nothing() -> None:
    clock = recover_clock(table(np.array([0.0, 0.1]), np.array([0.0, 0.1])))
    assert clock.interval.caveats[0].code == "too_few_reports"
    assert not recover_clock(Recording(streams=(), provenance=Provenance())).trusted


def test_reports_sent_twice_change_nothing() -> None:
    device_s, stamps = device(0.002, 20.0, 0.0, np.random.default_rng(11))
    twice = np.sort(np.concatenate([np.arange(stamps.size), np.arange(0, stamps.size, 50)]))
    clock = recover_clock(table(stamps[twice], device_s[twice]))
    assert clock.interval.value == pytest.approx(0.002, rel=1e-4)
    assert np.quantile(np.abs(clock.report_t_s["x"] - device_s[twice]), 0.9) < 1e-4


def test_a_sensor_slower_than_its_reports_is_not_taken_for_loss() -> None:
    device_s, stamps = device(0.001, 30.0, 0.0, np.random.default_rng(12))
    slow_s = np.floor(device_s / 0.0026) * 0.0026
    clock = recover_clock(changes(slow_s, *polled(stamps, 0.0001)))
    assert clock.interval.value == pytest.approx(0.001, rel=1e-4)
    assert clock.lost_fraction.status is Status.NOT_RESOLVED
    assert "seen_from_changes" in [c.code for c in clock.interval.caveats]


def test_bursts_of_a_stalled_host_do_not_make_a_fraction_of_the_interval() -> None:
    # every other stretch of 12 ms the host sleeps, then reads what waited, a third of an interval apart
    device_s = 5.0 + 1e-3 * np.arange(8000)
    number = np.floor(device_s / 0.012)
    asleep = number % 3 == 0
    woken = 0.012 * (number + 1)
    waited = np.arange(device_s.size) - np.searchsorted(number, number)
    t_lo_s = np.where(asleep, 0.012 * number, device_s - 5e-6)
    t_hi_s = np.where(asleep, woken + waited * 1e-3 / 3, device_s + 5e-6)
    order = np.maximum.accumulate(t_hi_s)
    clock = recover_clock(changes(device_s, np.minimum(t_lo_s, order), order))
    assert clock.interval.value == pytest.approx(1e-3, rel=5e-3)


def test_jitter_below_the_stamps_rounding_is_a_limit() -> None:
    device_s = 0.008 * np.arange(4000)
    clock = recover_clock(table(np.round(device_s, 3), device_s))
    assert clock.jitter.status is Status.AT_MOST
    assert 0.0 < float(clock.jitter.bound or 0.0) < 0.0011
    assert clock.extra["host_jitter_p50"].status is Status.AT_MOST
