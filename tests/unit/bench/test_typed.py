"""Cursor readings against closed forms of the single pole, and the coverage of their intervals."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feelcheck.bench import measure_typed
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchDirection, Estimate, Status
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.model.recording import Provenance
from feelcheck.numerics.uncertainty import coverage_interval

TAU_S = 4.7e-3
# Closed form of the single pole: fraction f of the way is done at -tau ln(1 - f).
T10, T50, T90 = (-TAU_S * math.log(1 - f) for f in (0.1, 0.5, 0.9))


def measured(*edges: TypedEdge) -> BenchDirection:
    result = measure_typed([TypedReadings(edges=edges, provenance=Provenance(path="birch.toml", format="readings"))])
    side = result.rising or result.falling
    assert side is not None
    return side


def value_of(estimate: Estimate) -> float:
    assert estimate.value is not None
    return estimate.value


@pytest.mark.parametrize(
    "read",
    [
        {"t10_s": T10, "t90_s": T90},
        {"t10_s": T10, "t50_s": T50},
        {"t50_s": T50, "t90_s": T90},
        {"t10_s": T10, "t50_s": T50, "t90_s": T90},
        {"t50_s": T50, "drive_s": 0.0},
        {"points": tuple((t, 1.6 - 1.4 * math.exp(-t / TAU_S)) for t in (0.0, 3e-3, 8e-3, 15e-3, 30e-3))},
        {"points": tuple((t, 1.6 - 1.4 * math.exp(-t / TAU_S)) for t in (0.0, 4e-3, 15e-3))},
    ],
)
def test_exact_readings_give_the_pole(read: dict[str, float]) -> None:
    side = measured(TypedEdge(direction="rising", time_error_s=5e-5, value_error_v=1e-3, **read))  # type: ignore[arg-type]
    assert value_of(side.time_constant) == pytest.approx(TAU_S, rel=1e-4)
    assert value_of(side.step_transition_10_90) == pytest.approx(TAU_S * math.log(9), rel=1e-4)
    assert "includes_drive" in {caveat.code for caveat in side.time_constant.caveats}


def test_the_transition_as_read_and_its_uncertainty() -> None:
    # A reading that can be off by e either way: e / sqrt(3) (GUM 4.3.7, rectangular distribution).
    side = measured(TypedEdge(direction="falling", t10_s=T10, t90_s=T90, time_error_s=1e-4))
    assert value_of(side.transition_10_90) == pytest.approx(T90 - T10)
    assert side.transition_10_90.u == pytest.approx(1e-4 * math.sqrt(2 / 3))


def test_dead_time_and_mean_delay_from_the_drive() -> None:
    edge = TypedEdge(
        direction="rising", t10_s=T10 + 1e-3, t50_s=T50 + 1e-3, t90_s=T90 + 1e-3, drive_s=0.0, time_error_s=2e-5
    )
    side = measured(edge)
    assert value_of(side.dead_time) == pytest.approx(1e-3)
    assert value_of(side.mean_delay) == pytest.approx(TAU_S + 1e-3)


def test_readings_that_no_pole_can_hold() -> None:
    # A straight ramp: 10, 50 and 90 % evenly spaced.
    side = measured(TypedEdge(direction="rising", t10_s=1e-3, t50_s=5e-3, t90_s=9e-3, time_error_s=1e-4))
    assert side.time_constant.status is Status.NOT_RESOLVED
    assert {caveat.code for caveat in side.time_constant.caveats} == {"not_one_pole"}
    assert value_of(side.transition_10_90) == pytest.approx(8e-3)
    assert side.model == "unclear"


def test_an_edge_as_short_as_the_reading_error_is_an_upper_bound() -> None:
    side = measured(TypedEdge(direction="rising", t10_s=1e-4, t90_s=3e-4, time_error_s=2e-4))
    assert side.transition_10_90.status is Status.AT_MOST
    assert side.time_constant.status is Status.AT_MOST
    assert side.time_constant.bound == pytest.approx((side.transition_10_90.bound or 0) / math.log(9))


@pytest.mark.parametrize("n", [100, pytest.param(400, marks=pytest.mark.full)])
@pytest.mark.parametrize("n_edges", [1, 4])
def test_intervals_cover_the_truth(n_edges: int, n: int) -> None:
    rng = np.random.default_rng(7)
    error, hits, refused = 3e-4, 0, 0
    for _ in range(n):
        edges = []
        for _ in range(n_edges):
            t10, t50, t90 = np.array([T10, T50, T90]) + rng.uniform(-error, error, 3)
            edges.append(TypedEdge(direction="rising", t10_s=t10, t50_s=t50, t90_s=t90, time_error_s=error))
        tau = measured(*edges).time_constant
        low, high = coverage_interval(tau)
        refused += tau.status is Status.NOT_RESOLVED
        hits += low is not None and high is not None and low <= TAU_S <= high
    assert refused == 0
    assert hits / n >= 0.93


def test_no_edge() -> None:
    with pytest.raises(NotEnoughDataError):
        measure_typed([TypedReadings(edges=(), provenance=Provenance(path="birch.toml", format="readings"))])
