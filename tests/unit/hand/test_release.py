from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.hand import prepare
from feelcheck.hand.release import METRIC
from feelcheck.model import Estimate, Provenance, Recording, Status, Stream, TimeBase

Floats = NDArray[Any]
OMEGA = 2 * math.pi * 40.0


def viscous(back_s: Floats, zeta: float) -> Floats:
    turn = OMEGA * math.sqrt(1 - zeta**2)
    swing = np.cos(turn * back_s) + zeta * OMEGA / turn * np.sin(turn * back_s)
    return np.asarray(np.exp(-zeta * OMEGA * back_s) * swing)


def dry(back_s: Floats, friction: float) -> Floats:
    """Half cosines about +-friction, each half swing 2 x friction shorter: textbook dry friction (from memory)."""
    half = np.floor(back_s * OMEGA / math.pi)
    size = 1.0 - friction - 2 * friction * half
    side = np.where(half % 2 == 0, 1.0, -1.0)
    return np.where(size > 0, side * friction + size * np.cos(OMEGA * back_s), 0.0)


def log(
    way_back: Any,
    *,
    rate_hz: float = 1000.0,
    scale: float = 30000.0,
    tau_s: float = 0.0,
    noise: float = 0.0,
    seed: int = 1,
    n_releases: int = 8,
) -> Recording:
    """Diagonal flicks every 1.5 s at random phases to the reports, let go after 0.6 s."""
    rng = np.random.default_rng(seed)
    fine_s = np.arange(int((1.5 * n_releases + 1.5) * 8000)) / 8000.0
    reach = np.zeros(fine_s.size)
    turn = np.zeros(fine_s.size)
    for k in range(n_releases):
        since = fine_s - 1.0 - 1.5 * k - rng.uniform(0, 0.01)
        out = np.minimum(1.2 * np.clip(since / 0.08, 0, 1) ** 2, 1.0)
        back = np.maximum(since - 0.6, 0.0)
        own = (since > 0) & (since < 1.45)
        reach += own * np.where(since < 0.6, out, way_back(back))
        turn[own] = np.radians(45.0 + 90.0 * k)
    xy = reach * np.stack([np.cos(turn), np.sin(turn)])
    if tau_s:
        share = 1 - math.exp(-1 / 8000.0 / tau_s)
        for k in range(1, fine_s.size):
            xy[:, k] = xy[:, k - 1] + share * (xy[:, k] - xy[:, k - 1])
    t_s = np.arange(int(fine_s[-1] * rate_hz)) / rate_hz
    seen = xy[:, np.searchsorted(fine_s, t_s)] + rng.normal(0, noise, (2, t_s.size))
    time = TimeBase.from_instants(t_s + rng.uniform(0, 2e-5, t_s.size))
    streams = tuple(
        Stream(name=n, time=time, codes=np.round(scale * v).astype(np.int64)) for n, v in zip("xy", seen, strict=True)
    )
    return Recording(streams=streams, provenance=Provenance())


def measured(recording: Recording) -> dict[str, Estimate]:
    return {f.estimate.quantity: f.estimate for f in METRIC.measure(prepare(recording)).findings}


@pytest.mark.parametrize("scale", [127.0, 2047.0])
@pytest.mark.parametrize("zeta", [0.12, 0.3])
def test_ring_damping_and_overshoot_of_a_plain_spring(zeta: float, scale: float) -> None:
    found = measured(log(lambda back: viscous(back, zeta), scale=scale, noise=0.3 / scale))
    assert found["ring_frequency"].value == pytest.approx(40.0 * math.sqrt(1 - zeta**2), rel=0.02)
    assert found["natural_frequency"].value == pytest.approx(40.0, rel=0.02)
    assert found["damping_ratio"].value == pytest.approx(zeta, rel=0.05)
    assert found["overshoot"].value == pytest.approx(math.exp(-math.pi * zeta / math.sqrt(1 - zeta**2)), abs=0.015)
    assert found["coulomb_friction"].status is not Status.OK


def test_the_electronics_take_their_share_of_the_ring() -> None:
    found = measured(log(lambda back: viscous(back, 0.2), tau_s=0.005))
    ring = 2 * math.pi * 40.0 * math.sqrt(1 - 0.04)
    assert found["ring_frequency"].value == pytest.approx(ring / 2 / math.pi, rel=0.02)
    assert found["ring_attenuation"].value == pytest.approx(1 / math.hypot(1, ring * 0.005), rel=0.05)


@pytest.mark.parametrize("scale", [127.0, 2047.0])
@pytest.mark.parametrize("noise", [0.3, 1.5])
def test_no_ring_is_made_of_steps_or_noise(scale: float, noise: float) -> None:
    found = measured(log(lambda back: np.exp(-back / 0.008) * (1 + back / 0.008), scale=scale, noise=noise / scale))
    assert found["ring_frequency"].status is Status.NOT_RESOLVED
    assert found["overshoot"].status is Status.AT_MOST
    assert (found["overshoot"].bound or 1.0) < 6 * (1 + noise) / scale


def test_dry_friction_is_told_from_viscous_damping() -> None:
    found = measured(log(lambda back: dry(back, 0.05), scale=2047.0))
    assert found["coulomb_friction"].value == pytest.approx(0.05, rel=0.2)
    assert "coulomb_friction_present" in [c.code for c in found["damping_ratio"].caveats]


def test_settling_counts_from_half_way_to_the_band() -> None:
    tau_s = 0.02
    found = measured(log(lambda back: np.exp(-back / tau_s), scale=30000.0))
    # one pole from displacement d: ln(d / band) - ln 2 (IEC 60469:2013 counts from the 50 % instant); here d = 0.707
    assert found["settling_time"].value == pytest.approx(tau_s * math.log(0.7071 / 0.02 / 2), rel=0.05)
    assert "settling_band" in [c.code for c in found["settling_time"].caveats]


def test_a_slow_log_says_nothing_about_the_ring() -> None:
    found = measured(log(lambda back: viscous(back, 0.2), rate_hz=60.0))
    for quantity in ("ring_frequency", "damping_ratio"):
        estimate = found[quantity]
        assert not estimate.is_ok or (estimate.u or 0) > 0.1 * (estimate.value or 0) or estimate.caveats


def test_without_releases_everything_is_missing_with_a_reason() -> None:
    t_s = np.arange(4000) / 500.0
    stream = Stream(name="x", time=TimeBase.from_instants(t_s), codes=np.round(900 * np.sin(3 * t_s)).astype(np.int64))
    found = measured(Recording(streams=(stream,), provenance=Provenance()))
    assert {e.status for e in found.values()} == {Status.NOT_RESOLVED}
    assert found["ring_frequency"].caveats[0].code == "no_release"


def test_traces_carry_the_return_and_its_model() -> None:
    output = METRIC.measure(prepare(log(lambda back: viscous(back, 0.2))))
    trace = output.traces[0]
    assert trace.kind == "release"
    misfit = trace.arrays["measured_fraction"] - trace.arrays["model_fraction"]
    assert float(np.sqrt(np.mean(misfit**2))) < 0.02
