"""Every term of an uncertainty of what is typed, told, held or read beside the fits is missed where it is gone."""

from __future__ import annotations

import importlib
import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import optimize

from feelcheck.bench import behind_known_drive, measure_typed
from feelcheck.bench.asymmetry import asymmetry
from feelcheck.bench.drive_reading import read_drive
from feelcheck.bench.edges import find_edges
from feelcheck.bench.holds import _Try, _u_period, find_hold
from feelcheck.bench.levels import prepare
from feelcheck.bench.report import held_direction
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.stairs import _Ramp, _refined
from feelcheck.bench.windows import driven_windows
from feelcheck.model import BenchDirection, Estimate, FloatArray, Provenance
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.numerics.one_pole import ramp_transition_10_90, transition_10_90

E_S = 1e-4
REACHED = {"t10_s": -math.log(0.9), "t50_s": math.log(2.0), "t90_s": math.log(10.0)}


def typed(*edges: TypedEdge) -> Any:
    return measure_typed([TypedReadings(edges=edges, provenance=Provenance())])


def pole(tau_s: float, way: str = "rising", late_s: float = 1e-3, **more: Any) -> TypedEdge:
    instants: Any = {name: tau_s * reached + late_s for name, reached in REACHED.items()}
    return TypedEdge(direction=way, time_error_s=E_S, **{**instants, **more})  # type: ignore[arg-type]


def test_typed_instants_are_a_straight_line_s_regression() -> None:
    side = typed(pole(4e-3, drive_s=0.0)).rising
    design = np.array([[reached, 1.0] for reached in REACHED.values()])
    u_tau, u_start = np.sqrt(np.diag(np.linalg.inv(design.T @ design))) * E_S / math.sqrt(3)
    assert side.time_constant.u == pytest.approx(u_tau)
    assert side.dead_time.u == pytest.approx(math.hypot(u_start, E_S / math.sqrt(3)))
    assert side.mean_delay.u == pytest.approx(math.hypot(u_tau, side.dead_time.u))
    scattered = typed(*(pole(tau_s) for tau_s in (4e-3, 5e-3, 6e-3))).rising.time_constant
    assert scattered.u == pytest.approx(1e-3 / math.sqrt(3))


def test_a_typed_asymmetry_has_the_doubt_of_both_directions() -> None:
    found = typed(pole(4e-3), pole(2e-3, way="falling"))
    u_rise, u_fall = found.rising.time_constant.u / 4e-3, found.falling.time_constant.u / 2e-3
    assert found.asymmetry.u == pytest.approx(0.5 * math.hypot(u_rise, u_fall))


def points(volts: FloatArray, value_error_v: float = 1e-6, time_error_s: float = 1e-9) -> Estimate:
    t_s = np.linspace(0.0, 20e-3, volts.size)
    listed = tuple(zip(t_s.tolist(), volts.tolist(), strict=True))
    edge = TypedEdge(direction="rising", points=listed, value_error_v=value_error_v, time_error_s=time_error_s)
    estimate: Estimate = typed(edge).rising.time_constant
    return estimate


def test_points_have_errors_of_time_and_of_voltage() -> None:
    way = 1.0 - np.exp(-np.linspace(0.0, 20e-3, 6) / 5e-3)
    volts, time, both = ((points(way, *errors).u or 0.0) for errors in ((0.02, 1e-9), (1e-6, 2e-4), (0.02, 2e-4)))
    assert min(volts, time) > 5e-5
    assert both > 1.02 * max(volts, time)
    assert points(1.0 - np.linspace(1.0, 0.0, 6) ** 3 * 0.9, 0.002).value is None, "no pole runs like this"


def test_a_told_drive_leaves_its_length_and_its_shape_open() -> None:
    """Readings without an error: 5 % of the drive either way, and half of what ramp and exponential differ by."""
    drive_s, read_s = 2e-3, 9e-3
    edge = TypedEdge(direction="rising", t10_s=0.0, t90_s=read_s, time_error_s=1e-9)
    side = behind_known_drive(measure_typed([TypedReadings(edges=(edge,), provenance=Provenance())]), drive_s).rising
    assert side is not None

    def ramp(tau_s: float, d_s: float) -> float:
        return ramp_transition_10_90(d_s / 0.8, tau_s)

    def exponential(tau_s: float, d_s: float) -> float:
        return transition_10_90((tau_s, d_s / math.log(9)))

    shapes = (ramp, exponential)
    poles = [optimize.brentq(lambda tau, s=shape: s(tau, drive_s) - read_s, 1e-5, read_s) for shape in shapes]
    tau_s, h = sum(poles) / 2, 1e-6
    slope = min((shape(tau_s + h, drive_s) - shape(tau_s - h, drive_s)) / (2 * h) for shape in shapes)
    share = max((shape(tau_s, drive_s + h) - shape(tau_s, drive_s - h)) / (2 * h) for shape in shapes)
    terms = (0.05 * drive_s / math.sqrt(3) * share / slope, (poles[0] - poles[1]) / 2 / math.sqrt(3))
    assert side.time_constant.u == pytest.approx(math.hypot(*terms), rel=0.01)
    assert min(map(abs, terms)) > 0.1 * max(map(abs, terms)), "both are seen"
    coarse = replace(edge, time_error_s=3e-4)
    side = behind_known_drive(measure_typed([TypedReadings(edges=(coarse,), provenance=Provenance())]), drive_s).rising
    assert side is not None
    assert side.time_constant.u == pytest.approx(math.hypot(*terms, 3e-4 * math.sqrt(2 / 3) / slope), rel=0.01)


