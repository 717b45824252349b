"""A spring's return behind a response: paths against a general state-space simulation, factors that come out."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from feelcheck.model import FloatArray
from feelcheck.numerics import return_behind as room
from feelcheck.numerics.return_behind import Behind, fit_behind, path_behind

OMEGA, ZETA = 2 * math.pi * 18.0, 0.25
STEP_S, FINE_S = 5e-5, 1e-5
T_S = np.arange(-0.03, 0.25, 0.001) + 3e-4


def behind(poles_s: tuple[float, ...]) -> FloatArray:
    """The same from `scipy.signal.lsim`: the step response of spring and poles, from 1 to 0."""
    denominator = np.array([1 / OMEGA**2, 2 * ZETA / OMEGA, 1.0])
    for tau_s in poles_s:
        denominator = np.polymul(denominator, [tau_s, 1.0])
    fine_s = np.arange(0.0, 0.26, STEP_S)
    _, risen, _ = signal.lsim(([1.0], denominator), np.ones(fine_s.size), fine_s)
    return np.asarray(np.interp(T_S, fine_s, 1.0 - risen, left=1.0))


@pytest.mark.parametrize("poles_s", [(0.005,), (0.008, 0.003), (0.004, 0.004)])
def test_paths_behind_poles_are_those_of_a_state_space_model(poles_s: tuple[float, ...]) -> None:
    np.testing.assert_allclose(path_behind(T_S, OMEGA, ZETA, Behind(poles_s=poles_s)), behind(poles_s), atol=2e-5)


def test_an_average_is_the_mean_of_older_paths() -> None:
    lags_s = (0.0, 0.001, 0.002)
    found = path_behind(T_S, OMEGA, ZETA, Behind(poles_s=(0.005,), lags_s=lags_s))
    alone = [path_behind(T_S - lag_s, OMEGA, ZETA, Behind(poles_s=(0.005,))) for lag_s in lags_s]
    np.testing.assert_allclose(found, np.mean(alone, axis=0), atol=1e-12)


def there_and_back(there_s: float, back_s: float) -> FloatArray:
    """One pole whose time constant depends on which way it goes, in steps of 0.01 ms."""
    fine_s = np.arange(0.0, 0.26, FINE_S)
    stick = path_behind(fine_s, OMEGA, ZETA, Behind(poles_s=(1e-6,)))
    level, levels = 1.0, []
    down, up = (-math.expm1(-FINE_S / tau_s) for tau_s in (there_s, back_s))
    for value in stick.tolist():
        level += (down if value < level else up) * (value - level)
        levels.append(level)
    return np.asarray(np.interp(T_S, fine_s, levels, left=1.0))


@pytest.mark.parametrize(("there_s", "back_s"), [(0.004, 0.009), (0.012, 0.005)])
def test_a_pole_that_differs_on_the_way_back_is_followed_through_the_turns(there_s: float, back_s: float) -> None:
    found = path_behind(T_S, OMEGA, ZETA, Behind(poles_s=(there_s,), back_s=back_s))
    np.testing.assert_allclose(found, there_and_back(there_s, back_s), atol=2e-3)
    alike = path_behind(T_S, OMEGA, ZETA, Behind(poles_s=(there_s,)))
    assert np.abs(alike - there_and_back(there_s, back_s)).max() > 0.02


@pytest.mark.parametrize(
    ("truth", "thought"),
    [
        (behind((0.006,)), Behind(poles_s=(0.004,))),
        (behind((0.009, 0.003)), Behind(poles_s=(0.006, 0.002))),
        (there_and_back(0.006, 0.012), Behind(poles_s=(0.004,), back_s=0.008)),
    ],
    ids=["one pole", "two poles", "there and back"],
)
def test_the_factor_comes_out_and_is_as_sure_as_it_says(truth: FloatArray, thought: Behind) -> None:
    noisy = truth + 3e-4 * np.random.default_rng(4).standard_normal(truth.size)
    found = fit_behind(T_S - 0.02, noisy, thought)
    assert math.exp(found.theta[2]) == pytest.approx(1.5, rel=0.01)
    assert math.exp(found.theta[0]) == pytest.approx(OMEGA, rel=0.005)
    assert found.theta[3] == pytest.approx(-0.02, abs=1e-4)
    assert 1e-4 < found.u[2] < 0.01
    again = fit_behind(T_S - 0.02, noisy, thought, start=found.theta)
    assert again.theta[2] == pytest.approx(found.theta[2], abs=1e-3)
    assert again.n_evaluations < found.n_evaluations


@pytest.mark.parametrize(
    "thought",
    [
        Behind(poles_s=(0.005,)),
        Behind(poles_s=(0.004,), back_s=0.009, lags_s=(0.0, 0.001, 0.002)),
        Behind(poles_s=(0.012,), back_s=0.005),
        Behind(poles_s=(0.009, 0.003)),
    ],
    ids=["one pole", "there and back, averaged", "slower there", "two poles"],
)
def test_slopes_are_those_of_the_path(thought: Behind) -> None:
    theta, steps = np.array([math.log(OMEGA), math.log(ZETA), 0.1, 0.004]), (1e-5, 1e-5, 1e-5, 1e-7)

    def path(at: FloatArray) -> FloatArray:
        omega, zeta, scale = np.exp(at[:3]).tolist()
        return path_behind(T_S - at[3], omega, zeta, thought.stretched(scale))

    omega, zeta, scale = np.exp(theta[:3]).tolist()
    found = room._path_and_slopes(T_S - theta[3], omega, zeta, thought.stretched(scale))
    np.testing.assert_array_equal(found[0], path(theta))
    for slope, step, moved in zip(found[1:], steps, np.diag(steps), strict=True):
        expected = (path(theta + moved) - path(theta - moved)) / (2 * step)
        np.testing.assert_allclose(slope, expected, atol=1e-3 * np.abs(expected).max())


def test_a_path_does_not_depend_on_how_often_it_is_read() -> None:
    thought = Behind(poles_s=(0.004,), back_s=0.012)
    often = path_behind(T_S, OMEGA, ZETA, thought)
    np.testing.assert_allclose(path_behind(T_S[::8], OMEGA, ZETA, thought), often[::8], atol=1e-12)
