"""Whether this system has event devices at all; imported before anything that only Linux has."""

from __future__ import annotations

import sys

from feelcheck.errors import SourceError

__all__ = ["require_linux"]


def require_linux() -> None:
    """Raise SourceError on a system without event devices."""
    if not sys.platform.startswith("linux"):
        raise SourceError(
            "Event devices exist on Linux only.",
            {"system": sys.platform},
            "Record with --source gamepad.",
        )
