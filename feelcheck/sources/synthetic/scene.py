"""What a simulated world is made of, and what its pad sends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import AxisScale, Cue, FloatArray
from feelcheck.sources.synthetic.converter import Converter
from feelcheck.sources.synthetic.electronics import Network
from feelcheck.sources.synthetic.firmware import Firmware
from feelcheck.sources.synthetic.gimbal import Gimbal
from feelcheck.sources.synthetic.host import Host
from feelcheck.sources.synthetic.reports import Reports
from feelcheck.sources.synthetic.sensor import Sensor
from feelcheck.sources.synthetic.thumb import Thumb

__all__ = ["AxisParts", "DeviceRun", "World"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisParts:
    """Parts of one axis that differ from the world's."""

    sensor: Sensor | None = None
    network: Network | None = None
    converter: Converter | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """Everything between the person and the log.

    Parameters
    ----------
    name : str
        Label of the world; becomes the specimen of a recording.
    sticks : tuple of str
        Names of the sticks; each has axes ``<stick>_x`` and ``<stick>_y``.
    thumb, gimbal, sensor, network, converter, firmware, reports, host
        The parts, shared by all axes unless overridden.
    axes : Mapping[str, AxisParts]
        Overrides for single axes, by axis name.
    rim_button, rim_button_delay_s : str, float
        Name of a button that the first stick closes while it is at the rim (a marker for delays), and the delay of
        the button's own path; empty is none.

    Examples
    --------
    >>> World(sticks=("left",)).axis_names
    ('left_x', 'left_y')
    """

    name: str = "world"
    sticks: tuple[str, ...] = ("left", "right")
    thumb: Thumb = field(default_factory=Thumb)
    gimbal: Gimbal = field(default_factory=Gimbal)
    sensor: Sensor = field(default_factory=Sensor)
    network: Network = field(default_factory=Network)
    converter: Converter = field(default_factory=Converter)
    firmware: Firmware = field(default_factory=Firmware)
    reports: Reports = field(default_factory=Reports)
    host: Host = field(default_factory=Host)
    axes: Mapping[str, AxisParts] = field(default_factory=lambda: MappingProxyType({}))
    rim_button: str = ""
    rim_button_delay_s: float = 0.0

    @property
    def axis_names(self) -> tuple[str, ...]:
        """All axes, in the order in which they are scanned and reported."""
        return tuple(f"{stick}_{axis}" for stick in self.sticks for axis in "xy")

    def sensor_of(self, axis: str) -> Sensor:
        """Return the sensor of one axis.

        Parameters
        ----------
        axis : str
            Such as ``"left_x"``.
        """
        return self.axes.get(axis, AxisParts()).sensor or self.sensor

    def network_of(self, axis: str) -> Network:
        """Return the output network of one axis.

        Parameters
        ----------
        axis : str
            Such as ``"left_x"``.
        """
        return self.axes.get(axis, AxisParts()).network or self.network

    def converter_of(self, axis: str) -> Converter:
        """Return the converter of one axis.

        Parameters
        ----------
        axis : str
            Such as ``"left_x"``.
        """
        return self.axes.get(axis, AxisParts()).converter or self.converter

    @property
    def conversion_interval_s(self) -> float:
        """Interval of the conversions, s."""
        return self.converter.interval_s or self.reports.true_interval_s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DeviceRun:
    """What the pad sends, before any host.

    Parameters
    ----------
    axis_names : tuple of str
        The columns.
    t_s : ndarray, shape (n,), s
        Instants of the reports on a true clock, non-decreasing (a doubled report keeps its instant).
    sent_s : ndarray, shape (n,), s
        When each left the device (later than t_s in a burst).
    codes : ndarray of int64, shape (n, n_axes)
        What the reports say.
    motion : ndarray, shape (n, n_axes)
        True stick position at t_s, in throws.
    scales : tuple of AxisScale
        Scale of each axis.
    buttons : tuple of (float, str, int)
        Instant (s), name and value of each button change.
    cues : tuple of Cue
        The script's requests.
    truth : Mapping[str, float | str]
        Everything an analysis might be asked about.
    """

    axis_names: tuple[str, ...]
    t_s: FloatArray
    sent_s: FloatArray
    codes: NDArray[np.int64]
    motion: FloatArray
    scales: tuple[AxisScale, ...]
    buttons: tuple[tuple[float, str, int], ...]
    cues: tuple[Cue, ...]
    truth: Mapping[str, float | str]
