"""Every candidate's columns against closed forms, and its closed-form slopes against differences."""

from __future__ import annotations

import math

import numpy as np
import pytest
from edge_windows import edge_window

from feelcheck.bench.response_models import ModelSpec, separable_model, shape_response
from feelcheck.bench.weak_sink import weak_response
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus

AT = np.linspace(-1.0, 12.0, 300)
AFTER = np.maximum(AT, 0.0)
T = np.linspace(-10e-3, 50e-3, 700)
RAMP = Stimulus(t_s=T, u=np.clip(T / 2.5e-3, 0.0, 1.0))


def shaped(shape: str, *parameters: float) -> FloatArray:
    ready = DrivenInstants(Stimulus.step(), AT)
    return np.asarray(shape_response(ready, shape, np.log(np.array(parameters))).once[0])


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (shaped("one_pole", 2.0), 1 - np.exp(-AFTER / 2.0)),
        (shaped("two_pole", 2.0, 1.0), (1 - np.exp(-AFTER / 2)) ** 2),
        (shaped("two_pole", 2.0, 2.0), 1 - (1 + AFTER / 2) * np.exp(-AFTER / 2)),
        (
            shaped("second_order", 2.0, 0.5),
            1 - np.exp(-AFTER / 4) * (np.cos(w := AFTER * math.sqrt(0.75) / 2) + np.sin(w) / math.sqrt(3)),
        ),
        (  # by hand: the integral of 1 - exp(-t / 2) over the last 3
            shaped("pole_and_average", 2.0, 3.0),
            (AFTER - 2 * -np.expm1(-AFTER / 2) - (b := np.maximum(AT - 3, 0.0)) + 2 * -np.expm1(-b / 2)) / 3,
        ),
    ],
    ids=["pole", "poles_2_and_1", "equal_poles", "ringing", "pole_and_average"],
)
def test_steps(found: FloatArray, expected: FloatArray) -> None:
    np.testing.assert_allclose(found, np.where(AT < 0, 0.0, expected), atol=1e-6)


def window(stimulus: Stimulus | None, settled: bool) -> EdgeWindow:
    """An edge of 2 ms over 60 ms."""
    return edge_window(T, RAMP.u, stimulus, 0.0, settled_start=settled)


MS = math.log(1e-3)
CASES = [
    (ModelSpec(shape="none", dead=True), RAMP, [0.31]),
    (ModelSpec(), RAMP, [MS + 1]),
    (ModelSpec(dead=True), Stimulus.step(), [MS + 1, 0.3]),
    (ModelSpec(dead=True, clip_low=True, clip_high=True), RAMP, [MS + 1, 0.31, 0.2, 0.7]),
    (ModelSpec(shape="two_pole", clip_high=True), RAMP, [MS + 1, MS, 0.7]),
    (ModelSpec(shape="two_pole", dead=True, drift=True), RAMP, [MS, MS + 1, 0.3]),
    (ModelSpec(zero=True, clip_high=True), RAMP, [MS + 1, 0.7]),
    (ModelSpec(shape="two_pole", zero=True, dead=True, drift=True), RAMP, [MS + 1, MS, 0.3]),
    (ModelSpec(shape="second_order", dead=True, hum_hz=50.0), RAMP, [MS, math.log(0.3), 0.3]),
    (ModelSpec(shape="second_order"), None, [MS, math.log(0.3)]),
    (ModelSpec(shape="two_pole", hum_hz=50.0), None, [MS, MS + 1]),
    (ModelSpec(shape="average", dead=True, clip_high=True), RAMP, [MS + 1, 0.31, 0.7]),
    (ModelSpec(shape="pole_and_average", dead=True), RAMP, [MS + 1, MS + 0.4, 0.31]),
    (ModelSpec(shape="two_pole", coupled=True, hum_hz=50.0), RAMP, [MS + 1, MS]),
    (ModelSpec(shape="ramp", dead=True), RAMP, [MS + 1.6, MS, 0.2]),
    (ModelSpec(shape="ramp_open", dead=True), RAMP, [MS, 0.2]),
    (ModelSpec(shape="slew", dead=True), RAMP, [MS + 1.6, MS + 0.7, 0.2]),
    (ModelSpec(shape="to_ground", dead=True), RAMP, [MS + 2.2, MS + 2.5, MS, 0.2]),
    (ModelSpec(shape="to_ground_open", dead=True), RAMP, [MS + 2.2, MS, 0.2]),
]


@pytest.mark.parametrize(("spec", "stimulus", "theta"), CASES, ids=[f"{c[0].shape}-{k}" for k, c in enumerate(CASES)])
@pytest.mark.parametrize("settled", [True, False])
def test_slopes_are_those_of_differences(
    spec: ModelSpec, stimulus: Stimulus | None, theta: list[float], settled: bool
) -> None:
    model, at, step = separable_model(spec, window(stimulus, settled), 2e-3), np.array(theta), 1e-6
    m = model.n_columns
    rows = np.empty((m + len(model.slopes), T.size))
    model.fill(at, rows)
    by_parameter = []
    for k in range(at.size):
        sides = np.empty((2, m, T.size))
        for side, sign in zip(sides, (1, -1), strict=True):
            model.fill(at + sign * step * (np.arange(at.size) == k), side)
        by_parameter.append((sides[0] - sides[1]) / (2 * step))
    given = np.zeros((at.size, m, T.size))
    for row, (k, column) in zip(rows[m:], model.slopes, strict=True):
        given[k, column] += row
    away = np.sort(np.abs(given - np.array(by_parameter)).max(axis=(0, 1)))
    # a difference straddles a kink at a few samples only
    assert away[-5] < 1e-7 * np.max(np.abs(given))


@pytest.mark.parametrize("shape", ["ramp", "slew", "to_ground"])
def test_a_weak_sink_runs_down_to_its_target_and_stays(shape: str) -> None:
    theta = np.log(np.array([5.0, 7.0, 0.4] if shape == "to_ground" else [5.0, 0.4]))
    found = weak_response(shape, theta, np.array([-3.0, 0.0, 60.0]), 60.0)
    first, last = (1.0, math.exp(-7.0 / 5.0)) if shape == "to_ground" else (0.0, 1.0)
    assert found == pytest.approx([first, first, last], abs=1e-9)


def test_a_discharge_to_ground_passes_through_the_pole_behind_it() -> None:
    # closed form against a drive of many straight lines through the same pole
    tau, stop, behind, t = 5.0, 7.0, 0.4, np.linspace(-1.0, 20.0, 400)
    knots = np.linspace(0.0, stop, 4000)
    drive = Stimulus(t_s=knots, u=np.exp(-knots / tau))
    expected = DrivenInstants(drive, t).pole(behind).once[0]
    found = weak_response("to_ground", np.log(np.array([tau, stop, behind])), t, 20.0)
    np.testing.assert_allclose(found, expected, atol=1e-6)
