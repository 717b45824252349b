"""What an instrument shows of a bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy import signal

from feelcheck.model import Capture, Channel, FloatArray, Provenance
from feelcheck.testing.at_bench.circuit import drive_on, passed, truth_of
from feelcheck.testing.at_bench.setup import BenchSetup, Instrument, Linear

__all__ = ["BenchCapture", "take_capture"]

FINE = 8
SHORTEST_PER_STEP = 24
PINK_STAGES = (3.0, 30.0, 300.0, 3000.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BenchCapture:
    """A capture and what is true of the circuit behind it (see `circuit.truth_of`)."""

    capture: Capture
    truth: Mapping[str, float]


def take_capture(setup: BenchSetup, rng: np.random.Generator) -> BenchCapture:
    """Return one capture of a bench.

    Parameters
    ----------
    setup : BenchSetup
        The simulated bench.
    rng : Generator
        Source of all draws.

    Examples
    --------
    >>> seen = take_capture(BenchSetup(), np.random.default_rng(1))
    >>> round(seen.truth["time_constant"] * 1e3, 3), [c.name for c in seen.capture.channels]
    (4.7, ['coil current', 'sensor'])
    """
    look = setup.instrument
    n = round(look.duration_s / look.interval_s)
    step = look.interval_s / _per_sample(setup)
    t: FloatArray = np.arange(round((look.duration_s + 4 * look.interval_s) / step), dtype=np.float64) * step
    drive = drive_on(t, setup, rng)
    output = passed(drive, t, setup) + look.coupling_s * np.gradient(drive, step)
    if look.ac_corner_s:
        output = output - _slow_part(output, look.ac_corner_s, step)
    if look.probe_s:
        drive = _slow_part(drive, look.probe_s, step)
    at = look.interval_s * (0.5 + np.arange(n))
    at = np.clip(at + look.interval_s * look.uneven * rng.uniform(-0.5, 0.5, n), step, float(t[-1]) - look.interval_s)
    sweeps = [look.trigger_jitter_s * rng.standard_normal() for _ in range(look.averages)]
    unknown = look.interval_s * look.jitter * rng.standard_normal((look.averages, n))
    instants = np.asarray(at + np.array(sweeps)[:, None] + unknown, dtype=np.float64)
    seen = {
        "coil current": (_recorded(drive, t, instants, look, rng), "A"),
        "sensor": (setup.offset_v + setup.gain_v * _recorded(output, t, instants + look.skew_s, look, rng), "V"),
    }
    if not look.has_drive:
        del seen["coil current"]
    told = np.round(at / look.interval_s, look.time_digits) * look.interval_s - look.before_s
    keep = np.concatenate([[True], np.diff(told) > 0])
    channels = tuple(
        Channel(name=name, values=values[keep], unit=unit, role="output" if name == "sensor" else "drive")
        for name, (values, unit) in seen.items()
    )
    capture = Capture(
        t_s=told[keep],
        interval_s=None if look.uneven or look.time_digits < 9 else look.interval_s,
        channels=channels,
        provenance=Provenance(format="synthetic", simulated=True),
    )
    return BenchCapture(capture=capture, truth=MappingProxyType(truth_of(setup)))


def _per_sample(setup: BenchSetup) -> int:
    """Steps of the fine grid in one sample interval: enough for the fastest pole and the drive."""
    poles = [-1 / np.min(np.linalg.eigvals(s.a).real) for s in setup.stages if isinstance(s, Linear)]
    fastest = min([*poles, setup.drive.time_s, setup.instrument.interval_s * 4])
    return int(np.clip(np.ceil(SHORTEST_PER_STEP * setup.instrument.interval_s / fastest), FINE, 40))


def _slow_part(values: FloatArray, tau_s: float, step: float) -> FloatArray:
    keep = float(np.exp(-step / tau_s))
    return np.asarray(signal.lfilter([1 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0])


def _recorded(
    values: FloatArray, t: FloatArray, instants: FloatArray, look: Instrument, rng: np.random.Generator
) -> FloatArray:
    """Samples of one channel behind the converter, averaged over the sweeps' instants, in steps of the drive."""
    return np.asarray(np.mean([_sweep(values, t, at, look, rng) for at in instants], axis=0))


def _sweep(values: FloatArray, t: FloatArray, at: FloatArray, look: Instrument, rng: np.random.Generator) -> FloatArray:
    shown = _peaks(values, t, at, look.interval_s) if look.peak_detect else np.interp(at, t, values)
    shown = shown + look.noise * rng.standard_normal(at.size) + look.pink * _pink(at.size, rng)
    if look.hum:
        phase = 2 * np.pi * (look.hum_hz * at + rng.random())
        shown = shown + look.hum * (np.sin(phase) + 0.2 * np.sin(3 * phase))
    low, high = float(np.min(values)), float(np.max(values))
    span = look.range_over * (high - low + 6 * look.noise + 2 * look.hum)
    way = (shown - 0.5 * (low + high)) / span
    bent = way + look.curvature * (0.25 - way**2) * 4
    half = 2 ** (look.bits - 1)
    codes = np.clip(np.round(bent * 2 * half), -half, half - 1)
    return np.asarray(codes * (span / 2 / half))


def _peaks(values: FloatArray, t: FloatArray, at: FloatArray, interval_s: float) -> FloatArray:
    """The greatest and the least value in turn around every instant."""
    around = [np.interp(at + share * interval_s, t, values) for share in (-0.5, 0.0, 0.5)]
    return np.asarray(np.where(np.arange(at.size) % 2, np.min(around, axis=0), np.max(around, axis=0)))


def _pink(n: int, rng: np.random.Generator) -> FloatArray:
    """Noise of unit rms, about evenly shared by decades of frequency."""
    total = np.zeros(n)
    for samples in PINK_STAGES:
        keep = float(np.exp(-1 / samples))
        start = rng.standard_normal(1) * keep
        total += signal.lfilter([np.sqrt(1 - keep**2)], [1.0, -keep], rng.standard_normal(n), zi=start)[0]
    return np.asarray(total / np.sqrt(len(PINK_STAGES)))
