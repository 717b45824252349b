"""Every term of an uncertainty in the hand, the rim's fit apart, is missed where it is gone: closed forms.

`tests/mutation` lists what these tests are to notice.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import signal, stats

from feelcheck.hand import refresh, release
from feelcheck.hand.clock import _lost, _Rows
from feelcheck.hand.dead_zone import _measured, _verdict
from feelcheck.hand.flick_speed import _estimate
from feelcheck.hand.lag import coupled, marker
from feelcheck.hand.lag.numbers import (
    FLOOR_S,
    FLOOR_SMOOTHED_S,
    LEFT_OF_PLAY,
    LEFT_OF_PLAY_SMOOTHING,
    MARKER_FLOOR_S,
    ROUNDED,
    ROUNDED_SMOOTHING,
)
from feelcheck.hand.reach import rim_skew
from feelcheck.hand.release import _attenuation, _extremes, _friction, _misfit, _ring, _settling
from feelcheck.hand.rest import Rest, _drift, _noise, _offsets, _return_error
from feelcheck.hand.returns import SpringReturn
from feelcheck.hand.ripple import Ripple
from feelcheck.model import Estimate, FloatArray, Status, Stream, TimeBase
from feelcheck.numerics.report_grid import GridFit
from feelcheck.numerics.spring_return import ReturnFit, overshoot_of, return_path

BLANK: Any = SimpleNamespace(scale=SimpleNamespace(unit="counts", centre=0.0))


def floats(values: Any) -> FloatArray:
    found: FloatArray = np.asarray(values, dtype=np.float64)
    return found


def one(estimates: Any, name: str) -> Estimate:
    found: Estimate = next(estimate for estimate in estimates if estimate.quantity == name)
    return found


def rests(*means: float, sd: float = 2.0, n: int = 200, colour: float = 0.0) -> list[Rest]:
    rng = np.random.default_rng(5)
    noise = signal.lfilter([1.0], [1.0, -colour], rng.standard_normal((len(means), n + 50)))[:, 50:]
    noise = floats(noise * sd * math.sqrt(1 - colour**2))
    return [
        Rest(t_s=floats(1e-3 * np.arange(n)), readings=floats(mean + own), came_from=1.0)
        for mean, own in zip(means, noise, strict=True)
    ]


def test_a_rest_noise_knows_how_many_readings_tell_and_how_far_rests_differ() -> None:
    alike = one(_noise(rests(*[0.0] * 8, n=100), BLANK, 1.0, 2000.0), "rest_noise")
    assert alike.value == pytest.approx(2.0, rel=0.08)
    spread = np.std([rest.readings.std(ddof=1) for rest in rests(*[0.0] * 8, n=100)]) / math.sqrt(8)
    assert alike.u == pytest.approx(math.hypot((alike.value or 0.0) / math.sqrt(2 * alike.dof), spread))
    coloured = one(_noise(rests(*[0.0] * 8, n=100, colour=0.6), BLANK, 1.0, 2000.0), "rest_noise")
    assert coloured.dof < 0.4 * alike.dof


def test_an_offset_is_known_to_its_rests_and_to_a_step() -> None:
    means = (4.0, 6.0, 8.0, 10.0)
    apart = one(_offsets(rests(*means, sd=1e-6), BLANK, 1.0, 1000.0), "rest_offset")
    assert apart.u == pytest.approx(np.std(means) / 2 / 1000.0, rel=1e-4)
    alike = one(_offsets(rests(*[5.0] * 4, sd=1e-6), BLANK, 12.0, 1000.0), "rest_offset")
    assert alike.u == pytest.approx(math.sqrt(12.0) / 1000.0)


def test_a_return_error_is_a_standard_deviation_over_n_minus_one() -> None:
    points, sides = np.array([1.0, 3.0, 2.0, 9.0, 11.0, 12.0]), np.array([-1.0, -1.0, -1.0, 1.0, 1.0, 1.0])
    found = _return_error(points, sides, 1000.0, 0.6)
    error, back = one(found, "return_error"), one(found, "return_hysteresis")
    assert error.value == pytest.approx(np.std(points, ddof=1) / 1000.0)
    assert error.u == pytest.approx((error.value or 0.0) / math.sqrt(10))
    parts = (np.var([1, 3, 2], ddof=1) / 3, np.var([9, 11, 12], ddof=1) / 3, 0.6**2 / 12)
    assert back.u == pytest.approx(math.hypot(*(math.sqrt(part) for part in parts)) / 1000.0)


def test_a_drift_is_as_unsure_as_its_few_averages_and_white_noise_is_none() -> None:
    rng, found = np.random.default_rng(8), []
    for _ in range(150):
        readings = floats(rng.standard_normal(600))
        found.append(_drift([Rest(t_s=floats(1e-3 * np.arange(600)), readings=readings, came_from=1.0)], "counts")[0])
    values, us = np.array([(each.value, each.u) for each in found], dtype=float).T
    assert np.std(values) == pytest.approx(np.mean(us), rel=0.25)
    assert np.mean([bool(each.caveats) for each in found]) < 0.03, "about 0.7 % by chance"


def test_noise_below_a_step_says_that_steps_decide_and_every_reading_is_within_half_of_one() -> None:
    for sd, limited in ((0.4, True), (2.0, False)):
        found = _noise(rests(*[0.0] * 4, sd=sd), BLANK, 1.0, 2000.0)
        assert bool(one(found, "rest_noise").caveats) == limited
        assert one(found, "rest_peak_to_peak").u == 0.5


@pytest.mark.parametrize(("spread", "status"), [(0.2, Status.AT_MOST), (0.4, Status.OK)])
def test_returns_that_differ_by_less_than_rounding_are_a_limit(spread: float, status: Status) -> None:
    """Rounding to steps scatters by 1 / root of 12 of one, 0.29."""
    points = spread * np.array([-1.0, 1.0, -1.0, 1.0, 1.0, -1.0]) * math.sqrt(5 / 6)
    found = _return_error(points, np.zeros(6), 1000.0, 1.0)
    assert found[0].status is status
    assert found[0].value is None or found[0].value == pytest.approx(spread / 1000.0)


def test_a_return_from_near_the_centre_tells_nothing_of_hysteresis() -> None:
    points, sides = np.array([1.0, 3.0, 2.0, 9.0, 11.0, 12.0]), np.array([-1.0, -1.0, -0.1, 1.0, 1.0, 1.0])
    assert [each.quantity for each in _return_error(points, sides, 1000.0, 0.6)] == ["return_error"]


def test_every_term_of_a_dead_zone_counts() -> None:
    values = np.array([0.02, 0.03, 0.04, 0.05, 0.06])
    spread = 1.2533 * 1.4826 * 0.01 / math.sqrt(5)
    assert _measured(values, 0.006).u == pytest.approx(math.hypot(spread, 0.05 * 0.04, 0.006 / math.sqrt(12)))


@pytest.mark.parametrize(
    ("jumps", "widths", "step", "status"),
    [
        ([0.05, 0.05, 0.051, 0.049], [], 0.001, Status.OK),
        ([0.05, 0.05, 0.051, 0.049], [], 0.01, Status.NOT_RESOLVED),  # within six steps
        ([0.001, 0.05, 0.05, 0.05, 0.001], [], 0.001, Status.NOT_RESOLVED),  # a quarter is smaller than the smallest
        ([0.02, 0.03, 0.06, 0.09, 0.1], [], 0.001, Status.NOT_RESOLVED),  # scatter by a third of the middle one
        ([], [0.05, 0.05, 0.051], 0.001, Status.OK),
        ([], [0.001, 0.0, 0.002], 0.001, Status.NOT_PRESENT),
        ([], [0.001, 0.0, 0.02], 0.001, Status.NOT_RESOLVED),  # one that is held speaks against none
    ],
)
def test_which_events_are_a_dead_zone(jumps: list[float], widths: list[float], step: float, status: Status) -> None:
    assert _verdict(floats(jumps), floats(widths), step).status is status


@pytest.mark.parametrize(("amplitude", "status"), [(0.6, Status.OK), (0.5, Status.AT_MOST)])
def test_a_ripple_larger_than_any_quick_source_s_is_an_interval(amplitude: float, status: Status) -> None:
    """Ripples of 0.3 a report: a source quicker than half the reports makes at most 1.25 / (pi 0.7) of it, 0.568."""
    found = refresh._from_ripple(Ripple(frequency=0.3, amplitude=amplitude), 0.001, 100)
    assert found.status is status
    assert (found.value or found.bound) == pytest.approx(0.001 / 0.3, rel=0.021)
    assert found.u is None or found.u < 0.01 * (found.value or 0.0)


@pytest.mark.parametrize(
    ("smoothing", "average", "hidden", "bound"),
    [
        (0.2, None, 2.0, 2.0),
        (1.0, None, 2.0, 3.0),
        (1.0, 5.0, 2.0, 5.0),
        (0.2, None, 40.0, None),
        (0.2, None, None, None),
    ],
)
def test_what_smoothing_may_hide_of_a_source_is_in_its_limit(
    smoothing: float, average: float | None, hidden: float | None, bound: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: dict[str, Any] = {
        "is_interpolated": False, "find_ripple": Ripple(), "smoothing_limit": smoothing, "longest_hidden": hidden,
        "longest_average": average,
    }  # fmt: skip
    for name, value in told.items():
        monkeypatch.setattr(refresh, name, lambda *_, value=value: value)
    holds: Any = SimpleNamespace(n_reports=100)
    found = refresh._without_holds([], 1.0, holds, 0.001, 1.0)
    assert found.bound == (None if bound is None else pytest.approx(bound * 0.001))


def test_a_peak_speed_has_its_scatter_and_what_a_span_dulls() -> None:
    peaks = [(9.0, 0.7), (10.0, 0.7), (11.0, 0.7), (12.0, 0.7)]
    found = _estimate(peaks, 0.006)
    shortfall = 2 / 3 * (0.006 * 10.5 / (1.875 * 0.7)) ** 2
    spread = np.std([9, 10, 11, 12], ddof=1) / 2
    assert found.u == pytest.approx(math.hypot(spread, 10.5 * shortfall / math.sqrt(3)), rel=1e-9)
    assert _estimate([(10.0, 0.7)] * 4, 0.006).u == pytest.approx(
        10 * (2 / 3 * (0.06 / 1.3125) ** 2) / math.sqrt(3), rel=1e-6
    )


def returned(y: FloatArray, grain: float, since_s: FloatArray | None = None) -> SpringReturn:
    t_s = np.linspace(-0.02, 0.1, y.size) if since_s is None else since_s
    return SpringReturn(axis="x", direction="rising", half_s=0.0, since_s=t_s, y=y, travel_fs=1.0, grain=grain)


def fit(omega: float, zeta: float = 0.3, tau_s: float = 0.0004, u_log_tau: float = 0.0) -> ReturnFit:
    covariance = np.diag([0.0, 0.0, u_log_tau**2, 0.0])
    return ReturnFit(omega_rad_s=omega, zeta=zeta, tau_s=tau_s, start_s=0.0, rms=0.001, covariance=covariance)


def test_every_term_of_a_ring_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Medians of five fits, 1.2533 times 1.4826 times their median deviation over the root of five; and the misfit."""
    each = [fit(250.0 + k, 0.30 + 0.002 * k) for k in (-2, -1, 0, 1, 2)]
    monkeypatch.setattr(release, "_misfit", lambda *_: 0.003)
    monkeypatch.setattr(release, "_attenuation", lambda *_: Estimate.not_resolved("ring_attenuation", unit="ratio"))
    y = np.concatenate([np.ones(40), np.full(200, -0.3)])
    found = _ring([returned(y, 0.01)] * 5, each[2], each, 0.001)
    deviation = 1.2533 * 1.4826 / math.sqrt(5)
    ring, natural = one(found, "ring_frequency"), one(found, "natural_frequency")
    own = deviation * np.median(np.abs(np.array([f.ring_hz for f in each]) - each[2].ring_hz))
    assert ring.u == pytest.approx(math.hypot(own, (0.01 + 0.003 / 0.3) * each[2].ring_hz))
    assert natural.u == pytest.approx(math.hypot(deviation * 1.0 / (2 * math.pi), ring.u or 0.0))
    damping = one(found, "damping_ratio")
    assert damping.u == pytest.approx(math.hypot(deviation * 0.002, (0.03 + 3.0 * 0.01) * 0.3))
    over = [overshoot_of(f.omega_rad_s, f.zeta, f.tau_s) for f in each]
    own = deviation * np.median(np.abs(np.array(over) - np.median(over)))
    assert one(found, "overshoot").u == pytest.approx(math.hypot(own, 0.01 / 4, 0.003))


