"""Whether this system has event devices at all; imported before anything that only Linux has."""

from __future__ import annotations

import sys

from feelcheck.errors import SourceError

__all__ = ["has_event_devices", "require_linux"]


def has_event_devices() -> bool:
    """Return whether this system has event devices."""
    return sys.platform.startswith("linux")


def require_linux() -> None:
    """Raise SourceError on a system without event devices."""
    if not has_event_devices():
        raise SourceError(
            "Event devices exist on Linux only.",
            {"system": sys.platform},
            "Record with --source gamepad.",
        )
