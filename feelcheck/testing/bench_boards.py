"""Six boards that every bench meets, and boards unlike all of them (behaviour: common practice, no source)."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np

from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor

__all__ = ["BOARDS", "UNLIKE", "board", "unlike_board"]

BOARDS = ("a", "b", "c", "d", "e", "f")
UNLIKE = ("slow_rise", "ringing", "very_slow", "two_poles", "dead_time", "mild_asymmetry")
SUPPLY_V = 1.8


def board(name: str, rng: np.random.Generator, varied: bool = True) -> BenchWorld:
    """Return one of the six boards on a coil that takes about 3 ms to reverse.

    Parameters
    ----------
    name : {"a", "b", "c", "d", "e", "f"}
        (a) capacitor straight on a weakly sinking output, resistor and capacitor behind; (b) 10 kOhm and about 0.4 uF
        behind a sensor that saturates before the drive is done; (c) its twin with a little less output; (d) a bare
        sensor that samples internally; (e) low sensitivity, capacitors to ground; (f) board (a) with its capacitors
        lifted.
    rng : numpy Generator
        Varies parts, coil and scope.
    varied : bool
        False for the nominal board.

    Examples
    --------
    >>> board("d", np.random.default_rng(1), varied=False).sensor.sample_interval_s
    0.00065
    """

    def spread(value: float, fraction: float = 0.2) -> float:
        return value * float(rng.uniform(1 - fraction, 1 + fraction)) if varied else value

    coil = Coil(rise_s=spread(3.0e-3), fall_s=0.0, half_period_s=spread(50e-3, 0.05), first_edge_s=spread(10e-3))
    coil = replace(coil, fall_s=coil.rise_s, begins_high=bool(varied and rng.random() < 0.5))
    scope = Scope(duration_s=coil.first_edge_s + 2 * coil.half_period_s, noise_v=spread(4e-3))
    sensor, parts = _make(name, rng, spread)
    if name == "e":
        scope = replace(scope, noise_v=spread(2e-3))
    truth = MappingProxyType({"board": name})
    return BenchWorld(coil=coil, scope=scope, sensor=sensor, parts=parts, truth=truth)


def _make(name: str, rng: np.random.Generator, spread) -> tuple[Sensor, Parts]:  # type: ignore[no-untyped-def]
    middle = Sensor(sensitivity=spread(1.0), offset_v=spread(0.9, 0.03), low_v=0.05, high_v=SUPPLY_V - 0.05)
    if name == "a":
        parts = Parts(
            sink="current" if rng.random() < 0.5 else "resistor",
            sink_a=spread(22e-6),
            sink_ohm=spread(60e3),
            c_pin_f=spread(1e-6),
            r_series_ohm=spread(4.7e3, 0.1),
            c_behind_f=spread(1e-6),
        )
        return middle, parts
    if name in "bc":
        parts = Parts(r_series_ohm=spread(10e3, 0.03), c_behind_f=spread(0.42e-6, 0.15))
        gain = spread(3.0) if name == "b" else spread(1.2, 0.1)
        return replace(middle, sensitivity=gain), parts
    if name == "d":
        interval = spread(0.65e-3, 0.1)
        return replace(middle, sample_interval_s=interval, sample_phase_s=float(rng.uniform(0, interval))), Parts()
    if name == "e":
        return replace(middle, sensitivity=spread(0.08)), Parts(r_source_ohm=spread(1e3), c_behind_f=spread(47e-9))
    return middle, Parts(r_source_ohm=spread(200.0), c_behind_f=100e-12)


def unlike_board(rng: np.random.Generator, kind: str = "") -> BenchWorld:
    """Return a bench whose capture matches none of the six boards; `kind` is one of UNLIKE or drawn.

    Parameters
    ----------
    rng : Generator
        Source of all draws.
    kind : str
        Which kind, by its letter or name.

    Examples
    --------
    >>> unlike_board(np.random.default_rng(1), "dead_time").truth["board"]
    'none'
    """
    kind = kind or str(rng.choice(UNLIKE))
    plain = board("f", rng)
    size = float(rng.uniform(0.8, 1.25))
    parts = {
        "slow_rise": Parts(sink="current", pull_up_weak=True, sink_a=20e-6 * size, c_pin_f=0.5e-6),
        "ringing": Parts(ring_hz=150.0 * size, ring_damping=0.2 * size),
        "very_slow": Parts(poles_s=(120e-3 * size,)),
        "two_poles": Parts(poles_s=(5e-3 * size, 4e-3 * size)),
        "dead_time": Parts(poles_s=(4e-3 * size,)),
        "mild_asymmetry": Parts(sink="current", sink_a=60e-6 * size, c_pin_f=1e-6, r_source_ohm=2e3),
    }[kind]
    sensor = replace(plain.sensor, dead_time_s=6e-3 * size) if kind == "dead_time" else plain.sensor
    truth = MappingProxyType({"board": "none", "kind": kind})
    return replace(plain, parts=parts, sensor=sensor, truth=truth)
