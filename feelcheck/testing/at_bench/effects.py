"""Named effects, and benches drawn from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np

from feelcheck.testing.at_bench.setup import BenchSetup, Drive, Instrument, Linear, Sampler, SlewLimit, Squash

__all__ = ["EFFECTS", "draw_bench"]

Effect = Callable[[BenchSetup, np.random.Generator], BenchSetup]
MIXED = 3
SETTLED_TAUS = 7.0


def _log(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def draw_bench(effect: str, rng: np.random.Generator) -> BenchSetup:
    """Return a bench with one effect (or several: "mixed"), everything else drawn.

    Parameters
    ----------
    effect : str
        A key of `EFFECTS`.
    rng : numpy.random.Generator
        Draws.
    """
    tau = _log(rng, 0.3e-3, 25e-3)
    drive = Drive(
        kind=str(rng.choice(["coil", "exponential", "s_curve", "second_order"])),  # type: ignore[arg-type]
        time_s=min(_log(rng, 0.1e-3, 4e-3), 3 * tau),
        headroom=float(rng.uniform(1.05, 3.0)),
        damping=float(rng.uniform(0.6, 0.95)),
    )
    settles = SETTLED_TAUS * tau + 6 * drive.time_s
    n_edges = int(rng.integers(1, 4))
    before = float(rng.uniform(0.15, 0.5)) * settles
    duration = before + (n_edges - 1) * settles + settles * float(rng.uniform(0.9, 1.5))
    instrument = Instrument(
        duration_s=duration,
        interval_s=duration / float(rng.choice([1500, 4000, 10000])),
        before_s=before,
        bits=int(rng.choice([8, 8, 10, 12])),
        range_over=float(rng.uniform(1.1, 2.5)),
        noise=_log(rng, 0.001, 0.012),
    )
    setup = BenchSetup(
        drive=drive,
        stages=(Linear.pole(tau),),
        instrument=instrument,
        n_edges=n_edges,
        half_period_s=settles,
        gain_v=float(rng.uniform(0.2, 1.5)) * float(rng.choice([-1.0, 1.0])),
    )
    return EFFECTS[effect](setup, rng)


def _tau(setup: BenchSetup) -> float:
    """The drawn time constant, of the setup as it was before its stages were changed."""
    return (setup.half_period_s - 6 * setup.drive.time_s) / SETTLED_TAUS


def _look(**draws: Callable[[BenchSetup, np.random.Generator], Any]) -> Effect:
    def change(setup: BenchSetup, rng: np.random.Generator) -> BenchSetup:
        return replace(
            setup, instrument=replace(setup.instrument, **{k: draw(setup, rng) for k, draw in draws.items()})
        )

    return change


def _driven(**draws: Callable[[BenchSetup, np.random.Generator], Any]) -> Effect:
    def change(setup: BenchSetup, rng: np.random.Generator) -> BenchSetup:
        return replace(setup, drive=replace(setup.drive, **{k: draw(setup, rng) for k, draw in draws.items()}))

    return change


def _stages(make: Callable[[float, np.random.Generator], tuple[Any, ...]]) -> Effect:
    return lambda setup, rng: replace(setup, stages=make(_tau(setup), rng))


def _ladder(tau: float, rng: np.random.Generator) -> tuple[Linear, ...]:
    r1, ratio_r, ratio_c = 1e4, _log(rng, 0.2, 3.0), _log(rng, 0.02, 0.6)
    c1 = tau / (r1 * (1 + ratio_c * (1 + ratio_r)))
    return (Linear.ladder(r1, c1, r1 * ratio_r, c1 * ratio_c),)


def _potentiometer(tau: float, rng: np.random.Generator) -> tuple[Linear, ...]:
    """A wiper whose own resistance changes little over the step, a load that bends its curve, cable capacitance."""
    return (Squash(kind="tanh", strength=float(rng.uniform(0.05, 0.25))), Linear.pole(tau), Linear.pole(0.01 * tau))  # type: ignore[return-value]


def _op_amp(tau: float, rng: np.random.Generator) -> tuple[Linear, ...]:
    return (Linear.pole(tau * _log(rng, 0.002, 0.05)), Linear.pole(tau), Linear.pole(tau * _log(rng, 0.002, 0.05)))


def _eddy(tau: float, rng: np.random.Generator) -> tuple[Linear, ...]:
    """A part of the field follows the current late."""
    late = Linear.pole(tau * _log(rng, 0.05, 0.5), direct=float(rng.uniform(0.4, 0.9)))
    return (late, Linear.pole(tau))


def _soaking(tau: float, rng: np.random.Generator) -> tuple[Linear, ...]:
    """A capacitor whose dielectric takes up a few percent slowly."""
    return (Linear.pole(tau), Linear.pole(tau * _log(rng, 3.0, 10.0), direct=float(rng.uniform(0.95, 0.99))))


def _few_samples(setup: BenchSetup, rng: np.random.Generator) -> float:
    return setup.instrument.duration_s / float(rng.choice([60, 120, 300]))


def _held(share: tuple[float, float], pole: bool) -> Effect:
    def change(setup: BenchSetup, rng: np.random.Generator) -> BenchSetup:
        tau = _tau(setup)
        hold = min(tau * _log(rng, *share), 1.5e-3)
        sampler = Sampler(hold_s=hold, phase=float(rng.random()), conversion_s=hold * float(rng.uniform(0.0, 0.5)))
        return replace(setup, stages=(sampler, *setup.stages) if pole else (sampler,))

    return change


def _bare(setup: BenchSetup, _: np.random.Generator) -> BenchSetup:
    return replace(setup, stages=(Linear.pole(1e-3 * setup.drive.time_s),))


def _fast_pole(setup: BenchSetup, rng: np.random.Generator) -> BenchSetup:
    return replace(setup, stages=(Linear.pole(setup.drive.time_s * _log(rng, 0.02, 0.3)),))


def _everything(setup: BenchSetup, rng: np.random.Generator) -> BenchSetup:
    names = [name for name in EFFECTS if name not in APART]
    for name in rng.choice(names, MIXED, replace=False).tolist():
        setup = EFFECTS[name](setup, rng)
    return setup


APART = frozenset(("mixed", "slew", "soft saturation", "diode clamp", "potentiometer", "hold", "hold and pole", "bare",
                   "fast pole", "no drive", "AC coupling", "relay bounce"))  # fmt: skip
"""Effects that are not mixed: what they leave has no single time constant, or hides it from everybody."""
EFFECTS: Mapping[str, Effect] = MappingProxyType(
    {
        "plain": lambda setup, _: setup,
        "ladder": _stages(_ladder),
        "op-amp": _stages(_op_amp),
        "zero": _stages(lambda tau, rng: (Linear.pole(tau, direct=float(rng.uniform(0.02, 0.25))),)),
        "two poles": _stages(lambda tau, rng: (Linear.pole(tau), Linear.pole(tau * _log(rng, 0.05, 0.7)))),
        "eddy currents": _stages(_eddy),
        "soaking": _stages(_soaking),
        "potentiometer": _stages(_potentiometer),
        "slew": lambda setup, rng: replace(
            setup, stages=(*setup.stages, SlewLimit(rate_per_s=float(rng.uniform(0.1, 0.6)) / _tau(setup)))
        ),
        "soft saturation": lambda setup, rng: replace(
            setup, stages=(Squash(kind="tanh", strength=float(rng.uniform(0.4, 1.5))), *setup.stages)
        ),
        "diode clamp": lambda setup, rng: replace(
            setup, stages=(*setup.stages, Squash(kind="diode", strength=float(rng.uniform(0.75, 1.0))))
        ),
        "bare": _bare,
        "fast pole": _fast_pole,
        "hold": _held((0.05, 1.0), pole=False),
        "hold and pole": _held((0.1, 3.0), pole=True),
        "overshoot": _driven(kind=lambda *_: "second_order", damping=lambda _, rng: float(rng.uniform(0.25, 0.6))),
        "freewheel": _driven(kind=lambda *_: "exponential", fall_ratio=lambda _, rng: float(rng.uniform(1.5, 4.0))),
        "generator": _driven(kind=lambda *_: "generator", time_s=lambda setup, _: 0.3 * setup.instrument.interval_s),
        "chopper": _driven(
            ripple=lambda _, rng: float(rng.uniform(0.005, 0.03)),
            ripple_hz=lambda setup, rng: float(rng.uniform(0.3, 3.3)) / setup.instrument.interval_s,
        ),
        "relay bounce": _driven(bounces=lambda _, rng: int(rng.integers(1, 4))),
        "pink noise": _look(pink=lambda _, rng: _log(rng, 0.002, 0.01)),
        "hum": _look(hum=lambda _, rng: _log(rng, 0.002, 0.02), hum_hz=lambda _, rng: float(rng.choice([50.0, 60.0]))),
        "other pick-up": _look(hum=lambda _, rng: _log(rng, 0.002, 0.01), hum_hz=lambda _, rng: _log(rng, 90.0, 5e3)),
        "nonlinear converter": _look(curvature=lambda _, rng: float(rng.uniform(-0.006, 0.006))),
        "coupling": _look(coupling_s=lambda setup, rng: float(rng.uniform(-0.02, 0.02)) * setup.drive.time_s),
        "AC coupling": _look(ac_corner_s=lambda setup, rng: setup.instrument.duration_s * _log(rng, 2.0, 20.0)),
        "skew": _look(skew_s=lambda setup, rng: float(rng.uniform(-1.0, 1.0)) * setup.instrument.interval_s),
        "jitter": _look(jitter=lambda _, rng: float(rng.uniform(0.1, 0.5))),
        "uneven": _look(uneven=lambda _, rng: float(rng.uniform(0.3, 0.95))),
        "rounded times": _look(time_digits=lambda _, rng: int(rng.integers(0, 2))),
        "averaging": _look(
            averages=lambda _, rng: int(rng.choice([4, 16])),
            trigger_jitter_s=lambda setup, rng: float(rng.uniform(0.0, 2.0)) * setup.instrument.interval_s,
        ),
        "peak detect": _look(peak_detect=lambda *_: True),
        "slow probe": _look(probe_s=lambda setup, rng: float(rng.uniform(0.2, 2.0)) * setup.instrument.interval_s),
        "few samples": _look(interval_s=_few_samples),
        "noisy": _look(noise=lambda _, rng: _log(rng, 0.02, 0.06)),
        "cut": _look(
            duration_s=lambda setup, rng: (
                setup.instrument.before_s
                + 6 * setup.drive.time_s
                + (setup.n_edges - 1) * setup.half_period_s
                + _tau(setup) * float(rng.uniform(0.8, 3.0))
            )
        ),
        "no drive": lambda setup, rng: _look(has_drive=lambda *_: False)(EFFECTS["generator"](setup, rng), rng),
        "mixed": _everything,
    }
)
