"""One specimen's record: what it is, the parts found, and every result on every axis in every state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from feelcheck.model.estimate import Caveat, Estimate
from feelcheck.model.labels import AS_FOUND
from feelcheck.model.rehearsal import RehearsalRecord

__all__ = [
    "CAPTURE_OPTIONS",
    "BenchRecord",
    "Condition",
    "HandRecord",
    "Part",
    "PartRole",
    "Profile",
    "SensorFound",
    "StateRecord",
]

PartRole = Literal["pin_capacitor", "series_resistor", "capacitor", "load", "supply_capacitor", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorFound:
    """The sensor as found on the board; unknown fields stay empty or None."""

    marking: str = ""
    package: str = ""
    pins: str = ""
    supply_v: float | None = None
    kind: str = ""
    source_ohm: float | None = None
    sink_ohm: float | None = None
    sink_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One resistor or capacitor on the sensor board.

    Parameters
    ----------
    position : str
        Name of the place on the board (``"c3"``).
    role : str
        Where it sits in the output network: at the output pin, in series, behind the series resistor, as a load.
    value : float, ohm or F
        As read or measured.
    unit : {"ohm", "F"}
        Unit of the value.
    axis : str
        Axis whose network it belongs to; empty if it serves the whole specimen.
    size_code, dielectric : str
        Case size (``"0402"``) and class (``"X7R"``), empty if unknown.
    measured : {"marked", "in_circuit", "out_of_circuit", "assumed"}
        How the value is known.
    tolerance_fraction : float or None
        Half-width of the tolerance band; None if unknown.
    fitted : bool
        False once it was lifted.
    """

    position: str
    role: PartRole
    value: float
    unit: Literal["ohm", "F"]
    axis: str = ""
    size_code: str = ""
    dielectric: str = ""
    rated_v: float | None = None
    measured: Literal["marked", "in_circuit", "out_of_circuit", "assumed"] = "marked"
    tolerance_fraction: float | None = None
    fitted: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class StateRecord:
    """One step of a specimen's timeline: what was done, which parts changed.

    `changes` maps a part's position to its new value (``"lifted"``, ``"4.7k"``); `undone` marks a step taken back.
    """

    name: str
    date: str = ""
    note: str = ""
    undone: bool = False
    changes: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """How a hand session was recorded; unlike conditions make two sessions incomparable.

    Parameters
    ----------
    facts : Mapping[str, str]
        report_rate_hz, script, source, axis_scale, connection, firmware, cap, spring, recalibrated, ...
    mounting : int or None
        Number of the mounting, raised each time the stick was taken apart and put together; None if nobody said.
    operator : str
        Who held it.
    """

    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    mounting: int | None = None
    operator: str = ""


CAPTURE_OPTIONS = ("drive", "output", "time", "time_unit", "interval", "drive_rise")
"""What can be said of a capture that it does not say itself, as `feelcheck bench` takes it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchRecord:
    """One bench result of one axis in one state; estimates in SI units, keyed by quantity.

    `directions["rising"]["time_constant"]`; `overall` holds update_interval, noise, swing, asymmetry, drive_transition.
    `told` is what was said of the file that it does not say itself, such as ``time_unit``: how to measure it anew.
    """

    axis: str
    state: str = AS_FOUND
    path: str = ""
    sha256: str = ""
    date: str = ""
    drive_kind: str = ""
    output_unit: str = ""
    told: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    directions: Mapping[str, Mapping[str, Estimate]] = field(default_factory=lambda: MappingProxyType({}))
    overall: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    models: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    simulated: bool = False
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HandRecord:
    """One hand session: its result per axis; estimates in SI units, keyed by quantity.

    `axes["left_x"]["rising"]["smoothing_delay"]`; the direction key ``""`` holds what has no direction
    (rest_noise, update_interval, ...); `release` holds ring_frequency, damping_ratio, ...
    """

    session: str
    state: str = AS_FOUND
    path: str = ""
    sha256: str = ""
    date: str = ""
    condition: Condition = Condition()
    axes: Mapping[str, Mapping[str, Mapping[str, Estimate]]] = field(default_factory=lambda: MappingProxyType({}))
    release: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    report_interval: Estimate | None = None
    simulated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Everything known about one specimen: a stick or a loose sensor with its timeline of states.

    `polarity` maps an axis to +1 (the logged code rises when the sensor's volts rise) or -1; an axis that is not in it
    is unknown and the chain cannot join bench and hand for it.
    """

    specimen: str
    version: int = 1
    pad: str = ""
    stick: str = ""
    kind: str = ""
    sensor: SensorFound = SensorFound()
    polarity: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    parts: tuple[Part, ...] = ()
    photos: tuple[str, ...] = ()
    states: tuple[StateRecord, ...] = ()
    bench: tuple[BenchRecord, ...] = ()
    hand: tuple[HandRecord, ...] = ()
    rehearsals: tuple[RehearsalRecord, ...] = ()
    feel: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    notes: str = ""
    path: str = ""

    @property
    def state_names(self) -> tuple[str, ...]:
        """Every state of the timeline, as found first."""
        return (AS_FOUND, *(state.name for state in self.states))
