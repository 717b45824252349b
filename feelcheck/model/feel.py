"""What a response means in use: the result of `feelcheck feel`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from feelcheck.model.estimate import Caveat, Estimate

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
        Horizontal field of view of the game and visual angle of the screen at the eye; together they turn degrees of
        view into degrees at the eye.
    flick_s, held_s : float, s
        Duration of a flick to the rim, and how long full throw is held in an out-and-back flick.
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

    `rising` and `falling` hold ``smoothing_delay`` and, where known, ``time_constant``; `poles_s` the fitted poles.
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
    peak_speed_fs_s: Estimate | None = None


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


@dataclass(frozen=True, slots=True, kw_only=True)
class FeelResult:
    """The result of `feelcheck feel` for one specimen."""

    specimen: str
    play: Play
    axes: tuple[FeelAxis, ...]
    notes: tuple[EvidenceNote, ...] = ()
    caveats: tuple[Caveat, ...] = ()
    cautions: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
