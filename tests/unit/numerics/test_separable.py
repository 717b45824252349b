"""Separable fits: facts about the end, weights, derivatives, refusals."""

import numpy as np
import pytest
from scipy.optimize import curve_fit

from feelcheck.errors import NotEnoughDataError
from feelcheck.numerics.separable import fit_exponentials, fit_separable

T = np.linspace(0.0, 5.0, 60)


def noisy(seed: int = 1) -> np.ndarray:
    return 1.0 + 2.0 * np.exp(-T / 0.8) + 0.01 * np.random.default_rng(seed).standard_normal(T.size)


def test_covariance_equals_a_general_purpose_fit() -> None:
    # source: scipy.optimize.curve_fit on the same model
    def model(t: np.ndarray, a: float, tau: float, c: float) -> np.ndarray:
        return np.asarray(a * np.exp(-t / tau) + c)

    best, cov = curve_fit(model, T, noisy(), p0=(1.5, 1.0, 0.5), xtol=1e-14, ftol=1e-14)
    found = fit_exponentials(T, noisy(), 1)
    assert (found.amplitude[0], found.tau[0], found.offset) == pytest.approx(tuple(best), rel=1e-6)
    assert found.u_tau[0] == pytest.approx(float(np.sqrt(cov[1, 1])), rel=1e-4)
    assert found.u_offset == pytest.approx(float(np.sqrt(cov[2, 2])), rel=1e-4)


def test_difference_and_analytic_derivatives_agree() -> None:
    def basis(p: np.ndarray) -> np.ndarray:
        return np.column_stack([np.exp(-T / np.exp(p[0])), np.ones(T.size)])

    plain = fit_separable(basis, noisy(), [[-1.0], [0.5]])
    found = fit_exponentials(T, noisy(), 1)
    assert plain.theta[0] == pytest.approx(np.log(found.tau[0]), abs=1e-8)
    assert plain.u == pytest.approx(found.fit.u, rel=1e-6)


def test_weight_zero_takes_a_sample_out() -> None:
    y, weight = noisy(), np.ones(T.size)
    y[10], weight[10] = 50.0, 0.0
    kept = np.arange(T.size) != 10
    whole = fit_exponentials(T, y, 1, weight=weight)
    part = fit_exponentials(T[kept], y[kept], 1)
    assert whole.tau[0] == pytest.approx(part.tau[0], rel=1e-8)


def test_a_parameter_that_does_nothing_is_told_not_hidden() -> None:
    found = fit_separable(lambda p: np.ones((T.size, 1)) * (1.0 + 0.0 * p[0]), noisy(), [[0.0]])
    assert (found.full_rank, found.valid) == (False, False)
    assert np.all(np.isinf(found.covariance))


def test_an_end_on_a_bound_is_not_valid() -> None:
    limits = (np.array([1.0]), np.array([2.0]))
    found = fit_separable(
        lambda p: np.column_stack([np.exp(-T / np.exp(p[0])), np.ones(T.size)]), noisy(), [[1.5]], bounds=limits
    )
    assert (found.at_bound, found.valid) == ((True,), False)


def test_too_few_data_are_refused() -> None:
    with pytest.raises(NotEnoughDataError, match="more data than it has parameters"):
        fit_exponentials(T[:3], noisy()[:3], 1)


def test_spread_over_repeats_matches_the_stated_uncertainty() -> None:
    # source: Cramer-Rao bound of a decay with free amplitude, sqrt(8 / n) / SNR per time constant (window many tau)
    t = np.arange(0.0, 12.0, 0.02)
    found = [
        fit_exponentials(t, np.exp(-t) + 0.02 * np.random.default_rng(k).standard_normal(t.size), 1, offset=0.0)
        for k in range(40)
    ]
    bound = np.sqrt(8 / 50) * 0.02
    assert np.mean([f.u_tau[0] for f in found]) == pytest.approx(bound, rel=0.05)
    assert np.std([f.tau[0] for f in found]) == pytest.approx(bound, rel=0.35)
