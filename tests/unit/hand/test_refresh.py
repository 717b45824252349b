from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.signal import lfilter

from feelcheck.hand.fast_motion import motion_on_reports, two_sided_speed
from feelcheck.hand.refresh import METRIC
from feelcheck.model import Estimate, HandView, Provenance, Recording, ReportClock, Status, Stream, TimeBase

FINE_S = 1e-4


def flicks(seconds: Any, seed: Any) -> Any:
    """Return a stick flicked against its rim every second, on a 0.1 ms grid, fractions of full throw."""
    rng = np.random.default_rng(seed)
    x = np.zeros(round(seconds / FINE_S))
    for start in range(0, x.size - 10_000, 8000):
        n, to = int(rng.uniform(600, 1500)), rng.choice([-1, 1]) * rng.uniform(0.6, 0.9)
        s = np.linspace(0, 1, n)
        rise = np.minimum(1.4 * s**3 * (10 - 15 * s + 6 * s * s), 1)
        x[start : start + n], x[start + n : start + 4000] = to * rise, to
        x[start + 4000 : start + 4000 + n] = to * (1 - s**3 * (10 - 15 * s + 6 * s * s))
    return x


def log(
    *,
    refresh_s: float = 0.0,
    interval_s: float = 1e-3,
    tau_s: float = 0.0,
    bits: int = 12,
    noise: float = 0.3,
    seconds: int = 40,
    seed: int = 2,
) -> Any:
    rng = np.random.default_rng(seed)
    x = flicks(seconds, seed)
    t = np.arange(x.size) * FINE_S
    if refresh_s:
        x = x[np.clip(np.round(np.floor(t / refresh_s) * refresh_s / FINE_S).astype(int), 0, x.size - 1)]
    if tau_s:
        part = -np.expm1(-FINE_S / tau_s)
        x = lfilter([part], [1, part - 1], x)
    at = np.arange(0, seconds - 0.1, interval_s)
    steps = x[np.round(at / FINE_S).astype(int)] * 2 ** (bits - 1) + rng.normal(0, noise, at.size)
    return at, np.round(np.round(steps) * 32767 / 2 ** (bits - 1)).astype(np.int64)


def measured(t_s: Any, codes: Any, interval_s: float = 1e-3, *, reports: Any = "every", trusted: bool = True) -> Any:
    stream = Stream(name="x", time=TimeBase.from_instants(t_s), codes=codes, reports=reports)
    clock = ReportClock(
        interval=Estimate.measured("report_interval", interval_s, u=1e-8, unit="s"),
        jitter=Estimate.not_resolved("host_jitter", unit="s"),
        lost_fraction=Estimate.not_resolved("lost_report_fraction", unit="fraction"),
        report_t_s={"x": stream.time.t_hi_s},
        trusted=trusted,
    )
    recording = Recording(streams=(stream,), provenance=Provenance())
    view = HandView(recording=recording, clock=clock, sticks=(), segments=())
    return METRIC.measure(view).findings[0].estimate


@pytest.mark.parametrize("refresh_s", [1.3e-3, 1.5e-3, 2e-3, 2.5e-3, 4e-3, 8e-3, 12e-3])
@pytest.mark.parametrize("noise", [0.0, 0.7])
def test_held_values_give_the_interval_within_two_percent(refresh_s: Any, noise: Any) -> None:
    found = measured(*log(refresh_s=refresh_s, noise=noise))
    assert found.value == pytest.approx(refresh_s, rel=0.02)
    assert abs(found.value - refresh_s) < 4 * found.u


def test_on_change_silence_and_losses_do_not_disturb_a_refresh() -> None:
    t_s, codes = log(refresh_s=2.5e-3, noise=0.0)
    rows = (np.diff(codes, prepend=-1) != 0) & (np.random.default_rng(0).random(codes.size) > 0.02)
    found = measured(t_s[rows], codes[rows], reports="on_change")
    assert found.value == pytest.approx(2.5e-3, rel=0.02)


@pytest.mark.parametrize("tau_s", [0.0, 2e-3])
@pytest.mark.parametrize("bits", [8, 12])
def test_a_source_without_refresh_is_only_bounded(tau_s: Any, bits: Any) -> None:
    found = measured(*log(tau_s=tau_s, bits=bits))
    assert found.status in (Status.AT_MOST, Status.NOT_RESOLVED)
    assert found.bound is None or found.bound >= 1e-3


def test_twelve_bits_bound_the_refresh_near_the_reports() -> None:
    found = measured(*log())
    assert 1e-3 <= found.bound <= 2e-3
    assert [caveat.code for caveat in found.caveats] == ["faster_than_reports"]


@pytest.mark.parametrize(("refresh_s", "tau_s"), [(0.667e-3, 0.0), (0.667e-3, 4.7e-3), (4e-3, 2e-3), (2e-3, 5e-3)])
def test_a_ripple_is_ambiguous_and_its_bound_holds(refresh_s: Any, tau_s: Any) -> None:
    found = measured(*log(refresh_s=refresh_s, tau_s=tau_s))
    assert found.status is Status.AT_MOST
    assert refresh_s <= found.bound
    assert found.caveats[0].code == "ambiguous_ripple"
    assert "bench" in found.caveats[0].advice


