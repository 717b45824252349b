"""Four pads of a repair bench that lends them to a youth drone-simulator club, as simulated worlds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

from feelcheck.errors import SourceError
from feelcheck.sources.synthetic.converter import Converter
from feelcheck.sources.synthetic.electronics import Network
from feelcheck.sources.synthetic.firmware import Firmware
from feelcheck.sources.synthetic.gimbal import Gimbal
from feelcheck.sources.synthetic.reports import Reports
from feelcheck.sources.synthetic.scene import AxisParts, World
from feelcheck.sources.synthetic.sensor import Sensor

__all__ = ["named_world", "staged_world", "world_names"]

GIMBAL = Gimbal(slide_deg=0.5, compliance_fs=0.004, creep_fs=0.002, friction_fs=0.002)
FIRMWARE = Firmware(edge_gain=1.06)


def _alder() -> World:
    """As it came: one pole of about 3 ms both ways, 12 bits, 1 kHz."""
    return World(name="alder", gimbal=GIMBAL, firmware=FIRMWARE, network=Network.one_pole(0.003))


def _birch() -> World:
    """A heavy filter that falls more slowly than it rises."""
    return World(name="birch", gimbal=GIMBAL, firmware=FIRMWARE, network=Network.one_pole(0.009, 0.014))


def _cedar() -> World:
    """Its capacitor was lifted: well below a millisecond, and noisier."""
    return World(
        name="cedar",
        gimbal=GIMBAL,
        firmware=FIRMWARE,
        network=Network.one_pole(0.00025),
        reports=Reports(clock_error_ppm=40.0),
    )


def _elm() -> World:
    """A light filter, a sensor that refreshes at 1.5 kHz, a coarse converter."""
    return World(
        name="elm",
        gimbal=GIMBAL,
        firmware=FIRMWARE,
        sensor=Sensor(refresh_s=1.0 / 1500.0, noise_fs=0.0005),
        network=Network.one_pole(0.0015),
        converter=Converter(bits=8, span_fraction=0.9, noise_lsb=0.1),
        reports=Reports(clock_error_ppm=-60.0),
    )


WORLDS: dict[str, Callable[[], World]] = {"alder": _alder, "birch": _birch, "cedar": _cedar, "elm": _elm}


def world_names() -> tuple[str, ...]:
    """Return the names that `named_world` knows."""
    return tuple(WORLDS)


def named_world(name: str) -> World:
    """Return the simulated world of one specimen.

    Parameters
    ----------
    name : str
        Name of the specimen.

    Raises
    ------
    SourceError
        If there is none of that name.

    Examples
    --------
    >>> named_world("birch").network.poles_s
    ((0.009, 0.014),)
    """
    if name not in WORLDS:
        raise SourceError(
            "There is no simulated world of that name.",
            {"got": name, "known": ", ".join(WORLDS)},
            "Choose one of the known names.",
        )
    return WORLDS[name]()


RIM_BUTTON, RIM_BUTTON_DELAY_S = "rim", 0.0004
LINKAGE_PLAY_FS = 0.01
REFERENCE = Network.one_pole(0.001)


def staged_world(name: str, script: str) -> World:
    """Return the simulated world of one specimen as a script's set-up asks for it.

    Parameters
    ----------
    name : str
        One of `world_names`.
    script : str
        ``"marker"`` puts a button at the rim of the first stick; ``"coupled"`` ties the right stick, a quick reference,
        to the left one, with a little play; others leave the world as it is.

    Raises
    ------
    SourceError
        If there is none of that name.

    Examples
    --------
    >>> staged_world("alder", "marker").rim_button
    'rim'
    """
    world = named_world(name)
    if script == "marker":
        return replace(world, rim_button=RIM_BUTTON, rim_button_delay_s=RIM_BUTTON_DELAY_S)
    if script != "coupled":
        return world
    reference = {f"right_{axis}": AxisParts(network=REFERENCE) for axis in "xy"}
    gimbal = replace(world.gimbal, tied=True, play_fs=LINKAGE_PLAY_FS)
    return replace(world, gimbal=gimbal, axes=MappingProxyType(reference))
