"""The gate stop as a metric, on simulated logs: what it says, and what it refuses to say."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.choice import weighted_spread
from feelcheck.hand.gate_stop.doubts import _give_u
from feelcheck.hand.gate_stop.metric import METRIC
from feelcheck.hand.gate_stop.models import MOTION, N_BASIS
from feelcheck.hand.gate_stop.numbers import GIVE_S, GIVE_SHARE
from feelcheck.hand.gate_stop.pooling import _too_short
from feelcheck.hand.gate_stop.speed import TAIL_KNOT
from feelcheck.hand.view import prepare
from feelcheck.model import Estimate, HandView, MetricOutput, Recording, Status, StickAxes
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.sources.synthetic import quick_script, simulate_recording, world_with

RESPONSE = {"time_constant", "transition_10_90", "smoothing_delay", "mean_delay"}


@cache
def log(effect: str, tau_ms: float, interval_ms: float = 1.0, n_flicks: int = 8, seed: int = 1) -> Recording:
    rng = np.random.default_rng(seed)
    world = world_with(effect, rng, tau_s=tau_ms / 1e3, report_interval_s=interval_ms / 1e3)
    return simulate_recording(world, quick_script(n_flicks, rng), rng)


@cache
def measured(effect: str, tau_ms: float, n_flicks: int = 8) -> MetricOutput:
    return METRIC.measure(prepare(log(effect, tau_ms, n_flicks=n_flicks)))


def finding(output: MetricOutput, quantity: str, axis: str, direction: str | None) -> Estimate:
    found = [
        f.estimate for f in output.findings if (f.estimate.quantity, f.axis, f.direction) == (quantity, axis, direction)
    ]
    assert len(found) == 1
    return found[0]


def test_a_plain_stick_gets_its_time_constant_in_every_direction() -> None:
    output = measured("plain", 5.0)
    for axis in ("left_x", "left_y"):
        for direction in ("rising", "falling"):
            tau = finding(output, "time_constant", axis, direction)
            low, high = coverage_interval(tau)
            assert tau.value == pytest.approx(0.005, rel=0.05)
            assert low is not None
            assert high is not None
            assert low < 0.005 < high
            assert output.models[axis, direction] == "one_pole"
            assert [pole.value for pole in output.poles[axis, direction]] == [tau.value]
            assert finding(output, "transition_10_90", axis, direction).value == pytest.approx(np.log(9) * tau.value)
            delay = finding(output, "smoothing_delay", axis, direction)
            assert finding(output, "mean_delay", axis, direction) == delay.renamed("mean_delay")
        assert finding(output, "asymmetry", axis, None).value == pytest.approx(1.0, abs=0.08)


def test_every_flick_is_in_the_record_and_some_are_drawn() -> None:
    output = measured("plain", 5.0)
    assert len(output.flicks) == 8
    assert all(flick.used and flick.stick == "left" for flick in output.flicks)
    trace = output.traces[0]
    assert trace.kind == "flick"
    assert set(trace.arrays) >= {"t_s", "measured_fs", "model_fs", "raw_t_s", "raw_fs"}
    assert trace.marks["contact_s"] > output.flicks[0].start_s
    residual = trace.arrays["measured_fs"] - trace.arrays["model_fs"]
    assert np.sqrt(np.mean(residual[-20:] ** 2)) < 0.002


def test_rising_and_falling_are_told_apart() -> None:
    recording = log("rise_fall_apart", 6.0)
    output = measured("rise_fall_apart", 6.0)
    for direction in ("rising", "falling"):
        true_s = float(recording.truth[f"left_x.{direction}.tau_s"])
        assert finding(output, "time_constant", "left_x", direction).value == pytest.approx(true_s, rel=0.06)
    ratio = finding(output, "asymmetry", "left_x", None)
    rising, falling = (float(recording.truth[f"left_x.{d}.tau_s"]) for d in ("rising", "falling"))
    low, high = coverage_interval(ratio)
    assert low is not None
    assert high is not None
    assert low < falling / rising < high
    assert not low < 1.0 < high


def test_an_average_in_the_firmware_counts_in_the_delay_and_not_in_the_pole() -> None:
    recording = log("average", 10.0)
    output = measured("average", 10.0)
    true_s = float(recording.truth["left_x.rising.smoothing_delay_s"])
    delay = finding(output, "smoothing_delay", "left_x", "rising")
    low, high = coverage_interval(delay)
    assert low is not None
    assert high is not None
    assert low < true_s < high
    assert finding(output, "time_constant", "left_x", "rising").value == pytest.approx(0.01, rel=0.05)


def test_below_the_report_interval_only_a_limit_is_given() -> None:
    output = measured("plain", 0.5, n_flicks=8)
    tau = finding(output, "time_constant", "left_x", "rising")
    assert tau.status is Status.AT_MOST
    assert tau.bound is not None
    assert 0.001 <= tau.bound < 0.0015
    assert "below_report_interval" in {caveat.code for caveat in tau.caveats}
    assert output.models["left_x", "rising"] == "none"


def test_an_adaptive_filter_is_said_to_depend_on_speed() -> None:
    recording = log("adaptive_filter", 5.0, n_flicks=12)
    output = METRIC.measure(prepare(recording))
    codes = {caveat.code for f in output.findings for caveat in f.estimate.caveats}
    assert "tau_depends_on_speed" in codes
    ends = [f.estimate for f in output.findings if f.estimate.quantity.startswith("time_constant_")]
    assert ends


def test_clipped_flicks_are_refused_with_advice() -> None:
    output = measured("radial_clamp", 3.0)
    tau = finding(output, "time_constant", "left_x", "rising")
    assert tau.status is Status.NOT_RESOLVED
    assert tau.caveats[0].code == "clipped_before_rim"
    assert tau.caveats[0].advice
    assert {flick.why_not for flick in output.flicks} == {"clipped before the rim"}
    assert output.caveats == (tau.caveats[0],)


def without_flicks(view: HandView) -> HandView:
    return replace(view, segments=())


def test_no_flick_resolves_nothing_and_says_what_to_record() -> None:
    output = METRIC.measure(without_flicks(prepare(log("plain", 5.0))))
    assert {f.estimate.quantity for f in output.findings} == RESPONSE | {"asymmetry"}
    assert all(f.estimate.status is Status.NOT_RESOLVED for f in output.findings)
    assert output.caveats[0].code == "no_flicks"
    assert "diagonal" in output.caveats[0].advice


def test_one_picture_a_flick_claims_nothing() -> None:
    # 30 rows a second: a flick is over within one to three of them
    output = METRIC.measure(prepare(log("plain", 5.0, 33.0, n_flicks=8)))
    assert all(f.estimate.status is not Status.OK for f in output.findings)
    assert all(f.estimate.status is not Status.AT_MOST for f in output.findings)


def test_one_axis_alone_is_measured_and_told_what_the_other_would_add() -> None:
    recording = log("plain", 5.0, n_flicks=8)
    alone = replace(recording, streams=recording.streams[:1], sticks=(StickAxes(stick="left", x="left_x", y=""),))
    output = METRIC.measure(prepare(alone))
    tau = finding(output, "time_constant", "left_x", "rising")
    assert tau.value == pytest.approx(0.005, rel=0.08)
    assert "one_axis_only" in {caveat.code for caveat in tau.caveats}
    assert {f.axis for f in output.findings} == {"left_x"}


def test_a_single_flick_in_a_direction_is_too_few() -> None:
    view = prepare(log("plain", 5.0))
    first = next(s for s in view.segments if s.kind == "flick")
    output = METRIC.measure(replace(view, segments=(first,)))
    codes = {f.estimate.caveats[0].code for f in output.findings if f.estimate.quantity == "time_constant"}
    assert codes == {"too_few_flicks"}


def test_spread_over_candidates_fades_with_how_badly_they_fit() -> None:
    near, far = weighted_spread([1.3], [0.0]), weighted_spread([1.3], [100.0])
    assert near == pytest.approx(np.log(1.3) / np.sqrt(2))
    assert far < 0.1 * near
    assert weighted_spread([], []) == 0.0
    # What no candidate fits leaves doubt where the likelihood has none, until another fits far worse.
    assert 0.2 * near < weighted_spread([1.3], [25.0], doubt=0.16) < 0.5 * near
    assert weighted_spread([1.3], [500.0], doubt=0.16) < 0.1 * near


def test_a_rim_that_gives_leaves_doubt_about_the_pole_and_a_stiff_one_does_not() -> None:
    batch = Batch(
        t_s=np.zeros((2, 5)),
        y=np.zeros((2, 5)),
        weight=np.ones((2, 5)),
        group=np.array([0, 2]),
        angle_rad=np.array([np.pi / 4]),
        scale_s=np.full(2, 0.02),
        interval_s=0.001,
    )
    coefficients = np.zeros((2, N_BASIS))
    coefficients[:, 1] = 0.2  # 10 throws/s: a pole of 10 ms lags by 0.1
    coefficients[0, MOTION.start + TAIL_KNOT] = 0.01
    fit = SimpleNamespace(coefficients=coefficients)
    chosen = SimpleNamespace(best=SimpleNamespace(batch=batch, fit=fit), delay_s=np.full(4, 0.01))
    assert _give_u(chosen, 0) == pytest.approx(GIVE_SHARE * 0.1 * 0.01 / (0.01 + GIVE_S))  # type: ignore[arg-type]
    assert _give_u(chosen, 2) == 0.0  # type: ignore[arg-type]


def test_noise_at_rest_that_outlasts_the_flicks_leaves_no_single_value() -> None:
    output = measured("adaptive_filter", 1.0, n_flicks=12)
    assert finding(output, "time_constant", "left_x", "rising").status is Status.NOT_RESOLVED
    fast = finding(output, "time_constant_fast_flicks", "left_x", "rising")
    rest = finding(output, "time_constant_at_rest", "left_x", "rising")
    true_s = float(log("adaptive_filter", 1.0, n_flicks=12).truth["left_x.adaptive.slow_s"])
    assert fast.status is Status.AT_LEAST
    assert fast.bound is not None
    assert rest.value is not None
    assert fast.bound < rest.value
    assert rest.value == pytest.approx(true_s, rel=0.3)


@pytest.mark.parametrize(
    ("value_s", "relative_u", "short"),
    [(0.0009, 0.01, True), (0.0012, 0.1, False), (0.0012, 0.25, True), (0.005, 0.25, False), (0.005, 0.4, True)],
)
def test_near_the_report_interval_a_value_must_be_surer(value_s: float, relative_u: float, short: bool) -> None:
    assert _too_short(value_s, relative_u, 0.001) is short
