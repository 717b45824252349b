"""Every term of an uncertainty in the numerics is missed where it is gone: closed forms, or a fixed generator."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from feelcheck.model import Estimate
from feelcheck.numerics.crossings import transition
from feelcheck.numerics.descriptive import describe
from feelcheck.numerics.one_pole import step_response
from feelcheck.numerics.report_grid import GridFit, fit_grid, fit_stretches
from feelcheck.numerics.spring_return import fit_return, return_path
from feelcheck.numerics.uncertainty import product_of


def test_a_product_adds_the_relative_variances() -> None:
    length, width = Estimate.measured("l", 2.0, u=0.06, unit="m"), Estimate.measured("w", 5.0, u=0.2, unit="m", dof=4)
    area = product_of(length, width, quantity="area", unit="m2")
    assert (area.value, area.u) == pytest.approx((10.0, 10.0 * 0.05))
    assert area.dof == pytest.approx(0.05**4 / (0.04**4 / 4))


def test_a_spring_return_s_covariance_is_that_of_its_residuals() -> None:
    """Slopes by differences of the closed form; variance by the residuals over what freedom 16 readings leave."""
    s = np.linspace(-0.004, 0.06, 16)
    at = np.array([math.log(250.0), math.log(0.25), math.log(0.004), -0.006])

    def path(p: np.ndarray) -> np.ndarray:
        omega, zeta, tau_s = np.exp(p[:3]).tolist()
        return return_path(s - p[3], omega, zeta, tau_s)

    fit = fit_return(s, path(at) + np.random.default_rng(2).normal(0.0, 1e-3, s.size))
    found = np.array([*np.log([fit.omega_rad_s, fit.zeta, fit.tau_s]), fit.start_s])
    steps = np.diag([1e-5, 1e-5, 1e-5, 1e-7])
    slopes = np.stack([(path(found + step) - path(found - step)) / (2 * step.max()) for step in steps])
    expected = np.linalg.inv(slopes @ slopes.T) * fit.rms**2 * 16 / 12
    assert np.diag(fit.covariance) == pytest.approx(np.diag(expected), rel=0.05)


def clock(rng: np.random.Generator, n: int, late_s: float = 2e-4) -> GridFit:
    fit = fit_grid(0.001 * np.arange(n) + rng.exponential(late_s, n))
    assert fit is not None
    return fit


def test_a_report_interval_scatters_as_much_as_it_says() -> None:
    """A clock with late stamps, 25 times: the scatter of the interval over its u lies about 1, and never far above."""
    rng = np.random.default_rng(11)
    fits = [clock(rng, 1500) for _ in range(25)]
    ratio = np.std([fit.interval_s for fit in fits]) / np.mean([fit.u_s for fit in fits])
    assert 0.5 < ratio < 1.6


def test_a_grid_lies_where_reports_came_undelayed() -> None:
    fit = clock(np.random.default_rng(3), 4000)
    assert abs(np.median(fit.t_s - 0.001 * np.arange(4000))) < 3e-5


def stamps(*intervals_s: float, silence_s: float) -> np.ndarray:
    rng, parts, at_s = np.random.default_rng(5), [], 0.0
    for interval_s in intervals_s:
        parts.append(at_s + interval_s * np.arange(1500) + rng.exponential(3e-5, 1500))
        at_s = parts[-1][-1] + silence_s
    return np.concatenate(parts)


def test_stretches_add_up_to_one_clock_and_another_rhythm_is_none_of_it() -> None:
    three = fit_stretches(stamps(0.001, 0.001, 0.001, silence_s=3600.2))
    one = fit_grid(stamps(0.001, silence_s=0.0))
    assert three is not None
    assert one is not None
    assert three.u_s == pytest.approx(one.u_s / math.sqrt(3), rel=0.25)
    mixed = fit_stretches(stamps(0.001, 0.001, 0.00105, silence_s=3600.2))
    assert mixed is not None
    assert mixed.interval_s == pytest.approx(0.001, rel=1e-5)


def test_no_phase_is_followed_over_a_long_silence() -> None:
    """Two stretches half a report out of step, a day apart: each keeps a phase of its own."""
    fit = fit_stretches(stamps(0.001, 0.001, silence_s=86400.0005))
    assert fit is not None
    assert np.quantile(fit.late_s, 0.99) < 2e-4
    assert np.abs(fit.t_s - stamps(0.001, 0.001, silence_s=86400.0005)).max() < 4e-4


def test_a_mean_of_neighbours_alike_is_known_as_well_as_from_fewer() -> None:
    """Noise that remembers 0.6 of itself: the mean of 400 scatters as that of (1 - 0.6) / (1 + 0.6) of them, 100."""
    rng = np.random.default_rng(7)
    series = signal.lfilter([1.0], [1.0, -0.6], 0.8 * rng.standard_normal((300, 450)))[:, 50:]
    told = [describe(one) for one in series]
    assert np.mean([one.n_effective for one in told]) == pytest.approx(100.0, rel=0.1)
    says = np.mean([one.sd / math.sqrt(one.n_effective) for one in told])
    assert np.std([one.mean for one in told]) == pytest.approx(says, rel=0.15)


def test_a_transition_begins_at_its_last_tenth_before_the_half() -> None:
    way = np.array([0.0, 0.2, 0.0, 0.0, 0.5, 1.0, 0.8, 1.0])
    found = transition(np.arange(8.0), way, 0.0, 1.0)
    assert (found.t10, found.t50, found.t90) == pytest.approx((3.2, 4.0, 4.8))


@pytest.mark.parametrize("fast", [0.75, 0.9, 0.99])
def test_poles_that_are_near_are_not_taken_for_one(fast: float) -> None:
    """The two-pole step response at its own mean delay, by its closed form."""
    t = np.linspace(0.0, 6.0, 30)
    expected = 1.0 - (np.exp(-t) - fast * np.exp(-t / fast)) / (1.0 - fast)
    assert step_response(t, [1.0, fast]) == pytest.approx(expected, abs=1e-10)
