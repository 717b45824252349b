"""Noise whose neighbours are alike tells less: closed forms of a first-order autoregression."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import signal

from feelcheck.bench.fit import integrated_correlation
from feelcheck.bench.levels import Trace1D
from feelcheck.bench.noise import output_noise
from feelcheck.model import FloatArray

RHO = 0.6
"""Of neighbours: a variance of the mean 4 times that of white noise, (1 + RHO) / (1 - RHO)."""


def noise(n: int, n_series: int, rho: float = RHO) -> FloatArray:
    rng = np.random.default_rng(4)
    found = signal.lfilter([1.0], [1.0, -rho], rng.standard_normal((n_series, n + 100)), axis=1)[:, 100:]
    return np.asarray(found * np.sqrt(1 - rho**2))


@pytest.mark.parametrize("n", [300, 1500])
def test_the_u_of_a_fit_is_that_of_its_parameters(n: int) -> None:
    x = np.linspace(0.0, 1.0, n)
    since = np.clip(x - 0.2, 0.0, None)
    columns = np.array([np.ones(n), since > 0, np.exp(-since / 0.1) * (since > 0), since * np.exp(-since / 0.1)])
    inverse = np.linalg.pinv(columns)
    series = noise(n, 300)
    found = series @ inverse
    left = series - found @ columns
    variance = np.mean(left**2, axis=1) * n / (n - 4) * [integrated_correlation(one, 4) for one in left]
    u = np.sqrt(np.mean(variance) * np.sum(inverse**2, axis=0))
    assert u == pytest.approx(np.std(found, axis=0), rel=0.10)
    white = np.sqrt(np.mean(left**2) * np.sum(inverse**2, axis=0))
    assert np.all(white < 0.65 * np.std(found, axis=0))


def test_both_corrections_are_seen() -> None:
    """Without what lies beyond the last lag, or without what the fit took, the mean falls short of 4."""
    for n, least in ((200, 3.7), (2000, 3.85)):
        series = noise(n, 400)
        x = np.linspace(-1.0, 1.0, n)
        slow = np.polynomial.legendre.legvander(x, 3)
        left = series - (series @ np.linalg.pinv(slow).T) @ slow.T
        assert least < np.mean([integrated_correlation(one, 4) for one in left]) < 4.5


def test_white_noise_is_worth_all_its_samples() -> None:
    assert np.mean([integrated_correlation(one, 5) for one in noise(500, 50, rho=0.0)]) < 1.05


def at_rest(values: FloatArray) -> Any:
    """A fit that has arrived before its first sample."""
    window: Any = SimpleNamespace(raw=(0, values.size), t_s=np.arange(-1.0, values.size), origin_s=0.0)
    way = np.concatenate([[0.0], np.ones(values.size)])
    return SimpleNamespace(window=window, levels=(0.0, 1.0), fit=SimpleNamespace(fitted=way), besides=0.0 * way)


def test_the_rms_of_correlated_noise_is_known_less_well() -> None:
    """The variance of a mean square of this noise is (1 + RHO^2) / (1 - RHO^2) times that of white noise."""
    found = []
    for values in noise(600, 200):
        trace = Trace1D(t_s=np.arange(600.0), values=values, noise=1.0, step=0.0)
        estimate = output_noise(trace, [at_rest(values)], "V")
        found.append((estimate.value or 0.0, estimate.u or 0.0))
    rms, u = np.array(found).T
    assert np.sqrt(np.mean(u**2)) == pytest.approx(np.std(rms), rel=0.15)
    assert np.sqrt(np.mean(u**2)) > 1.3 / np.sqrt(2 * 600)
