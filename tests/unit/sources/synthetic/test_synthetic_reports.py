"""The report stream."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.sources.synthetic.reports import Reports, arrivals, report_instants, surviving

RNG = np.random.default_rng
STILL = np.zeros((20_000, 2), dtype=np.int64)


@pytest.mark.parametrize("interval_s", [0.000125, 0.001, 0.016])
def test_reports_come_at_their_interval(interval_s: float) -> None:
    t_s = report_instants(Reports(interval_s=interval_s), 10.0, RNG(1))
    assert np.diff(t_s) == pytest.approx(interval_s, rel=1e-6)
    assert 0.0 <= t_s[0] < interval_s
    assert 10.0 - 2.0 * interval_s < t_s[-1] <= 10.0


def test_the_clock_error_stretches_the_interval() -> None:
    t_s = report_instants(Reports(clock_error_ppm=150.0), 20.0, RNG(1))
    assert (t_s[-1] - t_s[0]) / (t_s.size - 1) == pytest.approx(0.00100015, rel=1e-9)


def test_the_phase_is_drawn() -> None:
    first = [report_instants(Reports(), 0.1, RNG(seed))[0] for seed in range(100)]
    assert np.mean(first) == pytest.approx(0.0005, abs=0.00012)  # 4 standard errors


def test_losses_are_lost_and_the_first_report_stays() -> None:
    kept = surviving(Reports(loss_fraction=0.02), STILL, RNG(1))
    assert 1.0 - kept.size / STILL.shape[0] == pytest.approx(0.02, abs=0.004)  # 4 standard errors
    assert kept[0] == 0


def test_on_change_says_nothing_twice() -> None:
    codes = np.array([[1, 1], [1, 1], [2, 1], [2, 1], [2, 0]])
    assert surviving(Reports(on_change=True), codes, RNG(1)).tolist() == [0, 2, 4]


def test_duplicates_follow_their_originals() -> None:
    sent = surviving(Reports(duplicate_fraction=0.05), STILL, RNG(1))
    assert np.all(np.diff(sent) >= 0)
    assert np.mean(np.diff(sent) == 0) == pytest.approx(0.05, abs=0.007)


def test_without_bad_habits_every_slot_is_sent_once_and_at_once() -> None:
    t_s = np.arange(50.0)
    assert surviving(Reports(), STILL, RNG(1)).tolist() == list(range(20_000))
    assert arrivals(Reports(), t_s, RNG(1)) is t_s


def test_a_burst_arrives_together_with_its_last_report() -> None:
    t_s = 0.001 * np.arange(20_000, dtype=np.float64)
    sent = arrivals(Reports(burst_fraction=0.01, burst_n=4), t_s, RNG(1))
    late = sent - t_s
    assert np.all(np.diff(sent) >= 0.0)
    assert late.min() == 0.0
    assert late.max() == pytest.approx(0.003, abs=1e-9)
    assert np.mean(late > 0.0) == pytest.approx(0.03, abs=0.006)
