"""The figure of `feelcheck analyze --plot`: the evidence behind the numbers of one recording."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.model import HandResult, Trace
from feelcheck.renderers._code_panels import allan_panel, interval_panel, lattice_panel, reach_panel, rest_panel
from feelcheck.renderers._flick_panels import flick_panel, release_panel, unsmoothed_panel
from feelcheck.renderers._format import format_brief, name_of
from feelcheck.renderers._lag_panels import lag_panels
from feelcheck.renderers._panels import Panel, Picture, Sheet, sheet

__all__ = ["flick_panels", "hand_figure", "hand_pictures"]

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
    return sheet(panels, n_columns=4 if len(panels) > 6 else 3, title=_title(result), left_out=left_out)


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
            pictures[name] = Picture(sheet=drawn, title=f"{TITLES[name]}: {_title(result)}", description=words)
    return pictures


def _title(result: HandResult) -> str:
    provenance = result.recording.provenance
    name = name_of(provenance, "recording")
    state = provenance.state.replace("_", " ")
    return ", ".join(filter(None, (name, state, "simulated" if provenance.simulated else "")))


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
        for direction in ("rising", "falling"):
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
    panels = {}
    for axis, traces in _by_axis(_of_kind(result, "flick")).items():
        for direction in ("rising", "falling"):
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
