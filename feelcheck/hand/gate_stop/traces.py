"""The fitted flicks as arrays for a figure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.hand.gate_stop.batches import GROUPS
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.model import Trace

__all__ = ["flick_traces"]

MAX_TRACES = 12


def flick_traces(
    chosen: Chosen,
    windows: Sequence[FlickWindow],
    rows: Sequence[tuple[int, int]],
    names: tuple[str, str],
) -> tuple[Trace, ...]:
    """Return fitted flicks, at most `MAX_TRACES` an axis and direction, times from contact.

    Parameters
    ----------
    chosen : Chosen
        The fit.
    windows : sequence of FlickWindow
        The flicks that were laid out.
    rows : sequence of (int, int)
        Flick and axis of each row of the batch.
    names : tuple of str
        Names of the axes.
    """
    found, traces, count = chosen.best, [], dict.fromkeys(range(len(GROUPS)), 0)
    for row, (i, axis) in enumerate(rows):
        g = int(found.batch.group[row])
        if count[g] >= MAX_TRACES:
            continue
        count[g] += 1
        window, used = windows[i], found.batch.weight[row] > 0
        contact_s = float(found.fit.contact_s[found.batch.contact[row]])
        direction = "rising" if window.sign[axis] > 0 else "falling"
        marks = {"contact_s": window.late_s + contact_s}
        if found.fit.tau_s.shape[1]:
            marks["tau_s"] = float(found.fit.tau_s[g].max())
        traces.append(
            Trace(
                kind="flick",
                axis=names[axis],
                arrays={
                    "t_s": found.batch.t_s[row, used] + window.late_s,
                    "measured_fs": found.batch.y[row, used] * window.sign[axis],
                    "model_fs": found.fit.model[row, used] * window.sign[axis],
                    "raw_t_s": window.t_s,
                    "raw_fs": np.where(window.seen[axis], window.y[axis] * window.sign[axis], np.nan),
                },
                marks=marks,
                labels={"direction": direction, "model": chosen.shape.name},
            )
        )
    return tuple(traces)
