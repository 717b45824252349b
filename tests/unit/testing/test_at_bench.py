"""The foreign bench tells the truth of its circuits: against closed forms, and its own noise-free output."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.testing.at_bench import EFFECTS, BenchSetup, draw_bench, take_capture
from feelcheck.testing.at_bench.circuit import cascade, truth_of
from feelcheck.testing.at_bench.setup import Drive, Instrument, Linear, Sampler

STILL = Instrument(noise=0.0, bits=24, duration_s=0.08)


def test_a_ladder_has_the_poles_and_the_delay_of_its_parts() -> None:
    # two loaded sections: the sum of the time constants is R1 C1 + (R1 + R2) C2 (Elmore 1948), their product R1C1R2C2
    r1, c1, r2, c2 = 1e3, 1e-6, 2e3, 0.5e-6
    stage = Linear.ladder(r1, c1, r2, c2)
    poles = -1 / np.linalg.eigvals(stage.a).real
    assert np.sum(poles) == pytest.approx(r1 * c1 + (r1 + r2) * c2)
    assert np.prod(poles) == pytest.approx(r1 * c1 * r2 * c2)
    truth = truth_of(BenchSetup(stages=(stage,)))
    assert truth["mean_delay"] == pytest.approx(r1 * c1 + (r1 + r2) * c2)
    assert truth["time_constant"] == pytest.approx(np.max(poles))


def test_a_cascade_is_the_product_of_its_stages() -> None:
    stages = (Linear.pole(2e-3, direct=0.3), Linear.ladder(1e3, 1e-6, 2e3, 0.5e-6), Linear.pole(1e-4))
    whole, s = cascade(stages), 2j * np.pi * 123.0

    def at(stage: Linear) -> complex:
        return complex(stage.c @ np.linalg.solve(s * np.eye(len(stage.b)) - stage.a, stage.b) + stage.d)

    assert at(whole) == pytest.approx(np.prod([at(stage) for stage in stages]))


@pytest.mark.parametrize("kind", ["coil", "exponential", "second_order", "s_curve", "generator"])
def test_the_delay_between_the_columns_is_the_true_one(kind: str) -> None:
    stages = (
        Sampler(hold_s=0.3e-3, phase=0.4, conversion_s=0.1e-3),
        Linear.pole(3e-3, direct=0.2),
        Linear.pole(0.5e-3),
    )
    setup = BenchSetup(drive=Drive(kind=kind, time_s=1e-3), stages=stages, instrument=STILL)  # type: ignore[arg-type]
    areas = []
    for phase in np.linspace(0.0, 0.9, 10):
        shifted = replace(setup, stages=(replace(stages[0], phase=float(phase)), *stages[1:]))
        seen = take_capture(shifted, np.random.default_rng(0))
        drive, output = (c.values - c.values[0] for c in seen.capture.channels)
        areas.append(float(np.trapezoid(drive / drive[-1] - output / output[-1], seen.capture.t_s)))
    assert np.mean(areas) == pytest.approx(truth_of(setup)["mean_delay"], rel=2e-3)


@pytest.mark.parametrize("effect", EFFECTS)
def test_every_effect_makes_a_capture(effect: str) -> None:
    rng = np.random.default_rng(3)
    seen = take_capture(draw_bench(effect, rng), rng).capture
    assert np.all(np.diff(seen.t_s) > 0)
    assert all(np.ptp(channel.values) > 0 for channel in seen.channels)
