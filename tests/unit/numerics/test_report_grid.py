from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from feelcheck.numerics.report_grid import densest_windows, fit_grid, stamp_step


@pytest.mark.parametrize("interval_s", [0.000125, 0.0005, 0.001, 0.004, 0.008])
@pytest.mark.parametrize("missing", [0.0, 0.6])
def test_interval_and_slot_numbers_come_out(interval_s: float, missing: float) -> None:
    rng = np.random.default_rng(3)
    slots = np.flatnonzero(rng.random(6000) >= missing)
    true_s = interval_s * 1.00015
    fit = fit_grid(true_s * slots + rng.exponential(0.05 * interval_s, slots.size))
    assert fit is not None
    assert fit.interval_s == pytest.approx(true_s, rel=2e-6)
    assert np.mean(fit.index - fit.index[0] == slots - slots[0]) > 0.999
    assert np.quantile(np.abs(fit.t_s - true_s * slots), 0.95) < 0.1 * interval_s
    assert fit.coherence > 0.9


def test_reports_handed_over_together_go_back_to_their_slots() -> None:
    rng = np.random.default_rng(4)
    slots = np.arange(5000)
    stamps = 0.001 * slots + rng.exponential(2e-5, slots.size)
    stamps[2000:2006] = stamps[2006]
    fit = fit_grid(np.maximum.accumulate(stamps))
    assert fit is not None
    assert np.array_equal(fit.index - fit.index[0], slots)
    assert np.all(np.diff(fit.t_s) > 0)


def test_stamps_without_a_clock_have_no_coherence() -> None:
    rng = np.random.default_rng(5)
    stamps: NDArray[np.float64] = np.cumsum(rng.exponential(0.004, 4000)).astype(np.float64)
    fit = fit_grid(stamps)
    assert fit is None or fit.coherence < 0.3


def test_too_few_stamps_give_nothing() -> None:
    assert fit_grid(np.linspace(0.0, 0.009, 10)) is None
    assert fit_grid(np.zeros(100)) is None


@pytest.mark.parametrize(("step_s", "expected"), [(0.001, 0.001), (0.0001, 0.0001), (0.01, 0.01)])
def test_rounded_stamps_show_their_step(step_s: float, expected: float) -> None:
    rng = np.random.default_rng(6)
    stamps = np.round(12.34 + np.sort(rng.uniform(0, 60, 3000)) / step_s * step_s, 9)
    assert stamp_step(np.round(stamps / step_s) * step_s) == expected


def test_fine_stamps_have_no_step() -> None:
    assert stamp_step(np.sort(np.random.default_rng(7).uniform(0, 10, 500))) == 0.0


def test_dense_windows_are_where_the_stamps_are() -> None:
    stamps = np.concatenate([np.arange(5) * 1.0, 10 + 0.001 * np.arange(300)])
    windows = densest_windows(stamps, 0.1)
    assert all(window.min() >= 10 for window in windows)
    assert sum(window.size for window in windows) == 300


@pytest.mark.parametrize("late", [False, True])
def test_a_repeat_takes_a_free_slot_if_there_is_one(late: bool) -> None:
    slots = np.arange(3000)
    stamps = 0.001 * slots + np.random.default_rng(9).exponential(2e-5, slots.size)
    repeats = np.zeros(slots.size, dtype=bool)
    if late:  # two reports held back until the third comes, all three saying the same
        stamps[1000:1002], repeats[1001:1003] = stamps[1002], True
        expected = slots
    else:  # one report sent twice
        stamps, repeats = np.insert(stamps, 1001, stamps[1000]), np.insert(repeats, 1001, True)
        expected = np.insert(slots, 1001, 1000)
    fit = fit_grid(np.maximum.accumulate(stamps), repeats=repeats)
    assert fit is not None
    assert np.array_equal(fit.index - fit.index[0], expected)


def _jitter(kind: str, n: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Host delays, report intervals: quick and slow hosts, now and then a long wait, a load that comes and goes."""
    match kind:
        case "waits":
            return rng.exponential(0.03, n) + (rng.random(n) < 0.02) * rng.exponential(3.0, n)
        case "load":  # one autoregressive step a report
            return 0.05 * signal.lfilter([0.2], [1.0, -0.98], rng.standard_normal(n)) + rng.exponential(0.02, n)
        case _:
            return rng.exponential(0.2, n)


@pytest.mark.parametrize("kind", ["wide", "waits", "load"])
@pytest.mark.parametrize("n", [100, 700])
def test_the_intervals_uncertainty_is_what_its_errors_are(kind: str, n: int) -> None:
    errors = []
    for seed in range(40):
        rng = np.random.default_rng([seed, n])
        fit = fit_grid(np.maximum.accumulate(0.004 * (np.arange(n) + _jitter(kind, n, rng))))
        assert fit is not None
        errors.append((fit.interval_s - 0.004) / fit.u_s)
    rms = float(np.sqrt(np.mean(np.square(errors))))
    assert 0.6 < rms < (1.9 if (kind, n) == ("load", 100) else 1.3)


def test_a_handful_of_stamps_has_a_finite_uncertainty() -> None:
    fit = fit_grid(np.repeat(0.004 * np.arange(9), 3))
    assert fit is not None
    assert 0 < fit.u_s < 0.001
