"""The host."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.sources.synthetic.host import Host, watch

SENT_S = 0.001 * np.arange(1, 10_001, dtype=np.float64)


def test_every_arrival_lies_in_its_bracket() -> None:
    seen = watch(Host(jitter_s=1e-9), SENT_S, np.random.default_rng(1))
    assert np.all(seen.t_lo_s < SENT_S)
    assert np.all(seen.t_hi_s >= SENT_S)
    assert np.all(np.diff(seen.t_hi_s) >= 0.0)


def test_brackets_are_as_wide_as_a_poll() -> None:
    seen = watch(Host(poll_s=0.0005), SENT_S, np.random.default_rng(1))
    assert np.median(seen.t_hi_s - seen.t_lo_s) == pytest.approx(0.00051, rel=0.03)


def test_jitter_only_delays_and_has_its_mean() -> None:
    late_s = watch(Host(poll_s=1e-5, jitter_s=0.0002), SENT_S, np.random.default_rng(1)).t_hi_s - SENT_S
    assert late_s.min() > 0.0
    assert late_s.mean() == pytest.approx(0.0002, abs=2e-5)
    assert np.mean(late_s > 0.0006) == pytest.approx(np.exp(-3.0), abs=0.015)


def test_a_stall_delays_several_reports_to_the_same_poll() -> None:
    host = Host(stall_fraction=1e-4, stall_s=(0.004, 0.008))
    seen = watch(host, SENT_S, np.random.default_rng(1))
    assert np.diff(seen.t_hi_s).max() > 0.0035
    assert np.count_nonzero(np.diff(seen.t_hi_s) == 0.0) > 10


def test_a_polled_device_loses_what_it_overwrote() -> None:
    host = Host(stall_fraction=1e-4, latest_only=True)
    seen = watch(host, SENT_S, np.random.default_rng(1))
    assert seen.which.size < SENT_S.size
    assert np.all(np.diff(seen.t_hi_s) > 0.0)
    assert seen.which[-1] == SENT_S.size - 1


def test_nothing_sent_is_nothing_seen() -> None:
    assert watch(Host(), np.empty(0), np.random.default_rng(1)).which.size == 0