def beyond(*sizes: float) -> list[SpringReturn]:
    """Returns that go that far past their rest."""
    return [returned(np.concatenate([np.ones(40), np.full(200, -size)]), 0.001) for size in sizes]


def test_a_swing_past_rest_that_scatters_too_much_to_be_seen_is_a_bound() -> None:
    """Median 0.03, median deviation 0.02 over five: three standard uncertainties are 0.05."""
    each = [fit(250.0)] * 5
    u = 1.2533 * 1.4826 * 0.02 / math.sqrt(5)
    found = _ring(beyond(0.01, 0.05, 0.02, 0.06, 0.03), each[0], each, 0.001)
    assert one(found, "ring_frequency").status is Status.NOT_RESOLVED
    assert one(found, "overshoot").bound == pytest.approx(0.03 + 2 * u + 0.001)


def test_a_damping_that_scatters_by_half_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(release, "_misfit", lambda *_: 0.0)
    each = [fit(250.0, zeta) for zeta in (0.05, 0.3, 0.6, 0.1, 0.55)]
    found = _ring(beyond(*[0.3] * 5), fit(250.0), each, 0.001)
    assert one(found, "damping_ratio").status is Status.NOT_RESOLVED
    assert one(found, "overshoot").value == pytest.approx(0.3)


