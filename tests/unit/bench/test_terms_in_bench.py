"""Every term of an uncertainty at the bench is missed where it is gone: closed forms, or a fixed generator.

`tests/mutation` lists what these tests are to notice.
"""

from __future__ import annotations

import importlib
import math
from dataclasses import replace
from functools import partial
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from edge_windows import edge_window
from scipy import signal, stats

from feelcheck.bench.area import area_delay, read_edge
from feelcheck.bench.bounds import _Profile, largest_pole_s
from feelcheck.bench.choice import Choice, choose_model
from feelcheck.bench.delays import area_estimate, dead_time, mean_delay, smoothing_delay, with_hold
from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.noise import output_noise, output_swing
from feelcheck.bench.nuisance import _posterior, bent_spread, nuisance_spread
from feelcheck.bench.numbers import CURVED, EFFECT
from feelcheck.bench.pooling import (
    NOISE_OVER_EDGES,
    OTHER_MODELS,
    degrees_of_freedom,
    model_spread,
    over_clips,
    pool,
    start_terms,
)
from feelcheck.bench.report import _settled_fraction, _transition_as_read, level_extra
from feelcheck.bench.response_models import ModelSpec, separable_model
from feelcheck.bench.response_times import (
    _between_samples,
    _bounded,
    _u_between_samples,
    _u_slowest,
    pole_estimates,
    second_order_extra,
    time_constant,
)
from feelcheck.bench.transfer import edge_sensitivity
from feelcheck.bench.windows import EdgeWindow, _u_drive_delay
from feelcheck.model import Estimate, FloatArray, Status
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus
from feelcheck.numerics.separable import jacobian

T = np.linspace(-10e-3, 60e-3, 700)
RAMP = Stimulus(t_s=T, u=np.clip(T / 2.5e-3, 0.0, 1.0))
TAU_S, NOISE = 4e-3, 3e-3
TIMES, DELAYS = (importlib.import_module(f"feelcheck.bench.{name}") for name in ("response_times", "delays"))
POLE = np.asarray(DrivenInstants(RAMP, T).pole(TAU_S, 0.0).once[0])
LATE = np.asarray(DrivenInstants(RAMP, T).pole(TAU_S, 3e-3).once[0])
TWO = POLE + (POLE - np.asarray(DrivenInstants(RAMP, T).pole(1.2e-3, 0.0).once[0])) * (1.2e-3 / (TAU_S - 1.2e-3))


def window(noise: FloatArray, way: FloatArray = POLE) -> EdgeWindow:
    return edge_window(T, way + noise, RAMP, NOISE, duration_s=9e-3)


def white(seed: int) -> FloatArray:
    return NOISE * np.random.default_rng(seed).standard_normal(T.size)


def direction(*fits: ModelFit) -> DirectionFits:
    choice = Choice(best=fits, rivals=())
    return DirectionFits(choice=choice, fits=fits, readings=tuple(read_edge(fit) for fit in fits), n_edges=len(fits))


def of_shape(shape: str, way: FloatArray, noise: float = 1.0, first: int = 0) -> DirectionFits:
    spec = ModelSpec(shape=shape, dead=True)
    return direction(*(fit_spec(spec, window(noise * white(first + k), way)) for k in range(3)))


ONE_POLE, TWO_POLES = of_shape("one_pole", POLE), of_shape("two_pole", TWO)
FIT = ONE_POLE.fits[0]


def _constant(value: Any, *_: object, **__: object) -> Any:
    return value


def u_with(monkeypatch: pytest.MonkeyPatch, module: Any, quantity: Any, found: DirectionFits, **terms: float) -> float:
    """The u of a quantity where the named terms are what they are said to be, and the others nothing."""
    for name in ("model_spread", "start_terms", "nuisance_spread", "bent_spread", "_u_between_samples"):
        if hasattr(module, name):
            u = terms.get(name, 0.0)
            monkeypatch.setattr(module, name, partial(_constant, {"start": u} if name == "start_terms" else u))
    estimate = quantity(found)
    assert estimate.is_ok
    return float(estimate.u)


