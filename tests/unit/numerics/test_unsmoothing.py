"""Un-smoothing: what poles and averages did is undone, and the noise of it is told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter, savgol_coeffs

from feelcheck.model import FloatArray
from feelcheck.numerics.unsmoothing import fitting_width, local_derivative, unsmoothed

FINE = 50
"""Steps a report."""


def ramp_into_a_stop() -> FloatArray:
    """A path that rests, rises for 40 reports, and stands; FINE steps a report."""
    t = np.arange(0.0, 160.0, 1.0 / FINE)
    return np.clip((t - 20.0) / 40.0, 0.0, 1.0)


def behind_pole(path: FloatArray, tau: float) -> FloatArray:
    kept = np.exp(-1.0 / (FINE * tau))
    return np.asarray(lfilter([1.0 - kept], [1.0, -kept], path))


@pytest.mark.parametrize("poles", [(4.0,), (20.0,), (6.0, 3.0)])
def test_poles_are_undone_but_for_the_rounding_of_the_kink(poles: tuple[float, ...]) -> None:
    path = ramp_into_a_stop()
    seen = path
    for tau in poles:
        seen = behind_pole(seen, tau)
    found, _ = unsmoothed(seen[::FINE], poles=poles, width=7)
    # A local polynomial over 7 reports rounds a kink of 1/40 a report over 3 reports each way.
    np.testing.assert_allclose(found, path[::FINE], atol=3 / 40)
    far = np.abs(np.abs(np.arange(160) - 40) - 20) > 6
    np.testing.assert_allclose(found[far], path[::FINE][far], atol=4e-3)


@pytest.mark.parametrize("poles", [(0.45,), (1.2,), (0.6, 0.3)])
def test_brief_poles_are_undone_from_report_to_report(poles: tuple[float, ...]) -> None:
    """A step comes back as itself, but for the interval in which it falls, and stays inside."""
    seen = np.clip(np.arange(0.0, 40.0, 1.0 / FINE) - 20.03, 0.0, 0.4) / 0.4
    for tau in poles:
        seen = behind_pole(seen, tau)
    assert fitting_width(1e-4, 0.01, poles=poles) == 1
    found, gain = unsmoothed(seen[::FINE], poles=poles, width=1)
    assert np.all(np.abs(found[:20]) < 1e-9)
    np.testing.assert_allclose(found[20 + 1 + len(poles) :], 1.0, atol=1e-6)
    if len(poles) == 1:
        assert found.min() >= -1e-9
        assert found.max() <= 1.0 + 1e-9
    noise = np.random.default_rng(1).normal(size=(200, 40))
    assert unsmoothed(noise, poles=poles, width=1)[0][:, 5:].std() == pytest.approx(gain, rel=0.05)
    assert fitting_width(0.5, 0.01, poles=poles) > 1


@pytest.mark.parametrize("n", [2, 5, 16])
def test_an_average_is_undone(n: int) -> None:
    path = ramp_into_a_stop()[::FINE]
    seen = lfilter(np.ones(n) / n, [1.0], path)
    found, _ = unsmoothed(seen, n_average=n)
    np.testing.assert_allclose(found, path, atol=2 / 40)


def test_what_is_undone_too_far_goes_through_the_stop_and_too_little_stays_behind() -> None:
    seen = behind_pole(ramp_into_a_stop(), 8.0)[::FINE]
    assert unsmoothed(seen, poles=(12.0,))[0].max() > 1.05
    assert unsmoothed(seen, poles=(5.0,))[0][64] < 0.97


@pytest.mark.parametrize(("poles", "width"), [((10.0,), 5), ((10.0,), 11), ((6.0, 3.0), 9)])
def test_the_noise_is_as_told(poles: tuple[float, ...], width: int) -> None:
    noise = np.random.default_rng(3).normal(size=40_000)
    path, gain = unsmoothed(noise, poles=poles, width=width)
    # Neighbours hang together over `width` readings: 40 000 / 11 independent ones give 1.2 %, three times that allowed.
    assert float(np.std(path[50:-50])) == pytest.approx(gain, rel=0.035)


def test_the_noise_of_an_undone_average_is_as_told_for_a_movement_of_two_lengths() -> None:
    noise = np.random.default_rng(4).normal(size=(4000, 20))
    noise[:, :4] = 0.0
    path, gain = unsmoothed(noise, n_average=8)
    # The last readings have summed two to three stretches.
    assert float(np.std(path[:, -1])) == pytest.approx(gain, rel=0.25)


def test_wider_polynomials_are_taken_only_for_noise_and_never_wider_than_the_poles_allow() -> None:
    assert fitting_width(1e-6, 0.01, poles=(10.0,)) == 5
    assert fitting_width(1.0, 0.01, poles=(20.0,)) == 11
    assert fitting_width(1.0, 0.01, poles=(1.0,)) == 5
    assert fitting_width(1e-6, 0.01, poles=(3.0, 3.0)) == 7


def test_three_poles_are_refused() -> None:
    with pytest.raises(ValueError, match="at most two poles"):
        unsmoothed(np.zeros(10), poles=(1.0, 2.0, 3.0))


@pytest.mark.parametrize(("width", "order", "k"), [(5, 2, 0), (5, 2, 1), (9, 3, 2), (31, 2, 1), (61, 3, 1)])
def test_local_derivatives_are_those_of_savitzky_and_golay(width: int, order: int, k: int) -> None:
    # Source: scipy.signal.savgol_coeffs, a general-purpose library.
    expected = savgol_coeffs(width, order, deriv=k, use="dot")
    np.testing.assert_allclose(local_derivative(width, order, k), expected, atol=1e-12)


def test_no_flicks_give_no_paths() -> None:
    path, _ = unsmoothed(np.empty((0, 40)), n_average=8)
    assert path.shape == (0, 40)
