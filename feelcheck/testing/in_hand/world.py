"""One simulated hand, pad and host: a frozen record with everything a log depends on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

__all__ = ["Firmware", "Gate", "HandWorld", "Host", "Link", "Manner", "Sensor", "Stage", "Stick", "Thumb"]

Manner = Literal["quick", "accelerating", "coasting", "hesitating", "slow"]
Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Thumb:
    """How a person pushes; lengths are fractions of the rim's radius in that direction.

    Parameters
    ----------
    manners : tuple of Manner
        Ways into the rim; each flick takes one at random.
    push_s, slow_push_s : tuple of float, s
        Range of the time from the centre to the rim, for the slow manner its own.
    press : float
        How far beyond the rim the thumb aims; with the pad's stiffness this is the force on the rim.
    press_growth_per_s : float, 1/s
        How fast the aim moves on outward while holding.
    slide_deg : tuple of float, degrees
        Range of the angle through which the aim turns after contact; the sense is random.
    slide_s : tuple of float, s
        Range of the duration of that turn.
    slide_law : {"exponential", "linear", "cosine"}
        How the turn goes on in time.
    tremor, tremor_hz : float
        Amplitude and frequency of the hand's tremor.
    aim_sd_deg : float, degrees
        Spread of the directions around the intended ones.
    pad_hz, pad_damping : float
        Resonance of the stick on the thumb's soft pad, and its damping ratio.
    hold_s : tuple of float, s
        Range of the hold at the rim.
    let_go_s : float, s
        How long the thumb takes to slide off.
    """

    manners: tuple[Manner, ...] = ("quick",)
    push_s: Span = (0.05, 0.11)
    slow_push_s: Span = (0.15, 0.4)
    press: float = 0.3
    press_growth_per_s: float = 0.0
    slide_deg: Span = (0.0, 0.0)
    slide_s: Span = (0.006, 0.03)
    slide_law: Literal["exponential", "linear", "cosine"] = "exponential"
    tremor: float = 0.0
    tremor_hz: float = 10.0
    aim_sd_deg: float = 4.0
    pad_hz: float = 60.0
    pad_damping: float = 0.7
    hold_s: Span = (0.3, 0.5)
    let_go_s: float = 0.002


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick:
    """The stick's own spring: resonance, damping ratio, and how far its centre moves from return to return."""

    spring_hz: float = 18.0
    damping: float = 0.25
    return_sd: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """The rim: a wall that pushes back like a spring with a damper, and rubs.

    Parameters
    ----------
    shape : {"round", "octagon", "square"}
        The octagon has its corners on the axes and diagonals at radius 1, the square its sides at 1.
    notch_depth, notch_width_deg : float
        Depth (fraction of the radius) and half width of pockets every 45 degrees in a round gate.
    stiffness_hz, damping : float
        Resonance of the stick in contact with the wall, and its damping ratio.
    creep, creep_s : float
        How far the wall yields slowly under the force of holding (fraction of the radius), and in what time.
    friction, viscous_per_s, stribeck : float
        Sliding friction as a fraction of the normal force, a viscous part, and how much more it is near standstill.
    """

    shape: Literal["round", "octagon", "square"] = "round"
    notch_depth: float = 0.0
    notch_width_deg: float = 5.0
    stiffness_hz: float = 700.0
    damping: float = 1.0
    creep: float = 0.0
    creep_s: float = 0.012
    friction: float = 0.2
    viscous_per_s: float = 0.0
    stribeck: float = 0.0

    def radius(self, direction_deg: float) -> float:
        """Return how far the gate lets a stick go in a direction, without notches.

        Parameters
        ----------
        direction_deg : float, deg
            Counter-clockwise from right.

        Examples
        --------
        >>> [round(Gate(shape=shape).radius(45.0), 3) for shape in ("round", "octagon", "square")]
        [1.0, 1.0, 1.414]
        """
        if self.shape == "round":
            return 1.0
        side_deg, first_deg, distance = (90.0, 0.0, 1.0) if self.shape == "square" else (45.0, 22.5, 0.92388)
        off_deg = (direction_deg - first_deg + 0.5 * side_deg) % side_deg - 0.5 * side_deg
        return distance / math.cos(math.radians(off_deg))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """What the sensors make of a position: ``p + square p^2 + cube p^3`` plus `cross` times the other axis."""

    square: float = 0.0
    cube: float = 0.0
    cross: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One filter of the firmware, in integers.

    Parameters
    ----------
    kind : {"recursive", "boxcar"}
        ``y += (x - y) / 2^order`` or the mean of the last `order` values.
    order : int
        Shift of the recursion or length of the boxcar.
    fraction_bits : int
        Bits that a recursion keeps below the converter's step.
    towards_zero : bool
        Whether the division cuts towards zero (as a C division) instead of down (as a shift).
    """

    kind: Literal["recursive", "boxcar"]
    order: int
    fraction_bits: int = 0
    towards_zero: bool = False

    @property
    def delay_updates(self) -> float:
        """Mean delay of the ideal filter in updates."""
        return 2.0**self.order - 1.0 if self.kind == "recursive" else (self.order - 1) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Firmware:
    """From volts to codes.

    Parameters
    ----------
    bits : int
        Width of the converter.
    used : float
        Share of the converter's range from rim to rim.
    update_s : float, s
        Interval of conversions.
    scan_delay_s : float, s
        How much later y is converted than x.
    noise_codes : float
        Standard deviation of noise ahead of the converter, in its steps.
    stages : tuple of Stage
        Filters, in order.
    gain : float
        Output at the rim as a fraction of full scale before the outer clamp; above 1 clips full throws.
    circle_clamp : bool
        Whether the output is clamped to a circle too.
    out_bits : int
        Width of the output, spread over a signed 16-bit scale.
    """

    bits: int = 12
    used: float = 0.8
    update_s: float = 0.001
    scan_delay_s: float = 0.0
    noise_codes: float = 0.4
    stages: tuple[Stage, ...] = ()
    gain: float = 0.94
    circle_clamp: bool = False
    out_bits: int = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Cable or radio: report interval, its error, chances of a retry and of a loss, and what one retry costs."""

    report_s: float = 0.001
    clock_error: float = 0.0
    retry_chance: float = 0.0
    retry_s: float = 0.0007
    loss_chance: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Host:
    """The logging program.

    Parameters
    ----------
    style : {"every", "changes", "poller"}
        A row a report, a row a change, or a row a poll (which repeats values).
    poll_s : float, s
        Interval of a poller.
    late_s : float, s
        Mean of the exponential delay of a time stamp.
    stall_chance, stall_s : float
        Chance a second of a stall and its length; what arrived meanwhile is stamped at its end.
    """

    style: Literal["every", "changes", "poller"] = "every"
    poll_s: float = 0.001
    late_s: float = 0.00004
    stall_chance: float = 0.0
    stall_s: float = 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class HandWorld:
    """Everything one log depends on.

    Parameters
    ----------
    poles_x_s, poles_y_s : tuple of (rising, falling), s
        Time constants of each axis' poles in both electrical directions.
    directions : {"four", "eight", "random"}
        Where flicks go: diagonals, diagonals and axes, anywhere.
    n_flicks : int
        Flicks of a log.
    free_play : bool
        Wandering with few clean stops instead of flicks.
    """

    poles_x_s: tuple[Span, ...] = ()
    poles_y_s: tuple[Span, ...] = ()
    directions: Literal["four", "eight", "random"] = "four"
    n_flicks: int = 24
    free_play: bool = False
    thumb: Thumb = field(default_factory=Thumb)
    stick: Stick = field(default_factory=Stick)
    gate: Gate = field(default_factory=Gate)
    sensor: Sensor = field(default_factory=Sensor)
    firmware: Firmware = field(default_factory=Firmware)
    link: Link = field(default_factory=Link)
    host: Host = field(default_factory=Host)

    def poles_s(self, axis: str, direction: str) -> tuple[float, ...]:
        """Return the time constants of an axis (``"x"``, ``"y"``) going ``"rising"`` or ``"falling"``, s.

        Parameters
        ----------
        axis : {"x", "y"}
            The axis.
        direction : {"rising", "falling"}
            Which way its code goes.
        """
        pairs = self.poles_x_s if axis == "x" else self.poles_y_s
        return tuple(pair[direction == "falling"] for pair in pairs)

    def smoothing_delay_s(self, axis: str, direction: str) -> float:
        """Return the mean delay of poles and firmware filters, s.

        Parameters
        ----------
        axis : {"x", "y"}
            The axis.
        direction : {"rising", "falling"}
            Which way its code goes.
        """
        of_stages = sum(stage.delay_updates for stage in self.firmware.stages) * self.firmware.update_s
        return sum(self.poles_s(axis, direction)) + of_stages

    def time_constant_s(self, axis: str, direction: str) -> float | None:
        """Return the slowest pole, a recursion counted by its mean delay; None where there is none.

        Parameters
        ----------
        axis : {"x", "y"}
            The axis.
        direction : {"rising", "falling"}
            Which way its code goes.
        """
        recursions = [s.delay_updates * self.firmware.update_s for s in self.firmware.stages if s.kind == "recursive"]
        return max((*self.poles_s(axis, direction), *recursions), default=None)
