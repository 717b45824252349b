"""The parts between a sensor's output and the converter, and what they make of a step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from feelcheck.model.estimate import Caveat, Estimate
from feelcheck.model.hand import Trace
from feelcheck.model.presented import Presented

__all__ = [
    "BoardNetwork",
    "Inference",
    "OutputStage",
    "PartChange",
    "PartsDirection",
    "PartsResult",
    "PreferredValue",
    "WhatIf",
]

SinkKind = Literal["source", "resistance", "current", "pull_down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputStage:
    """How a sensor's output drives its pin.

    Parameters
    ----------
    source_ohm : float, ohm
        Resistance through which it pulls up to its target; 0 for an ideal output.
    sink : {"source", "resistance", "current", "pull_down"}
        How it pulls down: like up; through another resistance towards the target; by a constant current; through a
        resistor to ground that the target cuts short.
    sink_ohm : float or None, ohm
        Resistance of the sink or of the pull-down.
    sink_a : float or None, A
        Current of the sink.

    Raises
    ------
    ValueError
        If the kind of sink lacks its value, or a value is negative.
    """

    source_ohm: float = 0.0
    sink: SinkKind = "source"
    sink_ohm: float | None = None
    sink_a: float | None = None

    def __post_init__(self) -> None:
        needed = {"resistance": self.sink_ohm, "pull_down": self.sink_ohm, "current": self.sink_a}.get(self.sink, 1.0)
        if self.source_ohm < 0 or needed is None or not needed > 0:
            raise ValueError(f"an output stage with sink {self.sink!r} needs its positive value, got {self}")


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardNetwork:
    """Output stage, capacitor at the pin, series resistor, capacitor behind it, load.

    Parameters
    ----------
    stage : OutputStage
        What drives the pin.
    pin_f, behind_f : float, F
        Capacitors at the pin and behind the series resistor; 0 for none.
    series_ohm : float, ohm
        Series resistor; 0 for a plain connection.
    load_ohm : float or None, ohm
        From the output to ground.
    low_v, high_v : float, V
        Targets between which the output steps; they matter for weak sinks only.
    bands : Mapping[str, tuple of float]
        For each part (``"pin_f"``, ``"series_ohm"``, ...) the factors on its value between which it is taken to lie
        with 95 % confidence.

    Raises
    ------
    ValueError
        If a value is negative, or the levels are not ``0 <= low_v < high_v``.
    """

    stage: OutputStage = OutputStage()
    pin_f: float = 0.0
    series_ohm: float = 0.0
    behind_f: float = 0.0
    load_ohm: float | None = None
    low_v: float = 0.2
    high_v: float = 1.6
    bands: Mapping[str, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        if min(self.pin_f, self.series_ohm, self.behind_f) < 0 or (self.load_ohm is not None and self.load_ohm <= 0):
            raise ValueError(f"part values must not be negative, got {self}")
        if not 0 <= self.low_v < self.high_v:
            raise ValueError(f"levels must be 0 <= low_v < high_v, got {self.low_v}, {self.high_v}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsDirection:
    """The predicted response in one electrical direction; times in seconds, rates in V/s.

    Parameters
    ----------
    time_constant, transition_10_90, mean_delay : Estimate, s
        Slowest pole (not present where the edge has no pole of its own), 10-90 % transition, area above the step.
    shape : {"step", "pole", "ramp", "exponential_to_ground"}
        What the edge looks like at first.
    swing : float, V
        What the output moves by.
    """

    time_constant: Estimate
    transition_10_90: Estimate
    mean_delay: Estimate
    shape: Literal["step", "pole", "ramp", "exponential_to_ground"]
    swing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PreferredValue:
    """A standard value that would explain a measurement.

    Parameters
    ----------
    value : float, ohm or F
        As marked.
    series : str
        Smallest series that holds it (``"E12"``).
    ratio : float
        Marked value over the inferred one.
    nearest : bool
        Whether it is the nearest of its series, ratio-wise.
    """

    value: float
    series: str
    ratio: float
    nearest: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Inference:
    """What a measured time constant says about an unknown part."""

    resistance: Estimate | None = None
    capacitance: Estimate | None = None
    preferred: tuple[PreferredValue, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartsResult(Presented):
    """The result of `feelcheck parts`.

    Parameters
    ----------
    network : BoardNetwork or None
        What was predicted; None where only an inference was asked for.
    time_constant, corner_frequency, transition_10_90, mean_delay : Estimate
        Of the direction in which the output sources (both, where they are alike).
    rising, falling : PartsDirection or None
        Each direction.
    derated : Mapping[str, Estimate]
        The same quantities if the capacitors are of class 2 and hold less than their mark.
    inferred : Inference or None
        Of a measured time constant.
    """

    network: BoardNetwork | None
    time_constant: Estimate
    corner_frequency: Estimate
    transition_10_90: Estimate
    mean_delay: Estimate
    rising: PartsDirection | None = None
    falling: PartsDirection | None = None
    derated: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    inferred: Inference | None = None
    caveats: tuple[Caveat, ...] = ()
    traces: tuple[Trace, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WhatIf:
    """A prediction before and after changing parts."""

    before: PartsResult
    after: PartsResult
    change: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartChange:
    """A change of parts held against a measured change of response.

    Parameters
    ----------
    change : str
        In words (``"1 uF lifted"``).
    network : BoardNetwork
        After the change.
    predicted, measured : Mapping[str, Estimate], s
        Smoothing delay after the change, by direction; empty where the part was fitted, for its value comes from that
        very delay.
    fits : bool
        Whether every measured direction lies where the change would put it.
    noted : bool
        Whether a record notes this change; otherwise it was looked for.
    candidate_name, axis : str
        Which comparison it belongs to.
    """

    change: str
    network: BoardNetwork
    predicted: Mapping[str, Estimate]
    measured: Mapping[str, Estimate]
    fits: bool
    noted: bool = False
    candidate_name: str = ""
    axis: str = ""
