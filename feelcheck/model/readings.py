"""Readings taken from a screen with cursors and typed in by hand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from feelcheck.model.recording import Provenance

__all__ = ["TypedEdge", "TypedReadings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedEdge:
    """One edge of the output as read with cursors: some of the instants, or points on the curve.

    Parameters
    ----------
    direction : {"rising", "falling"}
        Where the output's volts go.
    t10_s, t50_s, t90_s : float or None
        Instants at which the output has done 10, 50 and 90 % of its way (so t10 comes first in both directions).
    drive_s : float or None
        Instant at which the drive is half-way, on the same clock.
    points : tuple of (float, float)
        Further points on the edge, (s, V), in time order.
    time_error_s, value_error_v : float
        How far a reading can be off, either way (half the width of what the cursor can tell).
    """

    direction: Literal["rising", "falling"]
    t10_s: float | None = None
    t50_s: float | None = None
    t90_s: float | None = None
    drive_s: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    time_error_s: float
    value_error_v: float = 0.0

    @property
    def transition_10_90_s(self) -> float | None:
        """Time from 10 to 90 %, None where one of them was not read."""
        return None if self.t10_s is None or self.t90_s is None else self.t90_s - self.t10_s


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedReadings:
    """All edges that were read from one screen, where they were typed in, and the drive's own 10-90 % if told."""

    edges: tuple[TypedEdge, ...]
    provenance: Provenance
    drive_transition_s: float | None = None
