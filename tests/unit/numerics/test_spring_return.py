from __future__ import annotations

import math

import numpy as np
import pytest

from feelcheck.numerics.spring_return import fit_return, half_way_s, overshoot_of, return_path

S = np.linspace(-0.05, 0.3, 700)


def test_the_path_starts_at_rest_at_one_and_ends_at_zero() -> None:
    path = return_path(S, 250.0, 0.3, 0.004)
    assert np.all(path[S <= 0] == pytest.approx(1.0))
    assert abs(path[-1]) < 1e-3


@pytest.mark.parametrize("zeta", [0.2, 0.5, 0.6])
def test_overshoot_is_the_closed_form(zeta: float) -> None:
    closed = math.exp(-math.pi * zeta / math.sqrt(1 - zeta**2))
    assert overshoot_of(100.0, zeta, 0.0) == pytest.approx(closed, rel=1e-4)


def test_half_way_is_half_way() -> None:
    assert float(return_path(np.array([half_way_s(200.0, 0.3, 0.005)]), 200.0, 0.3, 0.005)[0]) == pytest.approx(
        0.5, abs=1e-4
    )


@pytest.mark.parametrize("tau_s", [0.001, 0.005, 0.015])
@pytest.mark.parametrize("zeta", [0.15, 0.4])
def test_the_fit_finds_what_made_the_path(zeta: float, tau_s: float) -> None:
    omega = 2 * math.pi * 45.0
    rng = np.random.default_rng(8)
    y = return_path(S - 0.002 + half_way_s(omega, zeta, tau_s), omega, zeta, tau_s) + rng.normal(0, 0.002, S.size)
    fit = fit_return(S, y)
    assert fit.omega_rad_s == pytest.approx(omega, rel=0.03)
    assert fit.zeta == pytest.approx(zeta, rel=0.06)
    assert fit.passed == pytest.approx(1 / math.hypot(1, omega * math.sqrt(1 - zeta**2) * tau_s), rel=0.06)
    assert fit.rms == pytest.approx(0.002, rel=0.15)
    again = fit_return(S, y, start=fit)
    assert again.omega_rad_s == pytest.approx(fit.omega_rad_s, rel=1e-3)


def test_the_covariance_is_that_of_the_paths_own_slopes() -> None:
    y = return_path(S, 280.0, 0.3, 0.004) + np.random.default_rng(3).normal(0, 0.002, S.size)
    fit = fit_return(S, y)
    at = np.array([np.log(fit.omega_rad_s), np.log(fit.zeta), np.log(fit.tau_s), fit.start_s])

    def path(parameters: np.ndarray) -> np.ndarray:
        return return_path(S - parameters[3], *np.exp(parameters[:3]).tolist())

    slopes = np.stack([(path(at + step) - path(at - step)) / 2e-6 for step in 1e-6 * np.eye(4)])
    left = y - path(at)
    expected = np.linalg.inv(slopes @ slopes.T) * (left @ left) / (S.size - 4)
    np.testing.assert_allclose(fit.covariance, expected, rtol=0.02, atol=1e-3 * np.abs(expected).max())
