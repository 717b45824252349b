"""What a response means in use: the result of `feelcheck feel`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from feelcheck.model.estimate import Caveat, Estimate
from feelcheck.model.presented import Presented

__all__ = ["EvidenceNote", "FeelAxis", "FeelResult", "Play", "UsedResponse"]

Origin = Literal["hand", "bench", "parts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """How the stick is used: what the user gives.

    Parameters
    ----------
    turn_rate_deg_s : float, deg/s
        Turn rate of the view at full throw.
    field_of_view_deg, screen_deg : float, deg
        Horizontal field of view of the game and visual angle of the screen at the eye; the first turns degrees of view
        into shares of the picture, both together turn them into degrees at the eye.
    flick_s, held_s : float, s
        Duration of a flick to the rim where no flicks of the person's own are known, and how long full throw is held
        in an out-and-back flick.
    dead_zone_fraction : float
        Dead zone of the game, as a fraction of full throw.
    curve_exponent : float
        Response curve: turn rate goes with deflection to this power (1 = linear).
    rest_band_fraction : float
        Band around rest in which the output counts as back.
    """

    turn_rate_deg_s: float = 200.0
    field_of_view_deg: float = 90.0
    screen_deg: float = 35.0
    flick_s: float = 0.1
    held_s: float = 0.2
    dead_zone_fraction: float = 0.0
    curve_exponent: float = 1.0
    rest_band_fraction: float = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedResponse:
    """The response of one axis as it goes into the kinematics; times in seconds.

    Parameters
    ----------
    axis, state, origin : str
        Which axis in which state, and whether hand, bench or parts tell of it.
    rising, falling : Estimate, s
        Delay when the logged code rises and falls.
    rising_poles_s, falling_poles_s : tuple of float, s
        Fitted poles; empty where only the delay is known.
    rest_noise, ring_frequency, settling_time : Estimate or None
        Noise at rest; frequency of the spring's ringing and time to rest after letting go, as recorded in the hand.
    step_fraction : Estimate or None
        One step of the pad's code as a fraction of full throw.
    peak_speed : Estimate or None, throws/s
        Peak speed of this axis in the person's own flicks, as this very response let it through.
    stick_speed : Estimate or None, throws/s
        Peak speed of the stick itself in the person's own flicks, known from another response.
    report_interval : Estimate or None, s
        Report interval of the pad.
    caveats : tuple of Caveat
        What was assumed to get here.
    """

    axis: str
    state: str
    origin: Origin
    rising: Estimate
    falling: Estimate
    rising_poles_s: tuple[float, ...] = ()
    falling_poles_s: tuple[float, ...] = ()
    rest_noise: Estimate | None = None
    step_fraction: Estimate | None = None
    ring_frequency: Estimate | None = None
    settling_time: Estimate | None = None
    peak_speed: Estimate | None = None
    stick_speed: Estimate | None = None
    report_interval: Estimate | None = None
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceNote:
    """One published result beside a number: citation, device, what was varied, and how far it is from our case."""

    key: str
    text: str
    citation: str
    device: str
    varied: str
    extrapolated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FeelAxis:
    """The meaning in use of one axis; estimates keyed by quantity."""

    axis: str
    state: str
    origin: Origin
    plane: Literal["left_right", "up_down", "unknown"]
    estimates: Mapping[str, Estimate]
    notes: tuple[EvidenceNote, ...] = ()
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FeelResult(Presented):
    """The result of `feelcheck feel` for one specimen.

    `difference` is the largest resolved difference of delay to the first specimen, `difference_at` where it was found;
    `notes` set it among published results.
    """

    specimen: str
    play: Play
    axes: tuple[FeelAxis, ...]
    difference: Estimate | None = None
    difference_at: str = ""
    notes: tuple[EvidenceNote, ...] = ()
    caveats: tuple[Caveat, ...] = ()
    cautions: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
