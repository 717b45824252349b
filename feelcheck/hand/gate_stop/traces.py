"""The fitted flicks as arrays for a figure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.numbers import GIVE
from feelcheck.hand.gate_stop.rim_bracket import radial_paths
from feelcheck.hand.gate_stop.rim_check import Wall, family_of
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.model import Trace

__all__ = ["flick_traces", "unsmoothed_trace"]

MAX_TRACES = 12
"""Flicks that are drawn; more hide each other."""

REJECTED = 1.6
"""A delay that the rim does not allow, over the longest that it does, to be drawn beside the chosen one."""

FROM_S, TO_S, TO_DELAYS = -0.05, 0.05, 4.0
"""What of a flick is drawn: times from contact, and delays after it."""


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


def unsmoothed_trace(chosen: Chosen, wall: Wall, names: tuple[str, str], stick: str) -> tuple[Trace, ...]:
    """Return one flick with its smoothing undone by the choice and by a delay that the rim forbids; none without one.

    Parameters
    ----------
    chosen : Chosen
        The fit.
    wall : Wall
        What the rim says.
    names : tuple of str
        Names of the axes.
    stick : str
        Name of the stick.
    """
    flicks, family = wall.flicks, family_of(chosen.best)
    share = wall.brackets.high_s / chosen.delay_s
    told = share[np.isfinite(share) & (wall.brackets.n > 0)]
    if not told.size:
        return ()
    longer = REJECTED * float(np.median(told))
    path, width = radial_paths(flicks, family, chosen.delay_s)
    beyond, _ = radial_paths(flicks, family, longer * chosen.delay_s)
    speed = np.where(flicks.tells.any(axis=1), np.gradient(path, axis=1).max(axis=1), 0.0)
    clear = np.flatnonzero(wall.stopped) if wall.stopped.any() else np.arange(len(path))
    f = int(clear[np.argsort(speed[clear])[clear.size // 2]])
    met = int(np.argmax(path[f] > 1.0 - GIVE)) + width // 2
    delay_s = float(np.median(chosen.delay_s[flicks.group[f][flicks.tells[f]]]))
    t_s = (np.arange(path.shape[1]) - met) * flicks.interval_s
    kept = (t_s > FROM_S) & (t_s < TO_S + TO_DELAYS * delay_s)
    seen = np.sum(flicks.end[f][:, None] * flicks.y[f], axis=0) / flicks.reach[f] ** 2
    return (
        Trace(
            kind="unsmoothed",
            axis=names[0] or names[1],
            arrays={
                "t_s": t_s[kept],
                "measured_fraction": seen[kept],
                "chosen_fraction": path[f, kept],
                "rejected_fraction": beyond[f, kept],
            },
            marks={"chosen_delay_s": delay_s, "rejected_delay_s": longer * delay_s, "gives_fraction": GIVE},
            labels={"model": chosen.shape.name, "stick": stick},
        ),
    )