@pytest.mark.parametrize("strays", [0.0, 0.03])
def test_only_what_all_releases_stray_by_is_a_misfit(strays: float) -> None:
    """Noise of 0.02 a reading leaves 0.005 in each of the twenty means by chance alone."""
    model, since = fit(250.0), np.linspace(-0.02, 0.1, 120)
    path = return_path(since, model.omega_rad_s, model.zeta, model.tau_s)
    rng, found = np.random.default_rng(3), []
    for _ in range(20):
        noise = 0.02 * rng.standard_normal((5, since.size))
        stray = strays * math.sqrt(2) * np.sin(2 * math.pi * model.ring_hz * since)
        found.append(_misfit([returned(floats(path + stray + own), 0.001, since) for own in noise], model))
    assert np.mean(found) == pytest.approx(strays, abs=0.003)


def test_an_attenuation_that_is_hardly_known_is_a_bound() -> None:
    unsure = fit(250.0, tau_s=0.002, u_log_tau=1.5)
    found = _attenuation([unsure] * 4, unsure, 0.0)
    u = math.hypot(1.5 * unsure.passed * (1 - unsure.passed**2), 1.2533e-4 * unsure.passed / 2)
    assert found.status is Status.AT_LEAST
    assert found.bound == pytest.approx(unsure.passed - 2 * u)