def side_of(delay: Estimate) -> BenchDirection:
    names = ("transition_10_90", "step_transition_10_90", "dead_time", "mean_delay", "settled_fraction")
    blank: Any = dict.fromkeys(names, Estimate.not_resolved("x", unit="s"))
    return BenchDirection(time_constant=delay, smoothing_delay=delay, **blank)


def test_an_asymmetry_has_the_doubt_of_both_directions() -> None:
    up, down = (Estimate.measured("smoothing_delay", v, u=u, unit="s") for v, u in ((5e-3, 0.15e-3), (5e-3, 0.2e-3)))
    assert asymmetry(side_of(up), side_of(down), (None, None)).u == pytest.approx(0.05)


def held_side(tau_s: float) -> BenchDirection:
    def of(name: str, value_s: float) -> Estimate:
        return Estimate.measured(name, value_s, u=1e-5, unit="s", n=3)

    return replace(
        side_of(of("smoothing_delay", tau_s)), time_constant=of("time_constant", tau_s),
        dead_time=of("dead_time", 1e-3),
        mean_delay=of("mean_delay", 1e-3 + tau_s), poles=(of("pole", tau_s),),
        step_transition_10_90=of("step_transition_10_90", math.log(9) * tau_s),
    )  # fmt: skip


def test_behind_a_hold_everything_has_the_instants_of_the_hold() -> None:
    found = held_direction(held_side(3e-3), 1e-3)
    u = math.hypot(1e-5, 1e-3 / math.sqrt(12))
    for one in (found.time_constant, found.smoothing_delay, found.dead_time, found.mean_delay, *found.poles):
        assert one.u == pytest.approx(u), one.quantity
        assert math.hypot(*(term.u for term in one.terms)) == pytest.approx(u), one.quantity


def test_behind_a_hold_what_is_shorter_than_a_sample_is_a_limit_of_a_sample() -> None:
    found = held_direction(held_side(0.3e-3), 1e-3)
    assert (found.time_constant.bound, found.smoothing_delay.bound) == (1e-3, 1e-3)
    assert found.step_transition_10_90.bound == pytest.approx(math.log(9) * 1e-3)
    assert found.poles == ()
    assert found.dead_time.u == pytest.approx(math.hypot(1e-5, 1e-3 / math.sqrt(12)))


def test_stairs_are_known_to_their_samples_and_better_the_more_there_are() -> None:
    """Eight jumps on whole samples: half a sample either way each, and a straight line through their numbers."""
    t: FloatArray = np.asarray(1e-5 * np.arange(1100), dtype=np.float64)
    y = np.floor((t + 0.4e-3) / 1e-3)
    ramp = _Ramp(t=t, y=y, smooth=np.asarray(t / 1e-3, dtype=np.float64), noise=1e-3, step=0.0, interval=1e-5)
    found = _refined([ramp], 1e-3).interval
    n = found.n
    assert found.value == pytest.approx(1e-3, rel=1e-3)
    assert found.u == pytest.approx(1e-5 / math.sqrt(12) / math.sqrt(n * (n**2 - 1) / 12), rel=1e-6)


def test_a_hold_is_known_to_its_samples_and_to_what_edges_differ_by(monkeypatch: pytest.MonkeyPatch) -> None:
    window: Any = SimpleNamespace(interval_s=1e-5, drive_duration_s=4e-3)
    one = _Try(rss=1.0, at=(math.log(1e-3), 0.0, 0.0, 0.0))
    assert _u_period(window, one) == pytest.approx(1e-5 / math.sqrt(12) / 4 + 1e-6)
    holds = importlib.import_module("feelcheck.bench.holds")
    tries = iter([one, _Try(rss=1.0, at=(math.log(1.04e-3), 0.0, 0.0, 0.0))])
    monkeypatch.setattr(holds, "_resolved", lambda *_: True)
    monkeypatch.setattr(holds, "_best", lambda *_: next(tries))
    monkeypatch.setattr(holds, "_evidence", lambda *_: 100.0)
    fit: Any = SimpleNamespace(window=window, fit=SimpleNamespace(rss=10.0))
    hold = find_hold([fit, fit])
    assert hold is not None
    assert (hold.interval_s, hold.u_s) == pytest.approx((1.02e-3, 0.02e-3))
    assert hold.found
    monkeypatch.setattr(holds, "_best", lambda *_: one)
    doubtful: Any = SimpleNamespace(window=window, fit=SimpleNamespace(rss=1.7))
    hold = find_hold([doubtful, doubtful])
    assert hold is not None
    assert not hold.found, "0.6 of the smooth candidate's residuals are left"


