"""How often "same sensor" verdicts are wrong, on simulated boards built both ways.

Boards draw parts, meter errors, specimen spread and measurement noise; the same sensor type sits behind different
parts, or another type does. Wrong verdicts are held at 5 %, and the decided share must grow with the separation.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from feelcheck.comparison.same_sensor import BoardResponse, compare_sensors
from feelcheck.model import Estimate

pytestmark = pytest.mark.statistical
METER = 0.01


def board(
    rng: np.random.Generator, name: str, own_delay_ms: float, sensitivity: float, step_ms: float
) -> BoardResponse:
    """A board whose sensor has a delay and a sensitivity of its own type, spread by a specimen."""
    network_ms = rng.uniform(0.5, 6.0)
    own = own_delay_ms + rng.normal(0, 0.03)
    shows = network_ms < 1.0
    hidden_ms = 0.0 if shows else step_ms / 2
    delay_ms, u_ms = network_ms + own + hidden_ms, 0.004 * network_ms + 0.01
    gain = sensitivity * np.exp(rng.normal(0, 0.04))
    step = step_ms * np.exp(rng.normal(0, 0.01))
    return BoardResponse(
        name=name,
        delay=Estimate.measured("d", (delay_ms + rng.normal(0, u_ms)) / 1e3, u=u_ms / 1e3, unit="s", dof=10),
        network_delay=Estimate.measured(
            "n", network_ms * (1 + rng.normal(0, METER)) / 1e3, u=METER * network_ms / 1e3, unit="s", dof=50
        ),
        update_interval=Estimate.measured("update_interval", step / 1e3, u=2e-6, unit="s", dof=20)
        if shows
        else Estimate.not_present("update_interval", unit="s"),
        sensitivity=Estimate.measured(
            "sensitivity", gain * (1 + rng.normal(0, 0.01)), u=0.01 * gain, unit="V/A", dof=10
        ),
        saturation_swing=Estimate.not_present("saturation_swing", unit="V"),
        drive_unit="A",
        drive_s=0.002,
    )


def verdicts(seed: int, delay_apart_ms: float, gain_ratio: float, n_pairs: int = 300) -> Counter[str]:
    rng = np.random.default_rng(seed)
    pairs = (
        (board(rng, "a", 0.2, 1.0, 0.667), board(rng, "b", 0.2 + delay_apart_ms, gain_ratio, 0.667))
        for _ in range(n_pairs)
    )
    return Counter(compare_sensors(*pair).verdict for pair in pairs)


def test_one_sensor_is_rarely_called_different_and_mostly_decided() -> None:
    found = verdicts(11, 0.0, 1.0, 900)
    assert found["different"] <= 45
    assert found["consistent_with_one_sensor"] >= 450


@pytest.mark.parametrize(("delay_apart_ms", "gain_ratio"), [(1.5, 1.0), (0.0, 1.6), (3.0, 2.0)])
def test_two_sensors_are_rarely_called_one(delay_apart_ms: float, gain_ratio: float) -> None:
    found = verdicts(12, delay_apart_ms, gain_ratio)
    assert found["consistent_with_one_sensor"] <= 15


def test_the_decided_share_grows_with_the_separation() -> None:
    shares = [verdicts(13, apart, 1.0)["different"] for apart in (0.5, 1.0, 2.0, 4.0)]
    assert shares == sorted(shares)
    assert shares[-1] >= 285


def test_a_type_that_is_fifteen_per_cent_more_sensitive_is_rarely_called_the_same() -> None:
    assert verdicts(14, 0.0, 1.15, 1500)["consistent_with_one_sensor"] <= 75
