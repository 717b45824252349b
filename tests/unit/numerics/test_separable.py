"""Separable fits: facts about the end, weights, derivatives, refusals."""

import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import curve_fit, least_squares

from feelcheck.errors import NotEnoughDataError
from feelcheck.numerics.separable import SeparableModel, fit_separable

EXPONENTIALS = Path(__file__).parents[2] / "reference" / "exponentials.py"
fit_exponentials: Any = runpy.run_path(str(EXPONENTIALS))["fit_exponentials"]

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


def decay_model(n_columns: int = 2) -> SeparableModel:
    """A decay exp(-t / tau), theta = log tau, with an offset where two columns are asked for."""

    def fill(theta: np.ndarray, rows: np.ndarray) -> None:
        times = T / np.exp(theta[0])
        rows[0], rows[1:n_columns] = np.exp(-times), 1.0
        rows[n_columns:] = times * rows[0]

    return SeparableModel(n_columns=n_columns, slopes=((0, 0),), fill=fill)


def test_the_end_is_the_one_of_a_general_purpose_search_with_its_own_slopes() -> None:
    # source: scipy.optimize.least_squares with three-point differences on the projected residual
    def residual(theta: np.ndarray) -> np.ndarray:
        columns = np.column_stack([np.exp(-T / np.exp(theta[0])), np.ones(T.size)])
        return np.asarray(columns @ np.linalg.lstsq(columns, noisy(), rcond=None)[0] - noisy())

    best = least_squares(residual, [0.5], jac="3-point", xtol=1e-12, ftol=1e-14, gtol=None)
    found = fit_separable(decay_model(), noisy(), [[-1.0], [0.5]])
    assert found.theta[0] == pytest.approx(best.x[0], abs=1e-5)
    assert found.rss == pytest.approx(2 * best.cost, rel=1e-9)


def test_weight_zero_takes_a_sample_out() -> None:
    y, weight = noisy(), np.ones(T.size)
    y[10], weight[10] = 50.0, 0.0
    kept = np.arange(T.size) != 10
    whole = fit_exponentials(T, y, 1, weight=weight)
    part = fit_exponentials(T[kept], y[kept], 1)
    assert whole.tau[0] == pytest.approx(part.tau[0], rel=1e-8)


def test_a_parameter_that_does_nothing_is_told_not_hidden() -> None:
    def fill(theta: np.ndarray, rows: np.ndarray) -> None:
        rows[0], rows[1:] = 1.0, 0.0

    found = fit_separable(SeparableModel(n_columns=1, slopes=((0, 0),), fill=fill), noisy(), [[0.0]])
    assert (found.full_rank, found.valid) == (False, False)
    assert np.all(np.isinf(found.covariance))


def test_columns_that_coincide_are_told_not_hidden() -> None:
    def fill(theta: np.ndarray, rows: np.ndarray) -> None:
        rows[0] = rows[1] = np.exp(-T / np.exp(theta[0]))
        rows[2:] = T / np.exp(theta[0]) * rows[0]

    found = fit_separable(SeparableModel(n_columns=2, slopes=((0, 0),), fill=fill), noisy(), [[0.0]])
    assert not found.full_rank
    assert found.fitted == pytest.approx(found.coefficients.sum() * np.exp(-T / np.exp(found.theta[0])), rel=1e-6)


@pytest.mark.parametrize(("low", "high", "end"), [(1.0, 2.0, 1.0), (-5.0, -2.0, -2.0)])
def test_an_end_on_a_bound_is_not_valid(low: float, high: float, end: float) -> None:
    limits = (np.array([low]), np.array([high]))
    found = fit_separable(decay_model(), noisy(), [[0.5 * (low + high)]], bounds=limits)
    assert (found.at_bound, found.valid, found.converged) == ((True,), False, True)
    assert found.theta[0] == end


def test_of_several_starts_the_lowest_end_is_kept() -> None:
    y = np.sin(2 * np.pi * T)

    def fill(theta: np.ndarray, rows: np.ndarray) -> None:
        phase = 2 * np.pi * T * theta[0]
        rows[0] = np.sin(phase)
        rows[1:] = 2 * np.pi * T * np.cos(phase)

    model = SeparableModel(n_columns=1, slopes=((0, 0),), fill=fill)
    alone = fit_separable(model, y, [[1.5]])
    both = fit_separable(model, y, [[1.5], [1.05]])
    assert abs(alone.theta[0] - 1.0) > 0.1
    assert both.theta[0] == pytest.approx(1.0, abs=1e-6)


def test_data_without_noise_are_fitted_to_the_last_digits() -> None:
    found = fit_separable(decay_model(), 1e6 + 2.0 * np.exp(-T / 0.8), [[0.3]])
    assert np.exp(found.theta[0]) == pytest.approx(0.8, rel=1e-7)
    assert found.coefficients[0] == pytest.approx(2.0, rel=1e-7)


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
