"""The arrays behind the bench's figures."""

from __future__ import annotations

import numpy as np

from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.levels import Trace1D
from feelcheck.bench.stairs import Stairs
from feelcheck.model import Trace

__all__ = ["edge_trace", "stairs_trace"]


def edge_trace(name: str, found: DirectionFits, output: Trace1D, drive: Trace1D | None) -> Trace:
    """Return one edge of a direction with its fit, its marks and the drive underneath.

    Parameters
    ----------
    name : str
        The output's name.
    found : DirectionFits
        The direction.
    output, drive : Trace1D
        The raw columns.
    """
    fit, reading = found.fits[0], found.readings[0]
    origin, (begin, end) = fit.window.origin_s, fit.window.raw
    step = max(1, (end - begin) // 4000)
    t = output.t_s[begin:end:step]
    arrays = {
        "t_s": t,
        "output": output.values[begin:end:step],
        "fit_t_s": fit.window.t_s + origin,
        "fit": fit.fit.fitted,
    }
    if drive is not None:
        arrays["drive"] = drive.values[begin:end:step]
    marks: dict[str, float] = {"onset_s": origin + fit.dead_s}
    if reading.transition is not None:
        at = reading.transition
        marks |= {"t10_s": at.t10 + origin, "t50_s": at.t50 + origin, "t90_s": at.t90 + origin}
    if fit.poles_s and not fit.spec.weak:
        marks["tau_s"] = fit.main_pole_s
    labels = {"direction": "rising" if fit.window.rising else "falling", "model": found.shape}
    return Trace(kind="edge", axis=name, arrays=arrays, marks=marks, labels=labels)


def stairs_trace(name: str, output: Trace1D, stairs: Stairs) -> Trace | None:
    """Return the stretch that shows the steps, zoomed to them; None without steps.

    Parameters
    ----------
    name : str
        What the output is called.
    output : Trace1D
        The sensor's output.
    stairs : Stairs
        The steps that the output goes in.
    """
    shown = [instants for instants in stairs.instants_s if instants.size >= 2]
    if not stairs.found or stairs.interval.value is None or not shown:
        return None
    instants = max(shown, key=lambda found: found.size)
    margin = 2 * stairs.interval.value
    inside = (output.t_s > instants[0] - margin) & (output.t_s < instants[-1] + margin)
    arrays = {"t_s": output.t_s[inside], "output": output.values[inside], "steps_s": np.asarray(instants)}
    return Trace(kind="stairs", axis=name, arrays=arrays, marks={"interval_s": stairs.interval.value})