def test_every_term_of_a_ring_s_attenuation_counts() -> None:
    each = [fit(250.0, tau_s=0.002)] * 4
    passed = each[0].passed
    least = 1.2533 * 1e-4 * passed / 2
    assert _attenuation(each, each[0], 0.0).u == pytest.approx(least)
    assert _attenuation(each, each[0], 0.02).u == pytest.approx(math.hypot(least, 0.02 * passed))
    unsure = fit(250.0, tau_s=0.002, u_log_tau=0.2)
    h = 1e-5
    slope = (fit(250.0, tau_s=0.002 * math.exp(h)).passed - fit(250.0, tau_s=0.002 * math.exp(-h)).passed) / (2 * h)
    assert _attenuation(each, unsure, 0.0).u == pytest.approx(math.hypot(least, 0.2 * slope), rel=1e-5)


def test_a_settling_time_is_known_to_the_reports() -> None:
    t_s = np.arange(0.0, 0.1, 0.004)
    found = _settling([returned(np.where(t_s < 0.05, 1.0, 0.0), 0.001, t_s)] * 9, 0.004)
    assert found.u == pytest.approx(math.hypot(0.004 / math.sqrt(12), 1.2533e-4 * (found.value or 0.0) / 3), rel=1e-6)


def test_a_coarse_code_settles_within_two_of_its_steps() -> None:
    """Of exp(-t / 20 ms): to 2 % of full throw, or to two steps of 2 %."""
    t_s = np.arange(0.0, 0.15, 0.0005)
    for grain, band in ((0.001, 0.02), (0.02, 0.04)):
        found = _settling([returned(floats(np.exp(-t_s / 0.02)), grain, floats(t_s))] * 5, 0.0005)
        assert found.value == pytest.approx(0.02 * math.log(1 / band), abs=0.0005)


