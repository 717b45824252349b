"""Each command's whole flow, readable on one screen: one module a command, one function of the command's name.

Every function returns the frozen result; renderers turn it into text, JSON, figures and pages.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "analyze": "hand",
    "analyze_many": "hand",
    "analyze_recording": "hand",
    "demo": "demo",
    "devices": "devices",
    "draw_feel": "feel",
    "draw_hand": "hand",
    "read_log": "hand",
    "bench": "bench",
    "bench_many": "bench",
    "draw_bench": "bench",
    "compare": "compare",
    "draw_comparison": "compare",
    "draw_repeatability": "compare",
    "repeatability": "compare",
    "report": "report",
    "export": "log",
    "feel": "feel",
    "log": "log",
    "resume": "log",
    "installed_plugins": "plugins",
    "plugin_remarks": "plugins",
    "close_session": "sessions",
    "note_capture": "sessions",
    "questions_left": "sessions",
    "quick_answer": "sessions",
    "remembered_facts": "sessions",
    "sessions": "sessions",
    "specimen_of": "specimens",
    "add_capture": "specimens",
    "add_session": "specimens",
    "new_profile": "specimens",
    "note_part": "specimens",
    "note_state": "specimens",
    "PartsAsked": "parts",
    "part_found": "specimens",
    "parts": "parts",
    "parts_what_if": "parts",
    "read_profile": "specimens",
    "state_step": "specimens",
    "swapped_lag": "hand",
}

__all__ = [
    "add_capture",
    "add_session",
    "analyze",
    "analyze_many",
    "analyze_recording",
    "bench",
    "bench_many",
    "close_session",
    "compare",
    "demo",
    "devices",
    "draw_bench",
    "draw_comparison",
    "draw_feel",
    "draw_hand",
    "draw_repeatability",
    "export",
    "feel",
    "installed_plugins",
    "log",
    "new_profile",
    "note_capture",
    "note_part",
    "note_state",
    "part_found",
    "parts",
    "parts_what_if",
    "plugin_remarks",
    "questions_left",
    "quick_answer",
    "read_log",
    "read_profile",
    "remembered_facts",
    "repeatability",
    "report",
    "resume",
    "sessions",
    "specimen_of",
    "state_step",
    "swapped_lag",
]


def __getattr__(name: str) -> Any:
    """Load a command's module when it is first asked for."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}._{_HOMES[name]}"), name)
