"""The fitted flicks as arrays for a figure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.model import Trace

__all__ = ["flick_traces"]

MAX_TRACES = 12


def flick_traces(
    chosen: Chosen,
    windows: Sequence[FlickWindow],
    names: tuple[str, str],
) -> tuple[Trace, ...]:
    """Return fitted flicks, at most `MAX_TRACES` an axis and direction, times from contact.

    Parameters
    ----------
    chosen : Chosen
        The fit.
    windows : sequence of FlickWindow
        The flicks that were laid out.
    names : tuple of str
        Names of the axes.
    """
    found, traces, count = chosen.best, [], dict.fromkeys(range(N_GROUPS), 0)
    for row, g in enumerate(found.batch.group.tolist()):
        axis, window, used = row % 2, windows[row // 2], found.batch.weight[row] > 0
        if count[g] >= MAX_TRACES or not used.any():
            continue
        count[g] += 1
        contact_s = float(found.fit.contact_s[row // 2])
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