def test_swings_count_down_to_four_steps() -> None:
    way = np.concatenate([np.full(20, size) for size in (1.0, -0.3, 0.1, -0.03, 0.01)])
    assert _extremes(returned(way, 0.01, np.linspace(0.001, 0.1, way.size))) == pytest.approx([0.3, 0.1])


def test_friction_that_is_not_seen_may_be_two_standard_uncertainties(monkeypatch: pytest.MonkeyPatch) -> None:
    swings = [np.array([e, 0.8 * e]) for e in np.linspace(0.3, 0.9, 10)]
    monkeypatch.setattr(release, "_extremes", lambda one: swings[int(one.travel_fs)])
    found = _friction([replace(returned(np.ones(3), 0.01), travel_fs=float(k)) for k in range(10)])
    design = np.stack([np.linspace(0.3, 0.9, 10), np.ones(10)], axis=1)
    line = 0.01 / 2 * math.sqrt(np.linalg.inv(design.T @ design)[1, 1]) / 1.8
    assert found.status is Status.AT_MOST
    assert found.bound == pytest.approx(2 * math.hypot(line, 0.01 / 4))


def test_dry_friction_is_known_to_the_grain_and_to_the_line_s_residuals(monkeypatch: pytest.MonkeyPatch) -> None:
    """Swings e, then 0.8 e - 1.8 f with f = 0.05: no residuals, so half a grain's variance and a quarter of a grain."""
    swings = [np.array([e, 0.8 * e - 0.09]) for e in np.linspace(0.3, 0.9, 10)]
    grain = 0.01
    monkeypatch.setattr(release, "_extremes", lambda one: swings[int(one.travel_fs)])
    found = _friction([replace(returned(np.ones(3), grain), travel_fs=float(k)) for k in range(10)])
    design = np.stack([np.linspace(0.3, 0.9, 10), np.ones(10)], axis=1)
    line = grain / 2 * math.sqrt(np.linalg.inv(design.T @ design)[1, 1]) / 1.8
    assert found.value == pytest.approx(0.05)
    assert found.u == pytest.approx(math.hypot(line, grain / 4))


def test_a_share_of_lost_reports_is_a_binomial_s() -> None:
    """2,000 slots in steady motion, one in twenty empty."""
    index = np.flatnonzero(np.random.default_rng(2).random(2000) > 0.05)
    stamps, codes = floats(0.001 * index), 40 * index
    stream = Stream(name="x", time=TimeBase.from_instants(stamps), codes=codes.astype(np.int64))
    rows = _Rows(t_lo_s=stamps, t_hi_s=stamps, place={"x": np.arange(index.size)}, every=True, regular_s=None)
    grid = GridFit(interval_s=0.001, u_s=1e-9, coherence=1.0, index=index, t_s=stamps, late_s=np.zeros(index.size))
    found = _lost([stream], rows, grid)
    assert found.value == pytest.approx(1 - index.size / 2000, abs=0.002)
    share = found.value or 0.0
    assert found.u == pytest.approx(math.sqrt(share * (1 - share) / found.n))
    whole = np.arange(2000)
    all_s = floats(0.001 * whole)
    every = replace(grid, index=whole, t_s=all_s, late_s=np.zeros(2000))
    rows = replace(rows, t_lo_s=all_s, t_hi_s=all_s, place={"x": whole})
    stream = replace(stream, time=TimeBase.from_instants(all_s), codes=40 * whole)
    none = _lost([stream], rows, every)
    assert none.bound == pytest.approx(1 - 0.025 ** (1 / none.n), rel=0.01), "none of n is seen with 2.5 %"


