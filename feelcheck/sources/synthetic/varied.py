"""Worlds drawn at random over the whole range a measurement must bear, and with single effects turned on."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from feelcheck.model import Action, Script, Step
from feelcheck.sources.synthetic.converter import Converter
from feelcheck.sources.synthetic.electronics import Network
from feelcheck.sources.synthetic.firmware import Adaptive
from feelcheck.sources.synthetic.gimbal import Gimbal
from feelcheck.sources.synthetic.host import Host
from feelcheck.sources.synthetic.reports import Reports
from feelcheck.sources.synthetic.scene import World
from feelcheck.sources.synthetic.sensor import Sensor

__all__ = ["effects", "quick_script", "random_world", "world_with"]

Effect = Callable[[World, np.random.Generator], World]


def _gimbal(world: World, **changes: Any) -> World:
    return replace(world, gimbal=replace(world.gimbal, **changes))


def _sensor(world: World, **changes: Any) -> World:
    return replace(world, sensor=replace(world.sensor, **changes))


def _firmware(world: World, **changes: Any) -> World:
    return replace(world, firmware=replace(world.firmware, **changes))


def _reports(world: World, **changes: Any) -> World:
    return replace(world, reports=replace(world.reports, **changes))


def _apart(world: World, rng: np.random.Generator) -> World:
    rising_s = world.network.poles_s[0][0]
    return replace(world, network=Network.one_pole(rising_s, rising_s * rng.choice([0.6, 1.6])))


def _two_poles(world: World, rng: np.random.Generator) -> World:
    slow_s = world.network.poles_s[0][0]
    quick_s = slow_s * rng.uniform(0.2, 0.6)
    return replace(world, network=Network(poles_s=((slow_s, slow_s), (quick_s, quick_s))))


def _recursive(world: World, _: np.random.Generator) -> World:
    tau_s = world.network.poles_s[0][0]
    return replace(
        world,
        network=Network.one_pole(0.1 * tau_s),
        firmware=replace(world.firmware, recursive_s=tau_s),
    )


def _adaptive(world: World, rng: np.random.Generator) -> World:
    slow_s = rng.uniform(0.01, 0.03)
    return _firmware(world, adaptive=Adaptive(slow_s=slow_s, fast_s=slow_s / 8.0))


def _all_inverted(world: World, rng: np.random.Generator) -> World:
    flipped = tuple(name for name in world.axis_names if rng.random() < 0.5) or world.axis_names[:1]
    return _firmware(world, inverted_axes=flipped)


def _refresh(world: World, rng: np.random.Generator) -> World:
    refresh_s = world.reports.interval_s * rng.uniform(1.5, 4.0)
    return _sensor(world, refresh_s=refresh_s)


def _slow_converter(world: World, rng: np.random.Generator) -> World:
    interval_s = world.reports.interval_s * rng.uniform(1.5, 4.0)
    return replace(world, converter=replace(world.converter, interval_s=interval_s))


def _stalls(world: World, _: np.random.Generator) -> World:
    return replace(world, host=replace(world.host, stall_fraction=2e-4, jitter_s=1e-4))


EFFECTS: dict[str, Effect] = {
    "plain": lambda world, _: world,
    "bounce": lambda world, rng: _gimbal(world, bounce_fs=rng.uniform(0.01, 0.02), restitution=0.5),
    "slide": lambda world, rng: _gimbal(world, slide_deg=rng.uniform(0.5, 2.0), slide_s=rng.uniform(0.01, 0.03)),
    "compliance": lambda world, rng: _gimbal(world, compliance_fs=rng.uniform(0.005, 0.02)),
    "creep": lambda world, rng: _gimbal(world, creep_fs=rng.uniform(0.003, 0.01)),
    "notches": lambda world, rng: _gimbal(world, n_notches=8, notch_depth_fs=rng.uniform(0.03, 0.07), slide_deg=2.0),
    "coupling": lambda world, rng: _gimbal(world, coupling_fraction=rng.uniform(0.01, 0.04)),
    "friction": lambda world, rng: _gimbal(world, friction_fs=rng.uniform(0.005, 0.02)),
    "rise_fall_apart": _apart,
    "two_poles": _two_poles,
    "average": lambda world, rng: _firmware(world, average_n=int(rng.integers(2, 9))),
    "recursive": _recursive,
    "adaptive_filter": _adaptive,
    "dead_zone": lambda world, _: _firmware(world, dead_zone_fraction=0.05),
    "edge_clipping": lambda world, rng: _firmware(world, edge_gain=rng.uniform(1.25, 1.5)),
    "radial_clamp": lambda world, _: _firmware(world, edge_gain=1.08, radial_clamp=True),
    "inverted_axes": _all_inverted,
    "widened_8_bit": lambda world, _: _firmware(world, output="widened"),
    "refresh": _refresh,
    "slow_converter": _slow_converter,
    "saturation": lambda world, rng: _sensor(world, saturation="soft", saturation_level=rng.uniform(1.3, 2.0)),
    "turned_sensor": lambda world, rng: _sensor(world, orientation_deg=rng.uniform(-4.0, 4.0)),
    "noise": lambda world, _: replace(world, converter=replace(world.converter, noise_lsb=2.0)),
    "drift": lambda world, _: _sensor(world, drift_fs=0.01),
    "loss": lambda world, _: _reports(world, loss_fraction=0.02),
    "on_change": lambda world, _: _reports(world, on_change=True),
    "duplicates": lambda world, _: _reports(world, duplicate_fraction=0.02),
    "bursts": lambda world, _: _reports(world, burst_fraction=0.01),
    "clock_error": lambda world, rng: _reports(world, clock_error_ppm=rng.uniform(-200.0, 200.0)),
    "stalls": _stalls,
}


def effects() -> tuple[str, ...]:
    """Return the names of the effects that `world_with` can turn on; ``"plain"`` is none."""
    return tuple(EFFECTS)


def world_with(
    effect: str,
    rng: np.random.Generator,
    *,
    tau_s: float = 0.005,
    report_interval_s: float = 0.001,
    bits: int = 12,
    style: str = "table",
) -> World:
    """Return a mild one-stick world with one effect turned on.

    Parameters
    ----------
    effect : str
        One of `effects`.
    rng : Generator
        Draws the strength of the effect, and where the centre sits between two codes.
    tau_s, report_interval_s, bits
        Time constant of the pole, interval of the reports, resolution of the converter.
    style : {"table", "events"}
        How the host logs.

    Raises
    ------
    KeyError
        If there is no such effect.
    """
    world = World(
        name=effect,
        sticks=("left",),
        gimbal=Gimbal(bounce_fs=0.002),
        network=Network.one_pole(tau_s),
        converter=Converter(bits=bits, noise_lsb=0.3, offset_fraction=rng.uniform(-0.02, 0.02)),
        sensor=Sensor(noise_fs=0.0005),
        reports=Reports(interval_s=report_interval_s),
        host=Host(style="events" if style == "events" else "table"),
    )
    return EFFECTS[effect](world, rng)


def _log_uniform(rng: np.random.Generator, limits: tuple[float, float]) -> float:
    return math.exp(rng.uniform(math.log(limits[0]), math.log(limits[1])))


def random_world(
    rng: np.random.Generator,
    *,
    tau_s: tuple[float, float] = (0.0003, 0.06),
    report_interval_s: tuple[float, float] = (0.001, 0.008),
    bits: tuple[int, int] = (8, 12),
    chance: float = 0.3,
    without: tuple[str, ...] = (),
    style: str = "table",
) -> World:
    """Return a one-stick world drawn over the whole range.

    Parameters
    ----------
    rng : Generator
        Draws everything.
    tau_s, report_interval_s : tuple of float, s
        Limits; drawn evenly on a log scale.
    bits : tuple of int
        Limits of the converter's resolution, both included.
    chance : float
        Chance of each effect to be on, each independent of the others.
    without : tuple of str
        Effects never turned on.
    style : {"table", "events"}
        How the host logs.

    Notes
    -----
    Effects change the world one after the other in the order of `effects`, so several can act at once. The names of
    those that are on are in the world's own name.
    """
    world = world_with(
        "plain",
        rng,
        tau_s=_log_uniform(rng, tau_s),
        report_interval_s=_log_uniform(rng, report_interval_s),
        bits=int(rng.integers(bits[0], bits[1] + 1)),
        style=style,
    )
    drawn = [effect for effect in EFFECTS if effect != "plain" and rng.random() < chance and effect not in without]
    if "recursive" in drawn and "two_poles" in drawn:
        drawn.remove("recursive")
    for effect in drawn:
        world = EFFECTS[effect](world, rng)
    return replace(world, name="+".join(drawn) or "plain")


def quick_script(n_flicks: int, rng: np.random.Generator, *, stick: str = "left", rest_s: float = 1.5) -> Script:
    """Return a short script for statistics: diagonal flicks, each held and released, between two rests.

    Parameters
    ----------
    n_flicks : int
        Number of flicks.
    rng : numpy.random.Generator
        Source of angles and speeds.
    stick : str, optional
        Name of the stick.
    rest_s : float, optional
        Length of either rest, s.
    """
    steps = [Step(action=Action.REST, duration_s=rest_s, stick=stick)]
    corners = np.resize([45.0, 225.0, 135.0, 315.0], n_flicks) + rng.uniform(-8.0, 8.0, n_flicks)
    for corner in corners.tolist():
        steps.append(Step(action=Action.FLICK, duration_s=0.75, stick=stick, direction_deg=round(corner, 1)))
        steps.append(Step(action=Action.RELEASE, duration_s=0.75, stick=stick))
    steps.append(Step(action=Action.REST, duration_s=rest_s, stick=stick))
    return Script(name="quick", title="Diagonal flicks", steps=tuple(steps))
