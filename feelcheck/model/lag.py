"""Lag without knowing when the thumb moved: what a marker and a tied stick tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from feelcheck.model.estimate import Estimate

__all__ = ["CoupledAxis", "CoupledLag", "LagResult", "MarkerLag"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkerLag:
    """Delay of a stick behind a button that the same event closes.

    Parameters
    ----------
    delay : Estimate, s
        Sensor and filter together: how much the reported stick trails the true one, less the button's own delay.
    onset_delay : Estimate, s
        The part before anything is seen: dead time and conversion, less the button's own delay.
    directions : Mapping[(str, str), Estimate]
        The delay of each axis and electrical direction.
    button, stick : str
        Which ones; empty where there is no marker.
    """

    delay: Estimate
    onset_delay: Estimate
    directions: Mapping[tuple[str, str], Estimate] = field(default_factory=lambda: MappingProxyType({}))
    button: str = ""
    stick: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupledAxis:
    """One axis of the second stick against the same axis of the first.

    Parameters
    ----------
    first, second : str
        Stream names.
    delay, rising, falling : Estimate, s
        How much later the second stick is, from all strokes, and from those in which the first one's code rises, falls.
    smoothing : Estimate, s
        How much longer the second stick's pole is.
    gain : Estimate, ratio
        Second over first.
    play : Estimate, fraction
        Play of the linkage.
    """

    first: str
    second: str
    delay: Estimate
    rising: Estimate
    falling: Estimate
    smoothing: Estimate
    gain: Estimate
    play: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupledLag:
    """The second of two tied sticks against the first.

    Parameters
    ----------
    delay : Estimate, s
        Over all axes; says why where there is none.
    axes : Mapping[str, CoupledAxis]
        By ``"x"`` and ``"y"``.
    first, second : str
        Names of the sticks; empty where there is only one.
    """

    delay: Estimate
    axes: Mapping[str, CoupledAxis] = field(default_factory=lambda: MappingProxyType({}))
    first: str = ""
    second: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LagResult:
    """Both ways to tell a lag."""

    marker: MarkerLag
    coupled: CoupledLag
