"""The approach to the rim in plain powers, and what stamps that scatter cost."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.hand.gate_stop.models import N_BASIS, basis, contact_slope
from feelcheck.hand.gate_stop.readings import stamp_scatter_s
from feelcheck.model import FloatArray

SCALE_S = 0.02
T_S = np.linspace(-SCALE_S, 0.1, 61)[None, :]


def _columns(*tau_s: float) -> FloatArray:
    tau = np.array([tau_s])
    columns: FloatArray = basis(T_S, np.zeros(1), tau, lags_s=np.zeros(1), scale_s=np.array([SCALE_S]))[0, 0]
    return columns


@pytest.mark.parametrize(("tau_s", "first"), [((0.003,), 2), ((0.2,), 2), ((0.04, 0.01), 3)])
def test_higher_powers_are_plain_before_contact_and_nothing_after(tau_s: tuple[float, ...], first: int) -> None:
    columns, s = _columns(*tau_s), T_S[0] / SCALE_S
    for k in range(first, 5):
        expected = np.where(s < 0, s**k, 0.0)
        # The sums cancel terms of tau^k k!, hence the tolerance.
        size = max(tau_s) / SCALE_S
        np.testing.assert_allclose(columns[:, k], expected, atol=1e-13 * 24 * (1 + size) ** 4)


def test_a_slow_pole_leaves_the_approach_well_conditioned() -> None:
    approach = _columns(0.3)[:, :5]
    scaled = approach / np.linalg.norm(approach, axis=0)
    assert np.linalg.cond(scaled) < 1e4


def test_the_slope_at_contact_is_that_of_the_stick() -> None:
    tau, scale = np.array([[0.05, 0.01]]), np.array([SCALE_S])
    first, second = (0.05 + 0.01) / SCALE_S, 0.05 * 0.01 / SCALE_S**2
    coefficients = np.zeros((1, N_BASIS))
    coefficients[0, 1] = 0.8
    assert contact_slope(coefficients, tau, scale)[0] == pytest.approx(0.8 / SCALE_S)
    # A motion of the cube alone stands still at contact: its filtered power is the third column less its neighbours'.
    coefficients[0, 1:4] = -6 * second + 2 * first * 3 * first, -3 * first, 1.0
    assert contact_slope(coefficients, tau, scale)[0] == pytest.approx(0.0, abs=1e-9)


def test_scatter_is_that_of_one_stamp() -> None:
    rng = np.random.default_rng(5)
    t_s = np.arange(4000) * 1e-3 + rng.normal(0.0, 1e-4, 4000)
    # One stamp enters two steps; 4000 of them tell it to 2 % or so.
    assert stamp_scatter_s(t_s, 1e-3) == pytest.approx(1e-4, rel=0.06)
    paused = np.concatenate([t_s, t_s + 60.0])
    assert stamp_scatter_s(paused, 1e-3) == pytest.approx(1e-4, rel=0.06)
    assert stamp_scatter_s(np.array([0.0]), 1e-3) == 0.0
