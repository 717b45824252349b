"""No stair steps are denied where they could not have been seen."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.model import Estimate, Status
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture


def update_interval(rise_s: float, hold_s: float = 0.0, tau_s: float = 0.0, noise_v: float = 3e-3) -> Estimate:
    """The update interval found on one simulated edge."""
    coil = Coil(rise_s=rise_s, fall_s=rise_s, n_edges=1)
    parts = Parts(poles_s=(tau_s,)) if tau_s else Parts()
    scope = Scope(duration_s=60e-3, noise_v=noise_v)
    world = BenchWorld(coil=coil, sensor=Sensor(sample_interval_s=hold_s), parts=parts, scope=scope)
    return measure_response(simulate_capture(world, np.random.default_rng(6))).update_interval


@pytest.mark.parametrize(
    ("rise_s", "tau_s", "noise_v", "reason"),
    [
        (1.2e-3, 0.0, 3e-3, "fewer than 4"),
        (3e-3, 4.7e-3, 3e-3, "filter"),
        (3e-3, 0.0, 0.1, "noise"),
    ],
)
def test_a_look_that_could_not_find_steps_denies_none(rise_s: float, tau_s: float, noise_v: float, reason: str) -> None:
    for hold_s in (0.0, 0.65e-3) if "fewer" not in reason else (0.0,):
        found = update_interval(rise_s, hold_s, tau_s, noise_v)
        assert found.status is Status.NOT_RESOLVED
        assert reason in found.caveats[0].text


def test_a_look_that_would_have_found_them_does() -> None:
    assert update_interval(1.2e-3, 0.65e-3).value == pytest.approx(0.65e-3, rel=0.02)
    assert update_interval(3e-3).status is Status.NOT_PRESENT
    assert update_interval(3e-3, 0.65e-3).value == pytest.approx(0.65e-3, rel=0.01)
