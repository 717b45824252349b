"""Drive and stages on a fine grid, and what is true of them."""

from __future__ import annotations

import numpy as np
from scipy import linalg, signal

from feelcheck.model import FloatArray
from feelcheck.testing.at_bench.setup import BenchSetup, Drive, Linear, Sampler, SlewLimit, Squash

__all__ = ["cascade", "drive_on", "passed", "truth_of"]

MAIN_SHARE = 0.2
"""Part of the step that the slowest exponential must carry to be called the time constant."""


def drive_on(t: FloatArray, setup: BenchSetup, rng: np.random.Generator) -> FloatArray:
    """Return the drive at every instant, between 0 and 1, shape (n,).

    Parameters
    ----------
    t : ndarray, shape (n,)
        Instants, s.
    setup : BenchSetup
        Drive and instrument.
    rng : numpy.random.Generator
        Source of bounces and ripple.
    """
    begins = setup.instrument.before_s + setup.half_period_s * np.arange(setup.n_edges)
    level, found = 0.0, np.zeros(t.size)
    for k, begin in enumerate(begins):
        goal = 1.0 - k % 2
        after = t >= begin
        contact = _contact(t[after] - begin, setup.drive, rng)
        way = _way(contact, setup.drive, 1.0 if goal else setup.drive.fall_ratio)
        found[after] = level + (goal - level) * way
        level = goal
    turns = setup.drive.ripple_hz * t + rng.random()
    return np.asarray(found + setup.drive.ripple * signal.sawtooth(2 * np.pi * turns, 0.5))


def _contact(since: FloatArray, drive: Drive, rng: np.random.Generator) -> FloatArray:
    """For how long the contact has been closed: time stands still while a bounce has it open."""
    if not drive.bounces:
        return since
    opened = np.zeros(since.size, dtype=bool)
    for begin in np.sort(rng.uniform(0.1e-3, 2e-3, drive.bounces)):
        opened |= (since > begin) & (since < begin + rng.uniform(0.05e-3, 0.3e-3))
    step = since[1] - since[0] if since.size > 1 else 0.0
    return np.asarray(np.cumsum(~opened) * step)


def _way(since: FloatArray, drive: Drive, slower: float) -> FloatArray:
    tau = drive.time_s * slower
    if drive.kind == "generator":
        return np.clip(since / max(tau, 1e-9), 0.0, 1.0)
    if drive.kind == "s_curve":
        return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(since / tau, 0.0, 1.0)))
    if drive.kind == "second_order":
        w = np.sqrt(1 - drive.damping**2) / tau
        decay = np.exp(-drive.damping * since / tau)
        return np.asarray(1 - decay * (np.cos(w * since) + drive.damping / (w * tau) * np.sin(w * since)))
    aims = drive.headroom if drive.kind == "coil" else 1.0
    return np.minimum(aims * -np.expm1(-since / tau), 1.0)


def passed(values: FloatArray, t: FloatArray, setup: BenchSetup) -> FloatArray:
    """Return the drive after all stages, shape (n,).

    Parameters
    ----------
    values : ndarray, shape (n,)
        The drive, 0 to 1.
    t : ndarray, shape (n,)
        Even instants, s.
    setup : BenchSetup
        With its stages.
    """
    step = float(t[1] - t[0])
    for stage in setup.stages:
        if isinstance(stage, Linear):
            values = _linear(values, stage, step)
        elif isinstance(stage, Sampler):
            values = _sampled(values, t, stage)
        elif isinstance(stage, SlewLimit):
            values = _slewed(values, stage.rate_per_s * step)
        else:
            values = _squashed(values, stage)
    return values


def _linear(values: FloatArray, stage: Linear, step: float) -> FloatArray:
    parts = stage.a, stage.b[:, None], stage.c[None, :], np.array([[stage.d]])
    discrete = signal.cont2discrete(parts, step, "foh")
    b, a = signal.ss2tf(*discrete[:4])
    start = signal.lfilter_zi(b[0], a) * values[0]
    return np.asarray(signal.lfilter(b[0], a, values, zi=start)[0])


def _sampled(values: FloatArray, t: FloatArray, stage: Sampler) -> FloatArray:
    ticks = (np.floor((t - stage.conversion_s) / stage.hold_s - stage.phase) + stage.phase) * stage.hold_s
    return np.interp(ticks, t, values)


def _slewed(values: FloatArray, most: float) -> FloatArray:
    at, found = float(values[0]), []
    for value in values.tolist():
        at += min(max(value - at, -most), most)
        found.append(at)
    return np.array(found)


def _squashed(values: FloatArray, stage: Squash) -> FloatArray:
    if stage.kind == "tanh":
        return np.asarray(0.5 + 0.5 * np.tanh(stage.strength * (2 * values - 1)) / np.tanh(stage.strength))
    knee = 0.02
    over = (values - stage.strength) / knee
    return np.asarray(values - knee * np.logaddexp(0.0, over))


def cascade(stages: tuple[Linear, ...]) -> Linear:
    """Return linear stages in a row as one.

    Parameters
    ----------
    stages : tuple of Linear
        Linear stages, the first one first.
    """
    whole = Linear(a=np.zeros((0, 0)), b=np.zeros(0), c=np.zeros(0), d=1.0)
    for stage in stages:
        a = linalg.block_diag(whole.a, stage.a)
        a[len(whole.b) :, : len(whole.b)] = np.outer(stage.b, whole.c)
        whole = Linear(
            a=a,
            b=np.concatenate([whole.b, stage.b * whole.d]),
            c=np.concatenate([stage.d * whole.c, stage.c]),
            d=stage.d * whole.d,
        )
    return whole


def truth_of(setup: BenchSetup) -> dict[str, float]:
    """Return time constant, mean delay and hold in s; what has no such number is missing.

    Parameters
    ----------
    setup : BenchSetup
        The simulated bench.

    Notes
    -----
    The step response is 1 - sum of shares times exponentials; the time constant is that of the slowest exponential
    with a share of a fifth. The mean delay is -H'(0) / H(0), plus conversion time and half of what is held.
    """
    found: dict[str, float] = {}
    samplers = [stage for stage in setup.stages if isinstance(stage, Sampler)]
    if samplers:
        found["update_interval"] = samplers[0].hold_s
    if any(isinstance(stage, SlewLimit | Squash) for stage in setup.stages):
        return found
    linear = [stage for stage in setup.stages if isinstance(stage, Linear)]
    if setup.instrument.probe_s:
        found["probe"] = setup.instrument.probe_s
    late = sum(stage.conversion_s + stage.hold_s / 2 for stage in samplers)
    if not linear:
        return found | {"time_constant": 0.0, "mean_delay": late}
    whole = cascade(tuple(linear))
    gain = whole.d - whole.c @ np.linalg.solve(whole.a, whole.b)
    found["mean_delay"] = float(whole.c @ np.linalg.solve(whole.a, np.linalg.solve(whole.a, whole.b)) / gain) + late
    rates, vectors = np.linalg.eig(whole.a)
    shares = -(whole.c @ vectors) * np.linalg.solve(vectors, whole.b) / rates / gain
    main = [float(-1 / rate.real) for rate, share in zip(rates, shares, strict=True) if abs(share) > MAIN_SHARE]
    found["time_constant"] = max(main)
    return found
