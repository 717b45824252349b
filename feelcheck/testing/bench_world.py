"""A simulated bench: coil, sensor, output stage with its parts, and the scope that looks at them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np
from scipy import signal

from feelcheck.model import Capture, Channel, FloatArray, Provenance

__all__ = ["BenchWorld", "Coil", "Parts", "Scope", "Sensor", "simulate_capture"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """The drive: a current that is switched between two levels, or swept as a triangle.

    Parameters
    ----------
    low, high : float
        The two levels, in `unit`.
    first_edge_s, half_period_s : float
        When the first edge begins, and the time between edges.
    n_edges : int
        Number of edges inside the capture.
    begins_high : bool
        Whether the first edge falls.
    shape : {"ramp", "exponential", "step", "triangle"}
        Supply-limited slew, L/R current, generator, or a slow sweep of `half_period_s` per flank.
    rise_s, fall_s : float
        Whole duration of a ramp, or the time constant of an exponential, per direction.
    field_tau_s : float
        Lag of the field behind the current (core, eddy currents).
    """

    low: float = -0.5
    high: float = 0.5
    first_edge_s: float = 10e-3
    half_period_s: float = 50e-3
    n_edges: int = 2
    begins_high: bool = False
    shape: Literal["ramp", "exponential", "step", "triangle"] = "ramp"
    rise_s: float = 2.5e-3
    fall_s: float = 2.5e-3
    field_tau_s: float = 0.0
    unit: str = "A"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """A magnetic sensor: sensitivity (volts per unit of drive), offset, its own output limits, internal sampling."""

    sensitivity: float = 1.0
    offset_v: float = 0.9
    low_v: float = -1e9
    high_v: float = 1e9
    sample_interval_s: float = 0.0
    sample_phase_s: float = 0.0
    dead_time_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """Output stage and network; poles and ring are a plain linear chain in front of them.

    Parameters
    ----------
    r_source_ohm : float
        What the output sources through.
    sink : {"strong", "current", "resistor"}
        How the output pulls down: like it sources; a constant `sink_a`; a resistor `sink_ohm` to ground. The last two
        matter only with a capacitor on the pin.
    pull_up_weak : bool
        Mirror image: the constant current pulls up, the strong side pulls down.
    c_pin_f, r_series_ohm, c_behind_f, r_load_ohm : float
        Capacitor on the pin, series resistor, capacitor behind it, load to ground (0 = none).
    poles_s : tuple of float
        Further time constants.
    ring_hz, ring_damping : float
        An underdamped second-order stage (0 Hz = none).
    """

    r_source_ohm: float = 100.0
    sink: Literal["strong", "current", "resistor"] = "strong"
    sink_a: float = 20e-6
    sink_ohm: float = 50e3
    pull_up_weak: bool = False
    c_pin_f: float = 0.0
    r_series_ohm: float = 0.0
    c_behind_f: float = 0.0
    r_load_ohm: float = 0.0
    poles_s: tuple[float, ...] = ()
    ring_hz: float = 0.0
    ring_damping: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """How the capture is taken; a full scale of 0 means that the range was chosen to fit."""

    duration_s: float = 110e-3
    interval_s: float = 20e-6
    trigger_s: float = 10e-3
    bits: int = 8
    full_scale_v: float = 0.0
    noise_v: float = 3e-3
    drive_noise: float = 3e-3
    drive_full_scale: float = 0.0
    bandwidth_hz: float = 0.0
    has_drive: bool = True
    roles: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchWorld:
    """Everything behind one simulated capture."""

    coil: Coil = field(default_factory=Coil)
    sensor: Sensor = field(default_factory=Sensor)
    parts: Parts = field(default_factory=Parts)
    scope: Scope = field(default_factory=Scope)
    truth: Mapping[str, float | str] = field(default_factory=lambda: MappingProxyType({}))


def simulate_capture(bench: BenchWorld, rng: np.random.Generator) -> Capture:
    """Return what the scope shows of a bench, with the truth beside it.

    Parameters
    ----------
    bench : BenchWorld
        The simulated bench.
    rng : Generator
        Source of all draws.

    Notes
    -----
    Everything is integrated on a grid at least eight times finer than the samples; noise is added and the converter's
    rounding applied last. Time zero is the trigger: the beginning of the first edge.

    Examples
    --------
    >>> capture = simulate_capture(BenchWorld(), np.random.default_rng(1))
    >>> [channel.name for channel in capture.channels], capture.t_s.size
    (['drive', 'output'], 5500)
    """
    scope, n = bench.scope, round(bench.scope.duration_s / bench.scope.interval_s)
    fine, per = _fine_grid(bench, n)
    drive = _current(bench.coil, fine)
    volts = _chain(bench, fine, drive)
    if scope.bandwidth_hz > 0:
        volts = _pole(volts, fine, 1 / (2 * np.pi * scope.bandwidth_hz))
    output = _digitise(volts[::per][:n], scope.noise_v, scope.full_scale_v, scope.bits, rng)
    channels = []
    if scope.has_drive:
        seen = _digitise(drive[::per][:n], scope.drive_noise, scope.drive_full_scale, scope.bits, rng)
        unit = bench.coil.unit
        channels.append(Channel(name="drive", values=seen, unit=unit, role="drive" if scope.roles else ""))
    channels.append(Channel(name="output", values=output, unit="V", role="output" if scope.roles else ""))
    t_s = fine[::per][:n] - (bench.coil.first_edge_s if scope.trigger_s else 0.0)
    return Capture(
        t_s=t_s,
        interval_s=scope.interval_s,
        channels=tuple(channels),
        provenance=Provenance(format="synthetic", simulated=True),
        truth=MappingProxyType({**_truth(bench), **bench.truth}),
    )


def _fine_grid(bench: BenchWorld, n: int) -> tuple[FloatArray, int]:
    fastest = min([bench.scope.interval_s * 4, *(tau for tau in bench.parts.poles_s if tau > 0)])
    per = int(np.clip(np.ceil(bench.scope.interval_s / (fastest / 32)), 8, 64))
    return np.arange(n * per, dtype=np.float64) * (bench.scope.interval_s / per), per


def _truth(bench: BenchWorld) -> dict[str, float | str]:
    parts = bench.parts
    network = (parts.r_series_ohm + parts.r_source_ohm) * parts.c_behind_f if parts.c_pin_f == 0 else 0.0
    poles = sorted((tau for tau in (*parts.poles_s, network) if tau > 0), reverse=True)
    return {
        "time_constant_s": poles[0] if poles else 0.0,
        "smoothing_delay_s": float(sum(poles)),
        "dead_time_s": bench.sensor.dead_time_s,
        "update_interval_s": bench.sensor.sample_interval_s,
    }


def _current(coil: Coil, t: FloatArray) -> FloatArray:
    """The drive on the fine grid: level by level from wherever it was when the edge began."""
    level = coil.high if coil.begins_high else coil.low
    drive = np.full(t.size, float(level))
    for k in range(coil.n_edges):
        begin = coil.first_edge_s + k * coil.half_period_s
        since = t - begin
        after = since > 0
        if not np.any(after):
            break
        start = float(np.interp(begin, t, drive))
        rising = (k % 2 == 0) != coil.begins_high
        goal, span = (coil.high, coil.rise_s) if rising else (coil.low, coil.fall_s)
        drive[after] = start + (goal - start) * _way(coil, since[after], span)
    return drive


def _way(coil: Coil, since: FloatArray, span: float) -> FloatArray:
    if coil.shape == "step" or span <= 0:
        return np.ones(since.size)
    if coil.shape == "exponential":
        return np.asarray(1 - np.exp(-since / span))
    return np.clip(since / (coil.half_period_s if coil.shape == "triangle" else span), 0.0, 1.0)


def _chain(bench: BenchWorld, t: FloatArray, drive: FloatArray) -> FloatArray:
    seen = _pole(drive, t, bench.coil.field_tau_s)
    sensor, parts = bench.sensor, bench.parts
    volts = np.clip(sensor.offset_v + sensor.sensitivity * seen, sensor.low_v, sensor.high_v)
    if sensor.dead_time_s > 0:
        volts = np.interp(t - sensor.dead_time_s, t, volts)
    if sensor.sample_interval_s > 0:
        ticks = np.floor((t - sensor.sample_phase_s) / sensor.sample_interval_s) * sensor.sample_interval_s
        volts = np.interp(ticks + sensor.sample_phase_s, t, volts)
    for tau in parts.poles_s:
        volts = _pole(volts, t, tau)
    if parts.ring_hz > 0:
        volts = _ring(volts, t, 2 * np.pi * parts.ring_hz, parts.ring_damping)
    return _network(parts, t, volts)


def _pole(values: FloatArray, t: FloatArray, tau: float) -> FloatArray:
    """First order, trapezoidal rule, starting at rest."""
    if tau <= 0:
        return values
    a = (t[1] - t[0]) / (2 * tau)
    b = np.array([a, a]) / (1 + a)
    pole = np.array([1.0, (a - 1) / (1 + a)])
    return np.asarray(signal.lfilter(b, pole, values - values[0]) + values[0], dtype=np.float64)


def _ring(values: FloatArray, t: FloatArray, w: float, zeta: float) -> FloatArray:
    b, a = signal.bilinear([w * w], [1.0, 2 * zeta * w, w * w], fs=1 / (t[1] - t[0]))
    return np.asarray(signal.lfilter(b, a, values - values[0]) + values[0], dtype=np.float64)


def _network(parts: Parts, t: FloatArray, source: FloatArray) -> FloatArray:
    if parts.c_pin_f == 0:
        share, r = 1.0, parts.r_source_ohm + parts.r_series_ohm
        if parts.r_load_ohm > 0:
            share = parts.r_load_ohm / (parts.r_load_ohm + r)
        return _pole(source * share, t, r * share * parts.c_behind_f)
    return _two_capacitors(parts, t, source)


def _two_capacitors(parts: Parts, t: FloatArray, source: FloatArray) -> FloatArray:
    """Pin and network with a one-sided stage: explicit midpoint steps on the fine grid."""
    h, pin, behind = float(t[1] - t[0]), float(source[0]), float(source[0])
    out = np.empty(t.size)
    has_network = parts.r_series_ohm > 0 and parts.c_behind_f > 0
    for k, volts in enumerate(source.tolist()):
        half = pin, behind
        for step in (0.5 * h, h):
            through = (half[0] - half[1]) / parts.r_series_ohm if has_network else 0.0
            drop = through + (half[0] / parts.r_load_ohm if parts.r_load_ohm else 0.0)
            slope = (_stage_current(parts, volts, half[0]) - drop) / parts.c_pin_f
            half = pin + step * slope, (behind + step * through / parts.c_behind_f if has_network else half[0])
        pin, behind = half
        out[k] = behind if has_network else pin
    return out


def _stage_current(parts: Parts, source: float, pin: float) -> float:
    """Current into the pin, A."""
    push = (source - pin) / parts.r_source_ohm
    if parts.sink == "strong":
        return push
    if parts.pull_up_weak:
        return min(push, parts.sink_a)
    if parts.sink == "current":
        return max(push, -parts.sink_a)
    return max(push, -pin / parts.sink_ohm)


def _digitise(values: FloatArray, noise: float, full_scale: float, bits: int, rng: np.random.Generator) -> FloatArray:
    """Add noise and round to the converter's levels; a range that fits leaves a tenth free on both sides."""
    noisy = values + noise * rng.standard_normal(values.size)
    middle = 0.5 * (float(np.max(values)) + float(np.min(values)))
    span = full_scale or 1.25 * (float(np.ptp(values)) + 6 * noise) or 1.0
    step = span / 2**bits
    code = np.clip(np.round((noisy - middle) / step), -(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    return np.asarray(middle + code * step)
