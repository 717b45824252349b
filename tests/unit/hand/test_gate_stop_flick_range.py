"""What the rim allows in one flick alone, held against flicks made by formula."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.hand.gate_stop.flick_range import flick_range
from feelcheck.model import FloatArray

INTERVAL_S = 0.001
FINE = 20


def flick(tau_s: float, *, seed: int = 1, angle_deg: float = 45.0, noise: float = 2e-4) -> tuple[FloatArray, ...]:
    """Return a stick that is driven into a hard rim at speed, behind one pole stepped finely."""
    t = np.arange(0.0, 0.9, INTERVAL_S / FINE)
    radius = np.clip((t - 0.3) / 0.06, 0.0, 1.0) ** 1.3
    kept = np.exp(-INTERVAL_S / FINE / tau_s)
    out = np.empty_like(radius)
    y = 0.0
    for k, goal in enumerate(radius):
        y = goal + (y - goal) * kept
        out[k] = y
    rng = np.random.default_rng(seed)
    seen = out[::FINE]
    angle = np.radians(angle_deg)
    x, y_axis = (seen * share + noise * rng.standard_normal(seen.size) for share in (np.cos(angle), np.sin(angle)))
    return t[::FINE], x, y_axis


@pytest.mark.parametrize("tau_s", [0.004, 0.009, 0.02])
@pytest.mark.parametrize("angle_deg", [45.0, 225.0, 10.0])
def test_the_range_of_a_hard_stop_holds_the_truth(tau_s: float, angle_deg: float) -> None:
    low_s, high_s = flick_range(*flick(tau_s, angle_deg=angle_deg))
    assert high_s is not None
    assert (low_s or 0.0) <= tau_s <= high_s
    assert high_s < 2.0 * tau_s


def test_too_little_says_nothing() -> None:
    t_s, x, y = flick(0.009)
    assert flick_range(t_s[:8], x[:8], y[:8]) == (None, None)
    assert flick_range(t_s, 0.1 * x, 0.1 * y) == (None, None)
