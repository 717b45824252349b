"""The gate stop ends at the true optimum: nothing in its design stands in for the response."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from feelcheck.hand.gate_stop.metric import METRIC
from feelcheck.hand.gate_stop.models import MOTION, basis
from feelcheck.hand.view import prepare
from feelcheck.model import AxisScale, Provenance, Recording, StickAxes, Stream, TimeBase
from feelcheck.numerics.uncertainty import coverage_interval

STEP_S, REPORT_S = 5e-5, 1e-3
RISING_S, FALLING_S = 0.009, 0.014


def behind_poles(position: np.ndarray) -> np.ndarray:
    """Each sample of a fine grid moves by its share of the distance, quicker upwards than downwards."""
    up, down = (1.0 - np.exp(-STEP_S / tau_s) for tau_s in (RISING_S, FALLING_S))
    value, out = 0.0, []
    for target in position.tolist():
        value += (up if target > value else down) * (target - value)
        out.append(value)
    return np.array(out)


def quick_flicks(seed: int, n_flicks: int = 20) -> Recording:
    """Diagonal flicks of 15 to 30 ms that accelerate or coast into a hard rim, 12 bits, 1 kHz."""
    rng = np.random.default_rng(seed)
    still = [np.zeros((2, 40_000))]
    for k in range(n_flicks):
        angle = np.pi / 4 + np.pi / 2 * (k % 4) + rng.normal(0.0, 0.03)
        u = np.linspace(0.0, 1.0, int(rng.uniform(0.015, 0.03) / STEP_S))
        turn = rng.uniform(0.3, 1.0)
        out = np.where(u < turn, u**2 / (2 * turn), u - turn / 2)
        back = lfilter([1.0 - np.exp(-STEP_S / 0.02)], [1.0, -np.exp(-STEP_S / 0.02)], np.zeros(8000), zi=[1.0])[0]
        radius = 0.92 * np.concatenate([out / out[-1], np.ones(10_000), back])
        still.append(np.outer([np.cos(angle), np.sin(angle)], radius))
    stride = round(REPORT_S / STEP_S)
    seen = [np.round(2047 * behind_poles(row)[::stride]).astype(np.int64) for row in np.concatenate(still, axis=1)]
    time = TimeBase.from_instants(np.arange(seen[0].size) * REPORT_S)
    names = ("left_x", "left_y")
    streams = tuple(
        Stream(name=n, time=time, codes=c, scale=AxisScale(reach=2047.0)) for n, c in zip(names, seen, strict=True)
    )
    stick = StickAxes(stick="left", x="left_x", y="left_y")
    return Recording(streams=streams, provenance=Provenance(), sticks=(stick,))


@pytest.mark.parametrize("tau_s", [0.001, 0.009, 0.0225, 0.06])
def test_after_contact_a_one_pole_candidate_knows_no_other_decay_than_its_own(tau_s: float) -> None:
    t = np.arange(-0.015, 0.15, 5e-4)
    columns = basis(t[None], np.zeros(1), np.array([[tau_s]]), lags_s=np.zeros(1), scale_s=np.array([0.025]))[
        0, 0, t >= 0, : MOTION.start
    ]
    own = np.stack([np.ones(columns.shape[0]), np.exp(-t[t >= 0] / tau_s)], axis=1)
    unlike = columns - own @ np.linalg.lstsq(own, columns, rcond=None)[0]
    # 1e-6 of a column's size: rounding of the closed forms
    assert np.abs(unlike).max() < 1e-6 * max(1.0, float(np.abs(columns).max()))


@pytest.mark.parametrize("seed", [5])
def test_poles_of_9_and_14_ms_behind_quick_flicks_come_out(seed: int) -> None:
    truth = {"rising": RISING_S, "falling": FALLING_S}
    found = [
        f for f in METRIC.measure(prepare(quick_flicks(seed))).findings if f.estimate.quantity == "smoothing_delay"
    ]
    assert len(found) == 4
    for finding in found:
        true_s = truth[finding.direction or ""]
        low, high = coverage_interval(finding.estimate)
        assert finding.estimate.value == pytest.approx(true_s, rel=0.05)
        assert low is not None
        assert high is not None
        assert low < true_s < high