def driven(noise: float, half_period_s: float, tau_s: float = 4e-3) -> Any:
    """Windows of a square drive's edges of 2.5 ms behind a pole."""
    t = np.arange(0.0, 8 * half_period_s, 2e-5)
    since = np.mod(t - 0.5 * half_period_s, half_period_s)
    up = np.mod(np.floor((t - 0.5 * half_period_s) / half_period_s), 2) == 0
    ramp = np.clip(since / 2.5e-3, 0.0, 1.0)
    drive = np.where(up, ramp, 1.0 - ramp)
    level, out = 1.0, np.empty(t.size)
    for k, u in enumerate(drive):
        out[k] = level = u + (level - u) * math.exp(-2e-5 / tau_s)
    rng = np.random.default_rng(3)
    source = prepare(t, drive + noise * rng.standard_normal(t.size))
    answer = prepare(t, out + 2e-3 * rng.standard_normal(t.size))
    return driven_windows(np.asarray(drive), answer, find_edges(source), noise)


def test_a_noisy_drive_leaves_the_instants_of_its_edges_open() -> None:
    for window in driven(0.02, 0.1)[1:-1]:
        assert window.u_drive_delay_s == pytest.approx(0.02 * math.sqrt(2.5e-3 * 2e-5), rel=0.15)
        assert window.u_start_fraction == 0.0


def test_a_level_that_had_just_settled_is_not_known_better_than_its_drift() -> None:
    """Half periods of ten time constants: halves of what is left may differ by 0.03 % of the swing, over root three."""
    for window in driven(0.002, 0.04)[1:]:
        assert window.settled_start
        assert 3e-4 / math.sqrt(3) <= window.u_start_fraction < 1e-3


def test_a_drive_s_transition_and_swing_are_known_to_noise_and_samples() -> None:
    t = np.arange(0.0, 0.2, 1e-4)
    ramp = np.clip((t - 0.0501) / 5e-3, 0.0, 1.0) - np.clip((t - 0.1403) / 5e-3, 0.0, 1.0)
    for noise in (1e-6, 0.03):
        trace = prepare(t, ramp + noise * np.random.default_rng(4).standard_normal(t.size))
        duration, swing = read_drive(find_edges(trace), trace, "A")
        grid_s = 1e-4 / math.sqrt(6)
        assert duration.u is not None
        assert duration.u >= grid_s
        assert swing.u == pytest.approx(2 * trace.noise / math.sqrt(2), rel=0.1)
        assert (duration.u > 1.5 * grid_s) == (noise > 1e-3)


@pytest.mark.parametrize(("back", "returns"), [(3.0, False), (7.0, True), (1 / 7, True)])
def test_a_drive_that_falls_back_far_more_slowly_than_it_jumps_returns(
    back: float, returns: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    measure = importlib.import_module("feelcheck.bench.measure")
    monkeypatch.setattr(measure, "rests_midway", lambda _: False)
    monkeypatch.setattr(measure, "find_edges", lambda _: ())
    edges: Any = [SimpleNamespace(at_most_s=s) for s in (1.0, back) * 3]
    trace: Any = SimpleNamespace(values=np.zeros(3))
    assert measure._returns(trace, edges, trace) == returns


@pytest.mark.parametrize(("gain", "chosen"), [(3.0, 0), (9.0, 1)])
def test_a_richer_candidate_needs_decisive_evidence(gain: float, chosen: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Six and more are called strong evidence (A. E. Raftery, Sociol. Methodol. 25, 1995; from memory)."""
    choice = importlib.import_module("feelcheck.bench.choice")
    monkeypatch.setattr(choice, "evidence", lambda *_: gain)
    monkeypatch.setattr(choice, "_effect", lambda *_: 1.0)
    monkeypatch.setattr(choice, "_sound", lambda *_: True)
    candidates: Any = [
        (SimpleNamespace(spec=ModelSpec(shape=shape), n_parameters=3),) for shape in ("one_pole", "two_pole")
    ]
    assert choice._better(candidates[0], [candidates[1]]) is candidates[chosen]
