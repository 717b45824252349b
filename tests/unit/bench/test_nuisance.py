"""Small effects of circuits and instruments are part of the uncertainty: without the term the truth lies outside."""

from __future__ import annotations

import importlib
from dataclasses import replace

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.bench.drive import denoised
from feelcheck.bench.edges import find_edges
from feelcheck.bench.levels import prepare
from feelcheck.model import BenchDirection, Capture, Channel, Estimate, Provenance
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.at_bench import BenchSetup, take_capture
from feelcheck.testing.at_bench.circuit import drive_on
from feelcheck.testing.at_bench.setup import Drive, Instrument, Linear

RESPONSE_TIMES = importlib.import_module("feelcheck.bench.response_times")
LOOK = Instrument(interval_s=20e-6, duration_s=0.05, before_s=8e-3, bits=12, noise=0.003)
PLAIN = BenchSetup(drive=Drive(kind="s_curve", time_s=3e-3), stages=(Linear.pole(4e-3),), instrument=LOOK)


def rising(setup: BenchSetup, seed: int = 1) -> BenchDirection:
    """The response of the one edge."""
    found = measure_response(take_capture(setup, np.random.default_rng(seed)).capture).rising
    assert found is not None
    return found


def covers(estimate: Estimate, truth: float) -> bool:
    """Whether the interval holds the truth."""
    low, high = coverage_interval(estimate)
    return (low or 0.0) <= truth <= (high or np.inf)


CASES = {
    "a capacitor that soaks": replace(PLAIN, stages=(Linear.pole(4e-3), Linear.pole(20e-3, direct=0.99))),
    "a part at once": replace(PLAIN, stages=(Linear.pole(4e-3, direct=0.004),)),
    "a part of the field late": replace(PLAIN, stages=(Linear.pole(1.2e-3, direct=0.94), Linear.pole(4e-3))),
    "channels sampled in turn": replace(PLAIN, instrument=replace(LOOK, skew_s=20e-6)),
    "a wire beside the coil": replace(PLAIN, instrument=replace(LOOK, coupling_s=20e-6)),
}


@pytest.mark.parametrize("name", CASES)
def test_effects_too_small_to_be_chosen_are_covered(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(RESPONSE_TIMES, "bent_spread", lambda *_: 0.0)
    side = rising(CASES[name])
    assert side.time_constant.value == pytest.approx(4e-3, rel=0.03)
    assert covers(side.time_constant, 4e-3)
    monkeypatch.setattr(RESPONSE_TIMES, "nuisance_spread", lambda *_: 0.0)
    without = rising(CASES[name]).time_constant
    assert without.u is not None
    assert side.time_constant.u is not None
    assert without.u < 0.8 * side.time_constant.u


def test_a_converter_that_bends_is_covered(monkeypatch: pytest.MonkeyPatch) -> None:
    either = [replace(PLAIN, instrument=replace(LOOK, curvature=way * 0.006, interval_s=50e-6)) for way in (-1, 1)]
    assert all(covers(rising(bent).time_constant, 4e-3) for bent in either)
    monkeypatch.setattr(RESPONSE_TIMES, "bent_spread", lambda *_: 0.0)
    assert not all(covers(rising(bent).time_constant, 4e-3) for bent in either)


def test_what_the_readings_exclude_hardly_widens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(RESPONSE_TIMES, "bent_spread", lambda *_: 0.0)
    found = rising(PLAIN).time_constant
    assert covers(found, 4e-3)
    assert found.u is not None
    assert found.u < 0.004 * 4e-3


def test_a_larger_part_at_once_is_found_and_told() -> None:
    side = rising(replace(PLAIN, stages=(Linear.pole(4e-3, direct=0.1),)))
    assert covers(side.time_constant, 4e-3)
    assert covers(side.extra["part_at_once"], 0.1)
    assert covers(side.mean_delay, 0.9 * 4e-3)
    assert any(caveat.code == "part_at_once" for caveat in side.time_constant.caveats)


def test_two_ways_side_by_side_are_found() -> None:
    side = rising(replace(PLAIN, stages=(Linear.pole(1.2e-3, direct=0.4), Linear.pole(4e-3))))
    assert covers(side.time_constant, 4e-3)
    assert covers(side.mean_delay, 4e-3 + 0.6 * 1.2e-3)


def test_the_tail_of_a_coil_is_not_taken_for_level() -> None:
    setup = replace(
        PLAIN, drive=Drive(kind="exponential", time_s=1.5e-3), instrument=replace(LOOK, noise=0.004, bits=8)
    )
    seen = take_capture(setup, np.random.default_rng(2)).capture
    trace = prepare(seen.t_s, seen.channels[0].values)
    smooth = denoised(trace, find_edges(trace))
    since = seen.t_s > 3.5e-3
    true = drive_on(np.asarray(seen.t_s + LOOK.before_s), setup, np.random.default_rng(2))
    error = smooth - true
    assert abs(np.mean(error[since & (seen.t_s < 8e-3)]) - np.mean(error[seen.t_s > 20e-3])) < 1.5e-3


def test_a_drive_that_switches_between_two_samples_leaves_its_instant_open() -> None:
    """The answer begins with the sample of the switch, half a sample later than a straight line through it says."""
    k = np.arange(300)
    way = np.where(k < 60, 0.0, 1 - np.exp(-(k - 60) / 13))
    out = np.asarray(np.round(way + np.random.default_rng(2).normal(0.0, 0.002, k.size), 4), dtype=np.float64)
    channels = (
        Channel(name="coil", values=np.where(k >= 60, 1.0, 0.0), unit="A", role="drive"),
        Channel(name="out", values=out, unit="V", role="output"),
    )
    side = measure_response(
        Capture(t_s=np.asarray(k * 2e-4, dtype=np.float64), interval_s=2e-4, channels=channels, provenance=Provenance())
    ).rising
    assert side is not None
    assert "part_at_once" not in side.extra
    assert side.smoothing_delay.value == pytest.approx(2.6e-3, rel=0.01)


@pytest.mark.parametrize("coupling", [2.0, 8.0])
@pytest.mark.parametrize("n_edges", [1, 2])
def test_a_sag_behind_a_coupling_capacitor_is_fitted_and_told(coupling: float, n_edges: int) -> None:
    """The capacitor's time constant is so many lengths of the capture."""
    look = replace(LOOK, ac_corner_s=coupling * LOOK.duration_s, interval_s=40e-6, duration_s=0.05 * n_edges)
    side = rising(replace(PLAIN, instrument=look, n_edges=n_edges, half_period_s=0.045))
    assert covers(side.time_constant, 4e-3)
    assert side.time_constant.value == pytest.approx(4e-3, rel=0.02)
    assert any(caveat.code == "ac_coupled" for caveat in side.time_constant.caveats)


@pytest.mark.parametrize("damping", [0.25, 0.4])
def test_a_drive_that_overshoots_ends_where_it_rests(damping: float) -> None:
    """The next edge begins at the level, not at the overshoot's peak: the window in between is a whole one."""
    drive = Drive(kind="second_order", time_s=1e-3, damping=damping)
    look = replace(LOOK, interval_s=40e-6, duration_s=0.09)
    side = rising(replace(PLAIN, drive=drive, instrument=look, n_edges=2, half_period_s=0.035))
    assert side.time_constant.is_ok
    assert covers(side.time_constant, 4e-3)
    assert side.time_constant.value == pytest.approx(4e-3, rel=0.02)
