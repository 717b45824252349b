"""Whatever the bench measures names every term of its uncertainty, and their squares add up to it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, replace

import numpy as np
import pytest

from feelcheck.bench import behind_known_drive, measure_response, measure_typed, pool_repeats
from feelcheck.formats.reading_lines import parse_readings
from feelcheck.model import BenchDirection, BenchResult, Capture, Estimate
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

SCOPE = Scope(interval_s=40e-6)
POLE = BenchWorld(parts=Parts(poles_s=(4.7e-3,)), scope=SCOPE)


def captured(world: BenchWorld, seed: int = 3) -> Capture:
    return simulate_capture(world, np.random.default_rng(seed))


def swept() -> Capture:
    """A slow ramp of the drive, which the output follows."""
    capture = captured(replace(POLE, parts=Parts()))
    n, rng = capture.t_s.size, np.random.default_rng(1)
    ramp = 1.0 - np.abs(np.linspace(-1.0, 1.0, n))
    drive, output = capture.channels
    channels = replace(drive, values=ramp), replace(output, values=ramp + 1e-3 * rng.standard_normal(n))
    return replace(capture, channels=channels)


def alone(capture: Capture) -> Capture:
    return replace(capture, channels=tuple(c for c in capture.channels if c.role == "output"))


READINGS = [
    "rising t10 = 0.5 ms, t50 = 3.3 ms, t90 = 10.8 ms, drive = 0.1 ms, error = 0.1 ms",
    "falling 10-90 = 9.1 ms",
]
RESULTS = {
    "pole": lambda: measure_response(captured(POLE)),
    "two poles": lambda: measure_response(captured(replace(POLE, parts=Parts(poles_s=(4.7e-3, 1.5e-3))))),
    "stairs": lambda: measure_response(
        captured(BenchWorld(coil=Coil(rise_s=6e-3, fall_s=6e-3), sensor=Sensor(sample_interval_s=0.65e-3), scope=SCOPE))
    ),
    "weak sink": lambda: measure_response(
        captured(replace(POLE, parts=Parts(sink="current", sink_a=8e-6, c_pin_f=1e-7, r_series_ohm=1e3)))
    ),
    "sweep": lambda: measure_response(swept()),
    "no drive": lambda: measure_response(alone(captured(POLE))),
    "told drive": lambda: behind_known_drive(measure_response(alone(captured(POLE))), 2e-3),
    "readings": lambda: measure_typed([parse_readings(READINGS)]),
    "repeats": lambda: pool_repeats([measure_response(captured(POLE, seed)) for seed in (1, 2)]),
}


def estimates(part: BenchResult | BenchDirection) -> Iterator[Estimate]:
    for value in (getattr(part, field.name) for field in fields(part)):
        if isinstance(value, Estimate):
            yield value
        elif isinstance(value, BenchDirection):
            yield from estimates(value)
    yield from part.extra.values()
    yield from part.poles if isinstance(part, BenchDirection) else ()


@pytest.mark.parametrize("kind", RESULTS)
def test_the_squares_of_the_terms_add_up(kind: str) -> None:
    told = [one for one in estimates(RESULTS[kind]()) if one.is_ok and one.u]
    assert len(told) >= 5
    for one in told:
        assert one.terms, one.quantity
        assert math.hypot(*(term.u for term in one.terms)) == pytest.approx(one.u, rel=1e-9), one.quantity