@pytest.mark.parametrize(
    "name", ["model_spread", "start_terms", "nuisance_spread", "bent_spread", "_u_between_samples"]
)
def test_every_term_of_a_time_constant_counts(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    relative = name in ("nuisance_spread", "bent_spread")
    size = 0.01 if relative else 3e-5
    bare = u_with(monkeypatch, TIMES, time_constant, ONE_POLE)
    with_term = u_with(monkeypatch, TIMES, time_constant, ONE_POLE, **{name: size})
    term = size * (time_constant(ONE_POLE).value or 0.0) if relative else size
    assert math.sqrt(with_term**2 - bare**2) == pytest.approx(term, rel=1e-6)


@pytest.mark.parametrize("name", ["model_spread", "start_terms", "nuisance_spread", "bent_spread"])
def test_every_term_of_a_smoothing_delay_counts(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    bare = u_with(monkeypatch, DELAYS, smoothing_delay_of(TWO_POLES), TWO_POLES)
    with_term = u_with(monkeypatch, DELAYS, smoothing_delay_of(TWO_POLES), TWO_POLES, **{name: 3e-5})
    assert math.sqrt(with_term**2 - bare**2) == pytest.approx(3e-5, rel=1e-6)


def smoothing_delay_of(found: DirectionFits) -> Any:
    slow = time_constant(found)
    return lambda found: smoothing_delay(found, slow)


@pytest.mark.parametrize("name", ["model_spread", "nuisance_spread", "bent_spread"])
def test_effects_beside_the_model_count_in_a_mean_delay(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    given = smoothing_delay(ONE_POLE, time_constant(ONE_POLE)), dead_time_of_one_ms()

    def quantity(found: DirectionFits) -> Estimate:
        return mean_delay(found, *given, None)

    bare = u_with(monkeypatch, DELAYS, quantity, ONE_POLE)
    with_term = u_with(monkeypatch, DELAYS, quantity, ONE_POLE, **{name: 3e-5})
    assert math.sqrt(with_term**2 - bare**2) == pytest.approx(3e-5, rel=1e-6)


def test_a_dead_time_that_other_models_hold_counts_where_none_was_found(monkeypatch: pytest.MonkeyPatch) -> None:
    smoothing = smoothing_delay(ONE_POLE, time_constant(ONE_POLE))
    monkeypatch.setattr(DELAYS, "model_spread", lambda _, of: 5e-4 if of is DELAYS._whole else 0.0)
    found = mean_delay(ONE_POLE, smoothing, Estimate.at_most("dead_time", 1e-4, unit="s"), None)
    others = [term.u for term in smoothing.terms if term.words != OTHER_MODELS]
    assert found.u == pytest.approx(math.hypot(*others, 5e-4), rel=1e-9)


def dead_time_of_one_ms() -> Estimate:
    return Estimate.measured("dead_time", 1e-3, u=1e-5, unit="s")


def ring(frequency_hz: float, damping: float) -> FloatArray:
    """The ramp through a second-order system, simulated on a finer grid by scipy."""
    omega, fine = 2 * math.pi * frequency_hz, np.linspace(T[0], T[-1], 10 * T.size)
    system = [omega**2], [1.0, 2 * damping * omega, omega**2]
    found = signal.lsim(system, np.clip(fine / 2.5e-3, 0.0, 1.0), fine - fine[0])[1]
    return np.asarray(np.interp(T, fine, found))


def all_told(found: DirectionFits) -> dict[str, Estimate]:
    slow = time_constant(found)
    smoothing, dead = smoothing_delay(found, slow), dead_time(found)
    told = [slow, smoothing, dead, mean_delay(found, smoothing, dead, None)]
    return {
        **{one.quantity: one for one in told if one.is_ok},
        **{f"pole_{k}": one for k, one in enumerate(pole_estimates(found, slow))},
        **second_order_extra(found),
    }


SHAPES = {
    "one_pole": (LATE, {"time_constant": TAU_S, "smoothing_delay": TAU_S, "dead_time": 3e-3, "mean_delay": 7e-3}),
    "two_pole": (TWO, {"time_constant": TAU_S, "smoothing_delay": 5.2e-3, "pole_0": TAU_S, "pole_1": 1.2e-3}),
    "second_order": (
        ring(150.0, 0.3),
        {"natural_frequency": 150.0, "damping_ratio": 0.3, "envelope_decay": 1 / (2 * math.pi * 45.0)},
    ),
}


def noise_term(estimate: Estimate) -> float:
    return next(term.u for term in estimate.terms if term.words == NOISE_OVER_EDGES)


@pytest.mark.parametrize("shape", SHAPES)
def test_values_scatter_about_the_truth_as_the_term_of_their_noise_says(shape: str) -> None:
    way, truths = SHAPES[shape]
    edges = of_shape(shape, way), of_shape(shape, way, noise=2.0, first=3)
    told = [all_told(direction(fit)) for found in edges for fit in found.fits]
    pooled = [all_told(found) for found in edges]
    for quantity, truth in truths.items():
        away = [((one[quantity].value or 0.0) - truth) / noise_term(one[quantity]) for one in told]
        assert 0.4 < math.sqrt(np.mean(np.square(away))) < 1.9, quantity
        for one in pooled:
            assert abs((one[quantity].value or 0.0) - truth) < 2.5 * (one[quantity].u or 0.0), quantity


def test_dead_time_and_smoothing_are_better_known_together_than_apart() -> None:
    """What a fit takes from one it gives to the other: their sum knows more than either."""
    told = all_told(of_shape("one_pole", LATE))
    whole, *parts = (noise_term(told[name]) for name in ("mean_delay", "dead_time", "smoothing_delay"))
    assert whole < 0.7 * math.hypot(*parts)


def test_what_noise_hides_of_a_smoothing_is_in_its_bound() -> None:
    quick = direction(
        *(fit_spec(ModelSpec(shape="average"), window(3 * white(k), np.asarray(RAMP.u))) for k in range(3))
    )
    smoothing = smoothing_delay(quick, time_constant(quick))
    own = pool([0.0] * 3, [fit.u_smoothing_s for fit in quick.fits])[1]
    assert smoothing.bound is not None
    assert smoothing.bound > 1.9 * own


def seen_for(span_s: float, **more: Any) -> DirectionFits:
    """The same edges as if they had been seen for so long."""
    shown = np.linspace(0.0, span_s, T.size)
    return direction(*(replace(fit, window=replace(fit.window, t_s=shown, **more)) for fit in ONE_POLE.fits))


@pytest.mark.parametrize(("u_s", "floor_s"), [(0.02, 0.05 * math.exp(-1.96 * 0.4)), (0.2, 0.005)])
def test_a_pole_longer_than_what_was_seen_has_its_lower_end_or_half_of_that_as_limit(
    u_s: float, floor_s: float
) -> None:
    found = _bounded(seen_for(0.01), 0.05, u_s)
    assert found.status is Status.AT_LEAST
    assert found.bound == pytest.approx(floor_s, rel=1e-3)


def test_a_pole_that_is_only_limited_may_be_longer_by_what_a_drive_does_between_samples(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    quick = direction(*(replace(fit, window=replace(fit.window, drive_duration_s=1e-5)) for fit in ONE_POLE.fits))
    tau_s = 2e-5
    monkeypatch.setattr(TIMES, "largest_pole_s", lambda _: tau_s)
    unseen_s = (_bounded(quick, tau_s, tau_s).bound or 0.0) - tau_s
    assert unseen_s >= 0.999 * 1.96 * _u_between_samples(quick, tau_s) > 0.0


def test_an_area_that_noise_hides_is_a_bound_that_the_shape_s_own_bound_does_not_undercut() -> None:
    """10 us with u 20 us by area; at most 30 or 90 us by the fit."""
    area = Estimate.measured("area_delay", 1e-5, u=2e-5, unit="s")
    for by_fit_s, most_s in ((3e-5, 1e-5 + 1.96 * 2e-5), (9e-5, 9e-5)):
        smoothing = Estimate.at_most("smoothing_delay", by_fit_s, unit="s")
        assert mean_delay(ONE_POLE, smoothing, dead_time_of_one_ms(), area).bound == pytest.approx(most_s, rel=1e-3)
    seen = replace(area, u=4e-6)
    smoothing = Estimate.at_most("smoothing_delay", 3e-5, unit="s")
    assert mean_delay(ONE_POLE, smoothing, dead_time_of_one_ms(), seen).value == seen.value


def test_a_ramp_that_does_not_end_is_delayed_by_at_least_half_of_what_was_seen() -> None:
    """80 ms from end to end, 60 ms of them seen: a straight way is late by half of its length."""
    fits = [fit_spec(ModelSpec(shape="ramp_open"), window(white(k), np.clip(T / 80e-3, 0.0, 1.0))) for k in range(2)]
    floor = smoothing_delay(direction(*fits), Estimate.not_resolved("time_constant", unit="s")).bound
    assert floor is not None
    assert 20e-3 < floor < 40e-3 - 1.25e-3


@pytest.mark.parametrize("noise", [0.1, 12.0])
def test_a_dead_time_of_none_may_be_as_long_as_noise_and_samples_hide(noise: float) -> None:
    looked_at = of_shape("one_pole", POLE, noise).fits
    plain = tuple(fit_spec(ModelSpec(), fit.window) for fit in looked_at)
    left_out = replace(direction(*plain), choice=Choice(best=plain, rivals=((0.0, looked_at),)))
    u_fit, u_grid = max(fit.u_dead_s for fit in looked_at), FIT.window.interval_s / math.sqrt(12)
    bound, bound_over_edges = dead_time(left_out).bound, dead_time(direction(*looked_at)).bound
    assert bound is not None
    assert bound_over_edges is not None
    assert 1.5 * max(u_fit, u_grid) < bound < 2.5 * max(u_fit, u_grid)
    assert bound_over_edges >= max(1.5 * u_fit / math.sqrt(3), u_grid)


def test_a_drive_between_two_samples_leaves_its_instant_open() -> None:
    """Dead time 3 ms under a drive of no width: its u holds two resolutions of a sample, beside the fit's own."""
    fits = of_shape("one_pole", LATE).fits
    quick = direction(*(replace(fit, window=replace(fit.window, drive_duration_s=1e-5)) for fit in fits))
    u_slow, u_quick = (dead_time(found).u or 0.0 for found in (direction(*fits), quick))
    assert math.sqrt(u_quick**2 - u_slow**2) == pytest.approx(2 * FIT.window.interval_s / math.sqrt(12), rel=1e-6)


def test_half_of_a_hold_has_half_of_its_doubt() -> None:
    held = Estimate.measured("update_interval", 0.6e-3, u=0.06e-3, unit="s")
    delay = Estimate.measured("mean_delay", 2e-3, u=0.04e-3, unit="s")
    assert with_hold(delay, held).u == pytest.approx(0.05e-3)
    late = with_hold(delay, held, conversion_s=0.1e-3)
    assert late.value == pytest.approx(2.4e-3)
    assert late.u == pytest.approx(math.sqrt(0.04**2 + 0.03**2 + 0.025**2) * 1e-3)
    longer = with_hold(Estimate.at_least("mean_delay", 2e-3, unit="s"), held)
    assert longer.bound == pytest.approx(2.3e-3)
    bounded = with_hold(Estimate.at_most("mean_delay", 0.4e-3, unit="s"), held)
    assert bounded.value == pytest.approx(0.5e-3)
    assert bounded.u == pytest.approx(1e-3 * math.hypot(0.2 / 1.959964, 0.03), rel=1e-6)


def test_edges_pool_with_their_scatter_over_n_minus_one() -> None:
    assert pool([1.0, 2.0, 6.0], [0.1, 0.1, 0.1])[1] == pytest.approx(np.std([1, 2, 6], ddof=1) / math.sqrt(3))
    assert pool([1.0, 1.0, 1.0], [0.3, 0.3, 0.3])[1] == pytest.approx(0.3 / math.sqrt(3))


def rival(gain: float, value: float, **spec: Any) -> Any:
    fit = SimpleNamespace(spec=ModelSpec(**spec), quantity=value)
    return gain, (fit,)


def test_rivals_widen_by_their_weight() -> None:
    best = (SimpleNamespace(spec=ModelSpec(), quantity=4.0),)
    rivals = (rival(0.0, 5.0, dead=True), rival(2 * math.log(2), 7.0, drift=True), rival(13.0, 90.0, hum_hz=50.0))
    found: Any = SimpleNamespace(choice=SimpleNamespace(best=best, rivals=rivals), fits=best)
    expected = math.sqrt((1.0 * 1.0 + 0.5 * 9.0) / (1.0 + 1.0 + 0.5))
    assert model_spread(found, lambda fit: float(fit.quantity)) == pytest.approx(expected)  # type: ignore[attr-defined]


def test_where_a_sensor_may_saturate_both_values_and_their_distance_count(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two candidates that fit alike, 4 with u 0.3 and 5 with u 0.4: a mixture of halves."""
    monkeypatch.setattr(importlib.import_module("feelcheck.bench.pooling"), "evidence", lambda *_, **__: 0.0)
    best = (SimpleNamespace(spec=ModelSpec()),)
    found: Any = SimpleNamespace(choice=SimpleNamespace(best=best, rivals=(rival(0.0, 5.0, clip_high=True),)))
    values = {best[0].spec: (4.0, 0.3), ModelSpec(clip_high=True): (5.0, 0.4)}
    value, u = over_clips(found, 4.0, 0.3, lambda fits: values[fits[0].spec])
    assert (value, u) == pytest.approx((4.5, math.sqrt((0.09 + 0.16) / 2 + 0.25)))


def test_the_drive_s_noise_falls_with_the_edges_and_an_unsettled_start_does_not() -> None:
    def told(drive_s: float, start: float) -> float:
        more: dict[str, Any] = {"u_drive_delay_s": drive_s, "u_start_fraction": start}
        found = direction(*(replace(fit, window=replace(fit.window, **more)) for fit in ONE_POLE.fits))
        return math.hypot(*start_terms(found).values())

    smoothing_s = float(np.median([fit.smoothing_s for fit in ONE_POLE.fits]))
    assert told(6e-5, 0.0) == pytest.approx(6e-5 / math.sqrt(3))
    assert told(0.0, 0.01) == pytest.approx(0.01 * smoothing_s)
    assert told(6e-5, 0.01) == pytest.approx(math.hypot(6e-5 / math.sqrt(3), 0.01 * smoothing_s))


def test_the_drive_s_own_noise_moves_its_middle() -> None:
    """The middle of a straight drive by its area: noise of one sample, summed over its samples, over its swing."""
    edge: Any = SimpleNamespace(duration_s=0.8 * 200 * 1e-5)
    areas = 1e-5 * 0.02 * np.random.default_rng(1).standard_normal((4000, 200)).sum(axis=1)
    assert _u_drive_delay(edge, 0.02, 1e-5) == pytest.approx(np.std(areas), rel=0.05)


def test_correlated_samples_count_for_fewer() -> None:
    """Noise that remembers itself, 40 edges: time constant, dead time and level after scatter by what each says."""
    rng, rows = np.random.default_rng(5), []
    for _ in range(40):
        noise = signal.lfilter([1.0], [1.0, -0.6], NOISE * 0.8 * rng.standard_normal(T.size + 50))[50:]
        fit = fit_spec(ModelSpec(dead=True), window(noise), FIT)
        n_for_one = fit.fit.dof / degrees_of_freedom(direction(fit))
        found = (np.log(fit.main_pole_s), fit.dead_s, fit.levels[1], fit.smoothing_s, n_for_one)
        rows.append((*found, fit.u_log[0], fit.u_dead_s, fit.u_last, fit.u_smoothing_s))
    table = np.array(rows)
    ratio = table[:, :4].std(axis=0, ddof=1) / table[:, 5:].mean(axis=0)
    assert np.all((ratio > 0.75) & (ratio < 1.42)), "one that is a third too small gives 1.6"
    assert table[:, 4].mean() == pytest.approx(4.0, rel=0.25), "(1 + 0.6) / (1 - 0.6)"


def test_an_area_scatters_as_much_as_it_says() -> None:
    draws = [area_delay(replace(FIT, window=window(white(k)))) for k in range(300)]
    values, us = np.array(draws).T
    assert np.mean(values) == pytest.approx(TAU_S, rel=0.01)
    assert np.std(values) == pytest.approx(np.mean(us), rel=0.2)


def test_a_transition_as_read_scatters_no_more_than_it_says() -> None:
    """Its u holds noise over slope and the grid of the samples: from half to the whole of it is seen."""
    readings = [read_edge(replace(FIT, window=window(white(k)))) for k in range(80)]
    scatter = np.std([reading.transition.duration for reading in readings if reading.transition])
    assert 0.4 < scatter / np.mean([reading.u_duration_s for reading in readings]) < 1.1
    level = np.std([fit_way(white(k)) for k in range(80)])
    assert readings[0].u_settled == pytest.approx(FIT.u_last, rel=0.1)
    assert level < 0.05


def fit_way(noise: FloatArray) -> float:
    return read_edge(replace(FIT, window=window(noise))).settled_fraction


def test_the_limit_of_a_pole_lies_where_the_fit_is_worse_by_chi_square_s_95_per_cent() -> None:
    fit = fit_spec(ModelSpec(shape="none", dead=True), window(20 * white(3), np.asarray(RAMP.u)))
    profile, bound_s = _Profile(fit), largest_pole_s([fit])
    excess = profile.cost(bound_s) - min(profile.cost(tau_s) for tau_s in np.geomspace(2e-6, bound_s, 30))
    assert excess == pytest.approx(stats.chi2.ppf(0.95, 1), abs=0.5)


def test_levels_and_swing_know_their_samples() -> None:
    after = level_extra(ONE_POLE, time_constant(ONE_POLE))["level_after"]
    own = float(np.median([fit.u_last for fit in ONE_POLE.fits]))
    assert after.u == pytest.approx(own / math.sqrt(3))
    answer: Any = SimpleNamespace(values=np.array([0.0, 1.0]), noise=NOISE)
    swing = output_swing(ONE_POLE.fits, "V", answer)
    swings = [abs(fit.states[1] - fit.states[0]) for fit in ONE_POLE.fits]
    spread = float(np.std(swings, ddof=1)) / math.sqrt(3)
    inner = math.sqrt(2 * np.mean([fit.u_last**2 for fit in ONE_POLE.fits]) / 3)
    assert swing.u == pytest.approx(max(inner, spread))
    lone = output_swing(ONE_POLE.fits[:1], "V", answer)
    assert lone.u == pytest.approx(math.sqrt(2) * FIT.u_last)
    apart = output_swing([moved(fit, 0.1 * k) for k, fit in enumerate(ONE_POLE.fits)], "V", answer)
    assert apart.u == pytest.approx(0.1 / math.sqrt(3), rel=0.1)


@pytest.mark.parametrize(("u_log", "status"), [(0.3, Status.OK), (0.8, Status.AT_MOST)])
def test_a_second_pole_known_to_no_factor_is_a_limit(u_log: float, status: Status) -> None:
    fit = SimpleNamespace(
        has_tail=False, poles_s=(4e-3, 1e-3), u_log=np.array([u_log, 0.01]),
        fit=SimpleNamespace(theta=np.log([1e-3, 4e-3])),
    )  # fmt: skip
    found: Any = SimpleNamespace(shape="two_pole", fits=[fit])
    slow, fast = pole_estimates(found, Estimate.measured("time_constant", 4e-3, u=1e-5, unit="s"))
    assert (slow.value, fast.status) == (4e-3, status)
    expected = 1e-3 * u_log if status is Status.OK else 1e-3 * math.exp(1.96 * u_log)
    assert (fast.u if status is Status.OK else fast.bound) == pytest.approx(expected)


def test_correlated_noise_counts_in_a_ring_s_decay() -> None:
    """Decay is 1 / (omega zeta): relative variances of 0.01 and 0.02 squared, of samples of which four tell one."""
    fit: Any = SimpleNamespace(
        spec=ModelSpec(shape="second_order"), fit=SimpleNamespace(covariance=np.diag([1e-4, 4e-4])), correlation=4.0
    )
    assert _u_slowest(fit) == pytest.approx(2 * math.hypot(0.01, 0.02))


def test_a_change_within_a_sample_of_an_unseen_drive_is_none_of_a_pole() -> None:
    quick = direction(*(replace(fit, window=replace(fit.window, drive_duration_s=1e-5)) for fit in ONE_POLE.fits))
    interval_s = FIT.window.interval_s
    assert _between_samples(quick, 0.4 * interval_s)
    assert not _between_samples(quick, 0.6 * interval_s)
    assert not _between_samples(ONE_POLE, 0.4 * interval_s)


def test_a_weak_sink_s_own_time_scatters_as_its_term_says() -> None:
    """A straight way of 20 ms."""
    fits = [fit_spec(ModelSpec(shape="ramp"), window(white(k), np.clip(T / 20e-3, 0.0, 1.0))) for k in range(8)]
    slow = Estimate.not_resolved("time_constant", unit="s")
    told = [level_extra(direction(fit), slow)["ramp_duration"] for fit in fits]
    away = [((one.value or 0.0) - 20e-3) / (one.u or 1.0) for one in told]
    assert [one.value for one in told] == pytest.approx([20e-3] * 8, rel=0.01)
    assert 0.3 < float(np.std(away)) < 2.0


def read(settled: float, u_settled: float, complete: int = 3) -> Any:
    """Three edges of a pole that got so far, that many of them with a transition that could be read."""
    transition = SimpleNamespace(duration=5e-3)
    readings = [
        SimpleNamespace(u_settled=u_settled, u_duration_s=1e-5, longest_s=8e-3, transition=transition if k < complete
                        else None)
        for k in range(3)
    ]  # fmt: skip
    return SimpleNamespace(
        shape="one_pole", fits_well=True, settled_fraction=settled, readings=readings, fits=[None] * 3
    )


@pytest.mark.parametrize(
    ("settled", "u", "value", "bound"),
    [
        (0.9, 0.02, 0.9, None),
        (0.92, 0.05, None, 0.92 - 1.96 * 0.05),
        (0.999, 0.01, 0.9897, None),
        (0.5, 0.3, None, None),
    ],
)
def test_how_far_an_edge_got_is_a_value_where_its_end_is_known(
    settled: float, u: float, value: float | None, bound: float | None
) -> None:
    found = _settled_fraction(read(settled, u), Estimate.measured("time_constant", 5e-3, u=1e-5, unit="s"))
    assert (found.value, found.bound) == (
        None if value is None else pytest.approx(value, abs=1e-3),
        None if bound is None else pytest.approx(bound),
    )
    if settled == 0.9:
        assert found.u == pytest.approx(u)


@pytest.mark.parametrize(("settled", "complete", "value"), [(0.99, 3, 5e-3), (0.99, 1, None), (0.8, 3, None)])
def test_a_transition_is_read_where_most_edges_show_it_to_their_end(
    settled: float, complete: int, value: float | None
) -> None:
    found = _transition_as_read(read(settled, 0.01, complete))
    assert (found.value, found.bound) == (value, None if value else 8e-3)


def moved(fit: ModelFit, more: float) -> ModelFit:
    """The same edge of a swing that is larger by so much."""
    return fit_spec(fit.spec, replace(fit.window, y=fit.window.y * (1 + more)), fit)


def test_a_sensitivity_has_the_doubt_of_both_swings() -> None:
    swing, drive = Estimate.measured("swing", 1.0, u=0.03, unit="V"), Estimate.measured("swing", 0.5, u=0.02, unit="A")
    assert edge_sensitivity(swing, drive, False, "V/A").u == pytest.approx(2.0 * 0.05)


def test_a_noise_knows_its_degrees_of_freedom() -> None:
    answer: Any = SimpleNamespace(t_s=T, values=FIT.window.y, noise=NOISE)
    found = output_noise(answer, [FIT], "V")
    assert found.value == pytest.approx(NOISE, rel=0.15)
    assert found.u == pytest.approx((found.value or 0.0) / math.sqrt(2 * found.dof))
    assert 200 < found.dof < 650


def test_a_part_at_once_scatters_as_much_as_it_says() -> None:
    spec, way = ModelSpec(zero=True, dead=True), 0.8 * POLE + 0.2 * np.asarray(RAMP.u)
    first = fit_spec(spec, window(white(0), way))
    fits = [fit_spec(spec, window(white(k), way), first) for k in range(1, 31)]
    ratio = np.std([fit.beside_share for fit in fits], ddof=1) / np.mean([fit.u_beside_share for fit in fits])
    assert ratio == pytest.approx(1.0, abs=0.4)


def test_an_effect_beside_the_model_has_its_own_delay_and_comes_back_as_it_was_given() -> None:
    """Where readings tell nothing of an effect, its size is the prior's 1 % and its odds are the prior's."""
    flat = np.zeros(FIT.n_parameters)
    assert nuisance_spread([FIT], lambda _: flat) == 0.0
    assert nuisance_spread([FIT], lambda _: flat, delays=True) > 1e-6
    size_sq, odds = _posterior(FIT, 1e-9 * POLE, EFFECT)
    assert (size_sq, odds) == pytest.approx((1e-4, 0.3), rel=1e-3)


def test_a_bent_characteristic_counts_in_an_area(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(DELAYS, "area_delay", lambda *_: (3e-3, 1e-6))
    window = SimpleNamespace(driven=True, settled_start=True, bent_delay_s=1e-2)
    found: Any = SimpleNamespace(
        fits=[SimpleNamespace(window=window)], settled_fraction=1.0, shape="one_pole", fits_well=True
    )
    area = area_estimate(found)
    assert area is not None
    assert area.u == pytest.approx(math.hypot(1e-6, CURVED * 1e-2))


def test_a_characteristic_is_a_quarter_of_a_per_cent_off_in_the_middle_where_nothing_is_seen_of_it() -> None:
    """The curve of a pole's own response is nearly all taken up: by a first-order sum of squares, and the prior."""
    only_output = replace(FIT, window=replace(FIT.window, driven=False))
    column = 4 * (way := (FIT.fit.fitted - FIT.levels[0]) / (FIT.levels[1] - FIT.levels[0])) * (1 - way)
    columns = jacobian(separable_model(FIT.spec, FIT.window, FIT.scale_s), FIT.fit.theta, FIT.fit.coefficients, T.size)
    shift = float(np.linalg.lstsq(columns.T, column, rcond=None)[0][0])
    slope = np.zeros(FIT.n_parameters)
    slope[0] = 1.0
    found = bent_spread([only_output], lambda _: slope)
    assert 0.5 * CURVED * abs(shift) < found < 1.3 * CURVED * abs(shift)
    assert bent_spread([FIT], lambda _: slope) > found


def test_what_a_quick_drive_may_do_between_samples_is_a_fifth_of_the_gap_squared() -> None:
    """A step in a gap or a ramp across it: their second moments differ by at most a quarter of the gap squared."""
    quick = direction(*(replace(fit, window=replace(fit.window, drive_duration_s=1e-5)) for fit in ONE_POLE.fits))
    gap_s = FIT.window.interval_s
    assert _u_between_samples(quick, TAU_S) == pytest.approx(0.2 * gap_s**2 / TAU_S)
    assert gap_s**2 / 12 / TAU_S < _u_between_samples(quick, TAU_S) < gap_s**2 / 4 / TAU_S
    assert _u_between_samples(ONE_POLE, TAU_S) == 0.0


@pytest.mark.parametrize(("misfit", "explained"), [(0.02, True), (0.05, False)])
def test_a_candidate_that_misses_by_three_per_cent_explains_nothing(misfit: float, explained: bool) -> None:
    fits: Any = (SimpleNamespace(misfit=misfit),)
    nothing: Any = None
    assert DirectionFits(choice=nothing, fits=fits, readings=(), n_edges=1).fits_well == explained


def test_noise_alone_asks_for_no_richer_candidate() -> None:
    assert choose_model([window(10 * white(k)) for k in range(2)]).spec == ModelSpec()
