"""The panel that shows why a delay was chosen: a flick with its smoothing undone, against the rim."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from feelcheck.model import Trace
from feelcheck.renderers._panels import Panel, heading
from feelcheck.renderers._style import FIT, LIGHT, MARK, PREDICTED, REPORTS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["unsmoothed_panel"]

GIVES: dict[str, Any] = {"facecolor": "none", "edgecolor": LIGHT["faint"], "hatch": "////", "linewidth": 0.5}
FORBIDDEN: dict[str, Any] = {**PREDICTED, "color": REPORTS[1]["color"]}
N_MARKERS = 40
LOWEST, MARGIN = 20.0, 8.0


def unsmoothed_panel(trace: Trace) -> Panel:
    """Return the panel of one flick as it was logged, undone by the chosen delay, and undone by one the rim forbids.

    Parameters
    ----------
    trace : Trace
        Kind ``"unsmoothed"``: ``t_s``, ``measured_fraction``, ``chosen_fraction``, ``rejected_fraction`` of shape (n,),
        in shares of the way to the rim; marks ``chosen_delay_s``, ``rejected_delay_s`` and ``gives_fraction``; label
        ``stick``.
    """
    t_ms = 1e3 * np.asarray(trace.arrays["t_s"], dtype=np.float64)
    logged, chosen, rejected = (
        100.0 * np.asarray(trace.arrays[f"{name}_fraction"], dtype=np.float64)
        for name in ("measured", "chosen", "rejected")
    )
    chosen_ms, rejected_ms = (1e3 * trace.marks[f"{name}_delay_s"] for name in ("chosen", "rejected"))
    beyond = float(rejected.max()) - 100.0
    said = f"at {rejected_ms:.3g} ms the thumb went {beyond:.0f} % through the rim"

    def draw(ax: Axes) -> None:
        stride = max(1, -(-t_ms.size // N_MARKERS))
        words = "reports" if stride == 1 else f"reports, 1 in {stride}"
        ends, rim = np.array([t_ms[0], t_ms[-1]]), np.full(2, 100.0)
        ax.fill_between(ends, rim, rim * (1.0 + trace.marks["gives_fraction"]), label="what a rim may give", **GIVES)
        ax.axhline(100.0, label="rim", **MARK)
        ax.plot(t_ms[::stride], logged[::stride], label=words, **REPORTS[0])
        ax.plot(t_ms, chosen, label=f"undone by {chosen_ms:.3g} ms", **FIT)
        ax.plot(
            t_ms, rejected, label=f"undone by {rejected_ms:.3g} ms", **{**PREDICTED, **{"color": REPORTS[1]["color"]}}
        )
        ax.set_xlim(float(t_ms[0]), float(t_ms[-1]))
        ax.set_ylim(LOWEST, max(100.0 + beyond, 110.0) + MARGIN)
        ax.set_xlabel("time since the rim was met, ms")
        ax.set_ylabel("way to the rim, %")
        ax.legend(loc="lower right", handlelength=1.8)
        heading(ax, f"Where the thumb was, {trace.labels.get('stick') or trace.axis}", said)

    description = (
        f"One flick with the smoothing undone: by {chosen_ms:.3g} ms the stick stops at the rim; {said}, which no rim "
        "lets it."
    )
    return Panel(draw=draw, description=description, span=2)
