"""Rows that a poller repeated are left out, and nothing else is."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.hand.gate_stop.metric import METRIC
from feelcheck.hand.gate_stop.readings import first_of_repeated, held_s, stick_readings
from feelcheck.hand.view import prepare
from feelcheck.model import FloatArray, StickAxes
from feelcheck.testing.in_hand import draw_world, simulate_log


def flicks(interval_s: float, step: float, noise: float = 0.0) -> FloatArray:
    """Twelve flicks of one axis, 40 ms out, in codes."""
    t = np.arange(0.0, 6.0, interval_s)
    way = np.clip((t % 0.5) / 0.04, 0.0, 1.0) * (t % 0.5 < 0.3)
    y = np.round((way + noise * np.random.default_rng(2).normal(size=t.size)) / step) * step
    return np.stack([y, np.full_like(y, np.nan)])


@pytest.mark.parametrize("rows", [2, 3, 8])
def test_the_first_of_repeated_rows_stands_and_the_interval_is_that_of_the_reports(rows: int) -> None:
    reports = flicks(0.001, 1e-4, noise=2e-4)
    found = first_of_repeated(np.repeat(reports, rows, axis=1), 0.001 / rows)
    assert found is not None
    kept, interval_s = found
    assert interval_s == pytest.approx(0.001, rel=0.01)
    assert np.all(kept % rows == 0)


@pytest.mark.parametrize("step", [1e-4, 1 / 128])
def test_coarse_steps_and_rest_are_no_repeats(step: float) -> None:
    assert first_of_repeated(flicks(0.001, step), 0.001) is None


def test_a_log_without_fast_motion_tells_nothing() -> None:
    assert first_of_repeated(np.zeros((2, 500)), 0.001) is None


def test_a_polled_log_reads_like_the_reports_it_was_made_of() -> None:
    rng = np.random.default_rng(5)
    world = replace(draw_world("poller", rng), n_flicks=8, poles_x_s=((0.012, 0.012),), poles_y_s=((0.012, 0.012),))
    link, host = replace(world.link, report_s=0.004), replace(world.host, poll_s=0.00052)
    log = simulate_log(replace(world, link=link, host=host), rng)
    view = prepare(log.recording())
    reports = stick_readings(view, view.sticks[0])
    assert reports.interval_s == pytest.approx(log.truth["report_interval_s"], rel=0.01)
    assert 0.0 < reports.scatter_s < 0.3e-3
    found = [f for f in METRIC.measure(view).findings if f.estimate.quantity == "smoothing_delay"]
    assert len(found) == 4
    for finding in found:
        true_s = log.truth[f"{finding.axis}.{finding.direction}.smoothing_delay_s"]
        assert finding.estimate.value == pytest.approx(true_s, rel=0.06)


@pytest.mark.parametrize(("told_s", "expected_s"), [(0.0052, 0.0052), (0.00121, 0.0), (None, 0.0)])
def test_a_source_that_holds_its_values_over_reports_is_slower_than_they_are(
    told_s: float | None, expected_s: float
) -> None:
    recording = SimpleNamespace(stream=lambda name: name)
    view: Any = SimpleNamespace(recording=recording, once=lambda make, of: SimpleNamespace(value=told_s))
    assert held_s(view, StickAxes(stick="left", x="x", y=""), 0.001) == expected_s
    assert held_s(view, StickAxes(stick="left", x="x", y="y"), 0.005) == 0.0
