"""Both edges of a change on one time axis that begins with the drive, and what the parts predict, dashed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from feelcheck.model import FloatArray, Trace
from feelcheck.renderers._panels import Panel, heading
from feelcheck.renderers._style import LANES, LIGHT, PREDICTED, SOFT
from feelcheck.renderers._thinning import envelope, evenly

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["before_after_panels"]

N_COLUMNS = 300
N_PREDICTED = 300
ROOM = 0.6
"""What is shown after the slower edge has done 90 %, as a share of the time until then."""


def before_after_panels(traces: Sequence[Trace]) -> list[Panel]:
    """Return a panel a direction and pair of sides: before, now, and the prediction where there is one.

    Parameters
    ----------
    traces : sequence of Trace
        Those of kind ``before_after`` are drawn.
    """
    return [_panel(trace) for trace in traces if trace.kind == "before_after"]


def _panel(trace: Trace) -> Panel:
    names = {side: trace.labels[side] for side in ("before", "now")}
    predicted = trace.labels.get("predicted", "")
    unit = trace.labels.get("unit", "")
    begin, end = _span_ms(trace)

    def draw(ax: Axes) -> None:
        for (side, name), style in zip(names.items(), LANES, strict=False):
            t_ms, output = _within(trace, side, begin, end)
            ax.plot(*envelope(t_ms, output, N_COLUMNS), color=style["color"], linewidth=1.1, label=f"{side}: {name}")
        if "predicted_output" in trace.arrays:
            t_ms, output = _within(trace, "predicted", begin, end)
            kept = evenly(t_ms.size, N_PREDICTED)
            style = {**PREDICTED, "color": LIGHT["third"]}
            ax.plot(t_ms[kept], output[kept], label=f"predicted: {predicted}", **style)
        ax.axvline(0.0, color=SOFT, linewidth=0.7, linestyle=(0, (1.2, 1.8)))
        ax.set_xlim(begin, end)
        ax.set_xlabel("time since the drive was half-way, ms" if _driven(trace) else "time since the onset, ms")
        ax.set_ylabel(f"output, {unit}" if unit else "output, units differ or are unknown")
        ax.legend(loc="best", handlelength=2.2)
        heading(ax, trace.labels["direction"].capitalize(), f"{names['now']} against {names['before']}")

    words = f"; dashed: predicted with {predicted}" if predicted else ""
    description = (
        f"{trace.labels['direction'].capitalize()} edges of {names['before']} and {names['now']}, aligned at the "
        f"{'drive' if _driven(trace) else 'onset'}{words}."
    )
    return Panel(draw=draw, description=description)


def _driven(trace: Trace) -> bool:
    return "before_drive" in trace.arrays and "now_drive" in trace.arrays


def _span_ms(trace: Trace) -> tuple[float, float]:
    """From a little before the drive to well after the slower edge, inside what both captures hold."""
    starts = [1e3 * float(trace.arrays[f"{side}_t_s"][0]) for side in ("before", "now")]
    ends = [1e3 * float(trace.arrays[f"{side}_t_s"][-1]) for side in ("before", "now")]
    if "t90_s" not in trace.marks:
        return min(starts), max(ends)
    over_ms = 1e3 * trace.marks["t90_s"]
    return max(min(starts), -0.4 * over_ms), min(max(ends), (1 + ROOM) * over_ms)


def _within(trace: Trace, side: str, begin_ms: float, end_ms: float) -> tuple[FloatArray, FloatArray]:
    t_ms = 1e3 * np.asarray(trace.arrays[f"{side}_t_s"], dtype=np.float64)
    inside = (t_ms >= begin_ms) & (t_ms <= end_ms)
    return t_ms[inside], np.asarray(trace.arrays[f"{side}_output"], dtype=np.float64)[inside]
