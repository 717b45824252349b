"""What is known of the pads that are plugged in."""

from __future__ import annotations

from dataclasses import dataclass

from feelcheck.model.estimate import Caveat, Estimate

__all__ = ["AxisReport", "DeviceReport"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisReport:
    """One axis of a pad while it was watched.

    Parameters
    ----------
    name : str
        As in a session.
    minimum, maximum : int, counts
        Range of its numbers.
    n_changes : int
        How many changes were seen.
    lowest, highest : int or None, counts
        Smallest and largest value seen; None where the pad could not be watched.
    native_step : Estimate
        Step of the pad's own numbers, in the counts that are logged.
    """

    name: str
    minimum: int
    maximum: int
    n_changes: int
    lowest: int | None
    highest: int | None
    native_step: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceReport:
    """One pad: how it is read, what was seen of it, and what would limit a recording.

    Parameters
    ----------
    name : str
        What it calls itself.
    source : str
        The source that reads it best (``--source``).
    backends : tuple of str
        Every way in which it is seen: ``"evdev"``, or a driver of SDL (``"SDL system"``, ``"SDL hidapi"``).
    path, guid : str
        Where it is and what model it is.
    axes : tuple of AxisReport
        Its axes.
    buttons : tuple of str
        Names of its buttons and hats.
    report_interval : Estimate
        Interval of its reports while it moved.
    clock : str
        Who stamps a recording, in words.
    limits : tuple of Caveat
        What would limit a recording, each with its remedy.
    watched_s : float, s
        How long it was watched.
    """

    name: str
    source: str
    backends: tuple[str, ...]
    path: str
    guid: str
    axes: tuple[AxisReport, ...]
    buttons: tuple[str, ...]
    report_interval: Estimate
    clock: str
    limits: tuple[Caveat, ...] = ()
    watched_s: float = 0.0