def test_a_rim_s_skew_scatters_as_much_as_it_says() -> None:
    angle = np.radians(np.arange(-177.5, 180, 5))
    rng, rows = np.random.default_rng(6), []
    for _ in range(150):
        bumps = np.convolve(np.tile(rng.normal(0, 0.01, 72), 2), np.ones(6) / math.sqrt(6), "same")[36:108]
        found = rim_skew(np.array([np.cos(angle), np.sin(angle)]) * (1 + bumps))[0]
        rows.append((found.value, found.u))
    values, us = np.array(rows, dtype=float).T
    assert np.std(values) == pytest.approx(us.mean(), rel=0.35)


def told(value_s: float, u_s: float) -> Any:
    return SimpleNamespace(delay=Estimate.measured("delay", value_s, u=u_s, unit="s", n=8, dof=6))


def test_a_lag_over_axes_has_their_own_doubt_and_what_they_differ_by() -> None:
    both = coupled._over_axes({"x": told(1e-3, 3e-5), "y": told(1.1e-3, 4e-5)}, [])
    assert both.u == pytest.approx(math.hypot(2.5e-5, 1e-4 / math.sqrt(12)))


def test_every_term_of_a_coupled_lag_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    fit: Any = SimpleNamespace(
        shift_s=1e-3,
        tau_a_s=2e-3,
        tau_b_s=6e-3,
        gain=1.0,
        play_fs=0.01,
        covariance=np.diag([9.0, 16.0, 0.0, 0.0, 0.0]) * 1e-10,
    )
    found = coupled._of(fit, np.array([1.0, -1.0, 1.0, 0.0, 0.0]), "delay", 10, {"floor": 1.2e-5})
    assert (found.value, found.u) == pytest.approx((5e-3, math.hypot(5e-5, 1.2e-5)))
    monkeypatch.setattr(coupled, "_rounded_s", lambda *_: 3e-5)
    nothing: Any = None
    floors = coupled._floors(fit, nothing, nothing)
    assert math.hypot(*floors.values()) == pytest.approx(math.hypot(FLOOR_S, FLOOR_SMOOTHED_S / 2, ROUNDED * 3e-5))
    of_smoothing = coupled._of_smoothing(floors, 1e-3)
    rounded_s, left_s = ROUNDED_SMOOTHING * 3e-5, LEFT_OF_PLAY_SMOOTHING * 1e-3
    expected = math.hypot(2 * FLOOR_S, FLOOR_SMOOTHED_S, rounded_s, left_s)
    assert math.hypot(*of_smoothing.values()) == pytest.approx(expected)
    strokes: Any = [SimpleNamespace(speed_fs_per_s=v) for v in (3.0, 4.0, 5.0)]
    assert coupled._play_s(fit, strokes) == pytest.approx(0.01 / 4)


def test_what_play_leaves_counts_in_each_way(monkeypatch: pytest.MonkeyPatch) -> None:
    fit: Any = SimpleNamespace(
        shift_s=1e-3, tau_a_s=0.0, tau_b_s=0.0, gain=1.0, play_fs=0.02, covariance=np.zeros((5, 5))
    )
    strokes: Any = [SimpleNamespace(speed_fs_per_s=4.0, sign=1)] * 6
    monkeypatch.setattr(coupled, "fit_relative", lambda *_: fit)
    monkeypatch.setattr(coupled, "_rounded_s", lambda *_: 3e-5)
    nothing: Any = None
    found = coupled._one_way(nothing, strokes, (0.0, 0.0), nothing, fit)
    assert found.u == pytest.approx(math.hypot(FLOOR_S, ROUNDED * 3e-5, LEFT_OF_PLAY * 0.005))


def test_every_term_of_a_button_s_delay_counts() -> None:
    onset = np.array([1.0, 2.0, 3.0, 4.0]) * 1e-3
    found = marker._pooled("delay", onset, 0.0, {"fit": 4e-4}, 0.001)
    assert found.u == pytest.approx(math.hypot(np.std(onset, ddof=1) / 2, 4e-4, MARKER_FLOOR_S))
    alike = marker._pooled("delay", np.full(4, 1e-3), 0.0, {}, 0.004)
    assert alike.u == pytest.approx(math.hypot(0.004 / math.sqrt(12) / 2, MARKER_FLOOR_S))
    assert stats.t.ppf(0.975, alike.dof) > 3, "three degrees of freedom"
