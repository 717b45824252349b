"""The pads seen now."""

from __future__ import annotations

from feelcheck.model import DeviceReport
from feelcheck.sources.devices import list_devices

__all__ = ["devices"]


def devices(*, watch_s: float = 3.0) -> tuple[DeviceReport, ...]:
    """Return what is known of every pad; `watch_s` is how long its motion is watched."""
    return tuple(list_devices(watch_s))
