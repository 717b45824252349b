"""Panels of the lag: a marker's events, tied sticks laid over each other, their lag against pace."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from feelcheck.model import Trace
from feelcheck.renderers._panels import Panel, heading
from feelcheck.renderers._style import FAINT, FIT, LANES, MARK, REFERENCE, REPORTS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["lag_panels"]

MOST_LINES = 24


def lag_panels(traces: tuple[Trace, ...]) -> list[Panel]:
    """Return the panels of all traces of kind ``"marker"`` and ``"coupled"``; none without."""
    panels = [_marker_panel(trace) for trace in traces if trace.kind == "marker"]
    for trace in traces:
        if trace.kind == "coupled":
            panels += [_overlay_panel(trace), _pace_panel(trace)]
    return panels


def _marker_panel(trace: Trace) -> Panel:
    t_ms, flicks = 1e3 * np.asarray(trace.arrays["t_s"]), np.asarray(trace.arrays["flicks_fs"])
    onset_ms = 1e3 * float(np.mean(trace.arrays["onset_s"]))
    button = trace.labels.get("button", "button")

    def draw(ax: Axes) -> None:
        for line in flicks[:MOST_LINES]:
            ax.plot(t_ms, 100 * line, **FAINT)
        ax.plot(t_ms, 100 * np.median(flicks, axis=0), label="median", **FIT)
        ax.axvline(0.0, label=f"{button} goes down", **MARK)
        ax.set_xlabel("time since the button, ms")
        ax.set_ylabel("deflection, % of full throw")
        ax.legend(loc="lower right", handlelength=1.6)
        heading(ax, f"{trace.axis}, behind {button}", f"begins to stop {onset_ms:.2f} ms after the button")

    words = f"{len(flicks)} flicks of {trace.axis} laid over each other at the edge of {button}; {onset_ms:.2f} ms."
    return Panel(draw=draw, description=words)


def _overlay_panel(trace: Trace) -> Panel:
    t_ms = 1e3 * np.asarray(trace.arrays["t_s"])
    first, second = (100 * np.asarray(trace.arrays[name]) for name in ("first_fs", "second_fs"))
    names, delay_ms = trace.labels, 1e3 * trace.marks["delay_s"]
    said = f"{names['second']} {'later' if delay_ms >= 0 else 'earlier'} by {abs(delay_ms):.2f} ms"

    def draw(ax: Axes) -> None:
        for values, lane, name in zip((first, second), LANES, (names["first"], names["second"]), strict=False):
            ax.plot(t_ms, values, color=lane["color"], linestyle=lane["linestyle"], linewidth=1.3, label=name)
        ax.set_xlabel("time, ms")
        ax.set_ylabel("deflection, % of full throw")
        ax.legend(loc="best", handlelength=2.4)
        heading(ax, "Tied sticks, quickest stroke", said)

    words = f"The quickest stroke of {names['first']} and {names['second']}: {said}."
    return Panel(draw=draw, description=words)


def _pace_panel(trace: Trace) -> Panel:
    pace_ms, lag_ms = (1e3 * np.asarray(trace.arrays[name]) for name in ("pace_s", "lag_s"))
    sign, delay_ms = np.asarray(trace.arrays["sign"]), 1e3 * trace.marks["delay_s"]

    def draw(ax: Axes) -> None:
        for style, way, word in zip(REPORTS, (1, -1), ("code rising", "code falling"), strict=False):
            ax.plot(pace_ms[sign == way], lag_ms[sign == way], label=word, **style)
        ax.axhline(delay_ms, **REFERENCE)
        ax.set_xlabel("time for one full throw, ms")
        ax.set_ylabel("delay of each stroke, ms")
        ax.legend(loc="best", handlelength=1.6)
        heading(ax, f"{trace.axis}, delay against pace", "a slope would be give in the linkage")

    words = f"Each stroke's own delay of {trace.axis} against the time a full throw takes; {delay_ms:.2f} ms over all."
    return Panel(draw=draw, description=words)
