"""The figure of `feelcheck bench --plot`: edges with their fit over the drive, internal steps, transfer curve."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from feelcheck.model import BenchResult, Trace
from feelcheck.renderers._before_after_panels import before_after_panels
from feelcheck.renderers._edge_panels import edge_panel, output_words, unit_of, with_unit
from feelcheck.renderers._format import format_brief, title_of
from feelcheck.renderers._panels import Panel, Picture, Sheet, heading, sheet, zoomed_limits
from feelcheck.renderers._style import LANES, MARK
from feelcheck.renderers._thinning import envelope

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["bench_figure", "bench_pictures", "edge_panels"]

N_COLUMNS = 300
N_STEPS = 9


def bench_figure(result: BenchResult) -> Sheet:
    """Return what a capture shows: both directions with their fit, internal steps and transfer curve where found.

    Parameters
    ----------
    result : BenchResult
        Its traces are drawn; without any of an edge the sheet says so.

    Returns
    -------
    Sheet
        Save it with `save_figure`.
    """
    panels = _panels(result)
    left_out = [] if _of_kind(result, "edge") else ["Edges are not drawn: the result holds none."]
    return sheet(
        panels,
        n_columns=2,
        panel_in=(4.6, 2.5),
        title=title_of(result.capture.provenance, "capture"),
        left_out=left_out,
    )


def bench_pictures(result: BenchResult) -> dict[str, Picture]:
    """Return the picture of a capture for a page, under the key ``edges``; empty without traces.

    Parameters
    ----------
    result : BenchResult
        What the command gives.
    """
    panels = _panels(result)
    if not panels:
        return {}
    drawn = sheet(panels, n_columns=2, panel_in=(4.6, 2.5))
    words = " ".join(panel.description for panel in panels)
    return {
        "edges": Picture(
            sheet=drawn,
            title=f"Edges on the bench: {title_of(result.capture.provenance, 'capture')}",
            description=words,
        )
    }


def _of_kind(result: BenchResult, kind: str) -> list[Trace]:
    return [trace for trace in result.traces if trace.kind == kind]


def _panels(result: BenchResult) -> list[Panel]:
    panels = [*before_after_panels(result.traces), *edge_panels(result).values()]
    panels += [_stairs_panel(trace, result) for trace in _of_kind(result, "stairs")[:1]]
    return panels + [_transfer_panel(trace, result) for trace in _of_kind(result, "transfer")[:1]]


def edge_panels(result: BenchResult) -> dict[str, Panel]:
    """Return the panel of each direction (``"rising"``, ``"falling"``) that has edges to show.

    Parameters
    ----------
    result : BenchResult
        What the command gives.
    """
    edges = _of_kind(result, "edge")
    panels = {}
    for word, side in (("rising", result.rising), ("falling", result.falling)):
        same = [edge for edge in edges if edge.labels.get("direction") == word]
        if same:
            panels[word] = edge_panel(word, same, side, result)
    return panels


def _stairs_panel(trace: Trace, result: BenchResult) -> Panel:
    steps_ms = 1e3 * np.asarray(trace.arrays["steps_s"], dtype=np.float64)
    t_ms, output = 1e3 * np.asarray(trace.arrays["t_s"], dtype=np.float64), np.asarray(trace.arrays["output"])
    held_ms = 1e3 * trace.marks["interval_s"]
    start_ms = steps_ms[0] - held_ms
    inside = (t_ms >= start_ms) & (t_ms <= steps_ms[:N_STEPS][-1] + held_ms)
    said = f"held for {format_brief(result.update_interval)}"

    def draw(ax: Axes) -> None:
        since_ms, shown = envelope(t_ms[inside] - start_ms, output[inside], N_COLUMNS)
        ax.plot(since_ms, shown, color=LANES[0]["color"], linewidth=0.9)
        for k, at_ms in enumerate(steps_ms[:N_STEPS] - start_ms):
            ax.axvline(at_ms, label="step" if k == 0 else None, **MARK)
        ax.set_xlabel("time, ms")
        ax.set_ylabel(output_words(result))
        ax.legend(loc="best", handlelength=1.6)
        heading(ax, "Steps inside the sensor, zoomed", said)

    return Panel(draw=draw, description=f"{steps_ms.size} steps of the output in one edge; {said}.")


def _transfer_panel(trace: Trace, result: BenchResult) -> Panel:
    sensitivity = result.extra.get("sensitivity")
    said = f"sensitivity {format_brief(sensitivity)}" if sensitivity is not None else ""

    def draw(ax: Axes) -> None:
        for words, style in zip(("up", "down"), LANES, strict=False):
            shown: dict[str, Any] = {**style, "markersize": 2.4, "linewidth": 1.0, "markevery": 3}
            ax.plot(trace.arrays["drive"], trace.arrays[words], label=f"drive going {words}", **shown)
        drive = np.asarray(trace.arrays["drive"], dtype=np.float64)
        ax.set_xlim(*zoomed_limits(float(drive.min()), float(drive.max())))
        ax.set_xlabel(with_unit("drive", unit_of(result, result.drive_name)))
        ax.set_ylabel(output_words(result))
        ax.legend(loc="best", handlelength=2.6)
        heading(ax, "Transfer curve", said)

    return Panel(draw=draw, description=f"Output against drive on the way up and down. {said}".strip())
