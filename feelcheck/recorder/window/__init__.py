"""The window of a guided recording: a practice sheet with one sentence, one gesture and a strip."""

from __future__ import annotations

from feelcheck.canvas import has_display
from feelcheck.recorder.window.window import SheetWindow

__all__ = ["SheetWindow", "has_display"]
