"""The window of a guided recording: a practice sheet with one sentence, one gesture and a strip."""

from __future__ import annotations

from feelcheck.recorder.window.window import SheetWindow, has_display

__all__ = ["SheetWindow", "has_display"]
