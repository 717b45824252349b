"""A drive that was told and not captured, against edges made by numerical convolution on a fine grid."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from feelcheck.bench import behind_known_drive, measure_typed
from feelcheck.model import BenchResult, Provenance, Status
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.numerics.uncertainty import coverage_interval

RISE_MS = 2.0


def instants_ms(tau_ms: float, shape: str) -> tuple[float, float]:
    """10 and 90 % of a drive of 2 ms 10-90 % behind a pole, by summing on a grid of 1 us: no closed form."""
    t = np.arange(0.0, 60.0, 1e-3)
    drive = np.clip(t / (RISE_MS / 0.8), 0, 1) if shape == "ramp" else -np.expm1(-t / (RISE_MS / math.log(9.0)))
    level, state, decay = np.empty_like(t), 0.0, math.exp(-1e-3 / tau_ms)
    for k, u in enumerate(drive):
        state = u + (state - u) * decay
        level[k] = state
    low, high = np.interp((0.1, 0.9), level, t)
    return float(low), float(high)


def readings(t10_ms: float, t90_ms: float, error_ms: float = 0.02) -> BenchResult:
    edge = TypedEdge(direction="rising", t10_s=t10_ms / 1e3, t90_s=t90_ms / 1e3, time_error_s=error_ms / 1e3)
    return measure_typed([TypedReadings(edges=(edge,), provenance=Provenance())])


@pytest.mark.parametrize("shape", ["ramp", "exponential"])
@pytest.mark.parametrize("tau_ms", [1.0, 2.0, 4.7, 12.0])
def test_the_pole_behind_a_told_drive_lies_in_its_interval(tau_ms: float, shape: str) -> None:
    found = behind_known_drive(readings(*instants_ms(tau_ms, shape)), RISE_MS / 1e3).rising
    assert found is not None
    low, high = coverage_interval(found.time_constant)
    assert low is not None
    assert high is not None
    assert low < tau_ms / 1e3 < high
    if tau_ms >= 2 * RISE_MS:
        assert found.time_constant.value == pytest.approx(tau_ms / 1e3, rel=0.02)
    assert found.smoothing_delay.value == found.time_constant.value
    assert found.step_transition_10_90.value == pytest.approx(math.log(9) * (found.time_constant.value or 0.0))
    assert found.dead_time.status is Status.NOT_RESOLVED


def test_without_taking_the_drive_off_the_pole_reads_too_long() -> None:
    plain = readings(*instants_ms(2.0, "ramp")).rising
    assert plain is not None
    assert (plain.time_constant.value or 0.0) > 2.15e-3


@pytest.mark.parametrize("t90_ms", [1.5, 2.0, 2.1])
def test_what_the_drive_alone_explains_is_only_a_bound(t90_ms: float) -> None:
    found = behind_known_drive(readings(0.0, t90_ms), RISE_MS / 1e3).rising
    assert found is not None
    assert found.time_constant.status is Status.AT_MOST
    assert 0 < (found.time_constant.bound or 0.0) < 1.2e-3


def test_every_term_of_the_uncertainty_counts() -> None:
    near = instants_ms(2.0, "ramp")
    base = behind_known_drive(readings(*near, error_ms=1e-4), RISE_MS / 1e3).rising
    coarse = behind_known_drive(readings(*near, error_ms=0.1), RISE_MS / 1e3).rising
    far = behind_known_drive(readings(*instants_ms(12.0, "ramp"), error_ms=1e-4), RISE_MS / 1e3).rising
    assert base is not None
    assert coarse is not None
    assert far is not None
    u_base, u_coarse, u_far = ((side.time_constant.u or 0.0) for side in (base, coarse, far))
    # 0.1 ms either way is u = 0.1 / sqrt(3) an instant, sqrt(2) of it on their difference, over at most ln 9.
    assert u_coarse**2 - u_base**2 > (0.1e-3 * math.sqrt(2 / 3) / math.log(9)) ** 2
    # Shape: half of what ramp and exponential differ by, over the root of three; and 5 % of 2 ms either way.
    assert u_base > 0.03e-3
    assert u_far < u_base / 2, "a slow pole hardly feels the drive"


def test_the_result_says_what_was_told_and_no_longer_that_the_drive_is_inside() -> None:
    plain = readings(*instants_ms(4.7, "ramp"))
    found = behind_known_drive(replace(plain, falling=plain.rising), RISE_MS / 1e3)
    codes = [caveat.code for caveat in found.caveats]
    assert ("drive_told" in codes, "includes_drive" in codes) == (True, False)
    assert found.drive_kind == "told"
    assert found.asymmetry.value == pytest.approx(1.0)
    assert found.drive_transition is not None
    assert found.drive_transition.value == pytest.approx(2e-3)


def test_a_direction_without_a_transition_stays_as_it_is() -> None:
    edge = TypedEdge(direction="falling", t50_s=3e-3, drive_s=0.0, time_error_s=1e-4)
    plain = measure_typed([TypedReadings(edges=(edge,), provenance=Provenance())])
    assert behind_known_drive(plain, 2e-3).falling == plain.falling
