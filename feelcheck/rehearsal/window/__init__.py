"""The window of a rehearsal: a ring with a bead, words beside it."""

from __future__ import annotations

import feelcheck.canvas  # noqa: F401 - before pygame: it silences its greeting
from feelcheck.rehearsal.window.window import RehearsalWindow

__all__ = ["RehearsalWindow"]
