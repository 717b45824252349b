"""The figure of `feelcheck analyze --plot`: the evidence behind the numbers of one recording."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from feelcheck.counted import counted
from feelcheck.model import HandResult, Trace
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.renderers._code_panels import allan_panel, interval_panel, lattice_panel, reach_panel, rest_panel
from feelcheck.renderers._flick_panels import flick_panel, release_panel, unsmoothed_panel
from feelcheck.renderers._format import format_brief, title_of
from feelcheck.renderers._panels import Panel, Picture, Sheet, heading, sheet
from feelcheck.renderers._style import FAINT, FIT, LANES, MARK, REFERENCE, REPORTS

if TYPE_CHECKING:
    from matplotlib.axes import Axes


__all__ = ["flick_panels", "hand_figure", "hand_pictures", "lag_panels"]

FEWEST_LEVELS = 8
PAGE_PANEL_IN = (2.7, 2.1)
"""A panel on a page, four in a row."""
SMALLEST_RIM_SHARE = 0.3
PICTURES = ("flicks", "codes", "rest", "release")
TITLES = {
    "flicks": "Flicks that the rim stopped",
    "codes": "Levels, reports and reach",
    "rest": "At rest",
    "release": "Spring return",
}
WHY_MISSING = {
    "flick": "Flicks are not drawn: none ran into the rim and was held there.",
    "lattice": "Levels are not drawn: no axis has enough of them.",
    "intervals": "Report intervals are not drawn: the log has no time stamps of its own.",
    "rest": "Rest is not drawn: the stick was never left alone long enough.",
    "reach": "Reach is not drawn: the stick was not led round its rim.",
    "release": "The spring return is not drawn: the stick was not let go from the rim.",
}

MOST_LINES = 24


def hand_figure(result: HandResult) -> Sheet:
    """Return all evidence of one recording on one sheet.

    Parameters
    ----------
    result : HandResult
        Its traces are drawn; what is missing is said under the sheet.

    Returns
    -------
    Sheet
        Save it with `save_figure`.
    """
    panels = [*lag_panels(result.traces), *(panel for name in PICTURES for panel in _panels(result, name))]
    present = {trace.kind for trace in result.traces}
    left_out = [why for kind, why in WHY_MISSING.items() if kind not in present]
    return sheet(
        panels,
        n_columns=4 if len(panels) > 6 else 3,
        title=title_of(result.recording.provenance, "recording"),
        left_out=left_out,
    )


def hand_pictures(result: HandResult) -> dict[str, Picture]:
    """Return the evidence as one picture a topic, for a page: ``flicks``, ``codes``, ``rest``, ``release``.

    Parameters
    ----------
    result : HandResult
        What the command gives.
    """
    pictures = {}
    for name in PICTURES:
        panels = _panels(result, name)
        if panels:
            words = " ".join(panel.description for panel in panels)
            drawn = sheet(panels, n_columns=4, panel_in=PAGE_PANEL_IN)
            pictures[name] = Picture(
                sheet=drawn,
                title=f"{TITLES[name]}: {title_of(result.recording.provenance, 'recording')}",
                description=words,
            )
    return pictures


def _of_kind(result: HandResult, kind: str) -> list[Trace]:
    return [trace for trace in result.traces if trace.kind == kind]


def _panels(result: HandResult, name: str) -> list[Panel]:
    if name == "flicks":
        return [*flick_panels(result).values(), *map(unsmoothed_panel, _of_kind(result, "unsmoothed"))]
    if name == "codes":
        return _code_panels(result)
    if name == "rest":
        traces = _of_kind(result, "rest")
        unit = next((result.axes[t.axis].rest_noise.unit for t in traces if t.axis in result.axes), "counts")
        varying = [trace for trace in traces if np.any(np.asarray(trace.arrays["allan_deviation"]) > 0)]
        panels = [rest_panel(traces, result.axes)] if traces else []
        return panels + ([allan_panel(varying, unit)] if varying else [])
    panels = []
    for axis, traces in _by_axis(_of_kind(result, "release")).items():
        for direction in DIRECTIONS:
            same = [trace for trace in traces if trace.labels.get("direction") == direction]
            panels += [release_panel(axis, direction, same, _return_words(result))] if same else []
    return panels


def _by_axis(traces: Sequence[Trace]) -> dict[str, list[Trace]]:
    found: dict[str, list[Trace]] = {}
    for trace in traces:
        found.setdefault(trace.axis, []).append(trace)
    return found


def flick_panels(result: HandResult) -> dict[tuple[str, str], Panel]:
    """Return the panel of each axis and direction (``"rising"``, ``"falling"``) that has flicks to show.

    Parameters
    ----------
    result : HandResult
        What the command gives.
    """
    panels: dict[tuple[str, str], Panel] = {}
    for axis, traces in _by_axis(_of_kind(result, "flick")).items():
        for direction in DIRECTIONS:
            flicks = [trace for trace in traces if trace.labels.get("direction") == direction]
            if flicks:
                response = getattr(result.axes[axis], direction) if axis in result.axes else None
                panels[axis, direction] = flick_panel(axis, direction, flicks, response)
    return panels


def _code_panels(result: HandResult) -> list[Panel]:
    lattices = [t for t in _of_kind(result, "lattice") if np.size(t.arrays["level"]) >= FEWEST_LEVELS]
    intervals = _of_kind(result, "intervals")
    reach = [t for t in _of_kind(result, "reach") if np.mean(np.isfinite(t.arrays["rim_x_fs"])) >= SMALLEST_RIM_SHARE]
    panels = [lattice_panel(lattices, result.axes)] if lattices else []
    panels += [interval_panel(trace, result.timing.report_interval) for trace in intervals[:1]]
    return panels + [reach_panel(trace) for trace in reach]


def _return_words(result: HandResult) -> str:
    ring = result.release.get("ring_frequency")
    return f"rings at {format_brief(ring)}" if ring is not None and ring.is_ok else "no ring told"


def lag_panels(traces: tuple[Trace, ...]) -> list[Panel]:
    """Return the panels of a marker's events, of tied sticks laid over each other and of their lag against pace.

    Parameters
    ----------
    traces : tuple of Trace
        Those of kind ``"marker"`` and ``"coupled"`` are drawn.
    """
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

    words = f"{counted(len(flicks), 'flick')} of {trace.axis} laid over each other at the edge of {button}"
    words += f"; {onset_ms:.2f} ms."
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