@pytest.mark.parametrize("bits", [6, 8])
def test_coarse_steps_and_slow_motion_are_no_refresh(bits: Any) -> None:
    t_s, codes = log(bits=bits, tau_s=3e-3)
    slow = np.round(np.round(40 * np.sin(t_s)) * 32767 / 64).astype(np.int64)
    for values in (codes, slow):
        assert measured(t_s, values).status is not Status.OK


def test_random_repeats_and_losses_are_no_refresh() -> None:
    t_s, codes = log()
    rng = np.random.default_rng(1)
    doubled = codes.copy()
    again = np.flatnonzero(rng.random(codes.size - 1) < 0.2) + 1
    doubled[again] = doubled[again - 1]
    found = measured(t_s, doubled)
    assert (found.status, found.caveats[0].code) == (Status.NOT_RESOLVED, "irregular_repeats")
    kept = rng.random(codes.size) > 0.05
    assert measured(t_s[kept], codes[kept]).status is not Status.OK


@pytest.mark.parametrize(("slow_s", "row_s"), [(4e-3, 1e-3), (8e-3, 2.1e-3)])
def test_interpolated_rows_claim_nothing(slow_s: Any, row_s: Any) -> None:
    t_s, codes = log(interval_s=slow_s)
    rows = np.arange(0, t_s[-1], row_s)
    found = measured(rows, np.round(np.interp(rows, t_s, codes)).astype(np.int64), row_s)
    assert (found.status, found.caveats[0].code) == (Status.NOT_RESOLVED, "interpolated")


def test_rows_repeated_by_a_faster_logger_show_the_device_interval() -> None:
    t_s, codes = log(interval_s=4e-3)
    rows = np.arange(0, t_s[-1], 1e-3)
    found = measured(rows, codes[np.floor(rows / 4e-3 + 1e-9).astype(int)])
    assert found.value == pytest.approx(4e-3, rel=0.02)


def test_without_a_clock_or_without_motion_the_reason_is_told() -> None:
    t_s, codes = log()
    assert measured(t_s, codes, trusted=False).caveats[0].code == "no_report_clock"
    assert measured(t_s, np.round(300 * np.sin(t_s)).astype(np.int64)).caveats[0].code == "too_little_fast_motion"
    assert measured(t_s[:0], codes[:0]).status is Status.NOT_RESOLVED


def test_missing_rows_of_a_full_table_are_marked() -> None:
    motion = motion_on_reports(np.array([*range(30), *range(33, 60)]) * 1e-3, np.arange(57.0), 1e-3, silent=False)
    assert motion[0].codes.size == 60
    assert np.flatnonzero(~motion[0].seen).tolist() == [30, 31, 32]


def test_long_silences_split_the_motion() -> None:
    t_s = np.r_[np.arange(50), 500 + np.arange(50)] * 1e-3
    assert len(motion_on_reports(t_s, np.arange(100.0), 1e-3, silent=True)) == 2


def test_speed_is_zero_where_the_motion_turns() -> None:
    assert two_sided_speed(np.array([0.0, 3.0, 6.0, 3.0, 0.0]), 1).tolist() == [0, 3, 0, 3, 0]


def sampled(update_s: float, row_s: float, *, jitter_s: float = 0.0, bits: int = 12, seed: int = 3) -> Any:
    """Free play of a hand: a source that speaks every `update_s`, polled every `row_s`."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 30.0, row_s)
    seen = np.floor((t + 0.3 * update_s) / update_s) * update_s
    tones = [(f, rng.uniform(0, 6.3)) for f in (0.31, 0.73, 1.9)]
    x = np.sum([np.sin(2 * np.pi * f * seen + phase) for f, phase in tones], axis=0) / 3
    codes = np.round(x * 2 ** (bits - 1)).astype(np.int64) * 2 ** (16 - bits)
    return np.sort(t + rng.normal(0, jitter_s, t.size)), codes


@pytest.mark.parametrize(
    ("update_s", "row_s", "jitter_s"),
    [(9e-3, 0.515e-3, 0.0), (9e-3, 0.515e-3, 5e-5), (0.1, 8e-3, 0.0), (0.05, 1e-3, 0.0)],
)
@pytest.mark.parametrize("trusted", [True, False])
def test_a_source_far_slower_than_the_rows(update_s: Any, row_s: Any, jitter_s: Any, trusted: Any) -> None:
    t, codes = sampled(update_s, row_s, jitter_s=jitter_s)
    found = measured(t, codes, row_s, trusted=trusted)
    assert found.value == pytest.approx(update_s, rel=0.01)
    assert abs(found.value - update_s) < 3 * found.u


def test_a_slow_hand_over_coarse_steps_is_no_slow_source() -> None:
    t, codes = sampled(1e-4, 1e-3, bits=6)
    assert measured(t, codes, trusted=False).status is Status.NOT_RESOLVED
