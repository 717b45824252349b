"""Mean delay by area, and the edge as it is read: without a model of the response."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.bench.fit import ModelFit
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray
from feelcheck.numerics.crossings import Transition, transition
from feelcheck.numerics.filters import savitzky_golay

__all__ = ["EdgeReading", "area_delay", "read_edge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeReading:
    """One edge as it is read.

    Parameters
    ----------
    transition : Transition or None
        Its 10, 50 and 90 % instants, from the window's origin; None where it ends before 90 %.
    u_duration_s : float
        Standard uncertainty of the 10-90 % duration.
    settled_fraction, u_settled : float
        Way covered when the window ends, and its standard uncertainty.
    longest_s : float
        Time from the 10 % instant to the end of the window.
    """

    transition: Transition | None
    u_duration_s: float
    settled_fraction: float
    u_settled: float
    longest_s: float


def read_edge(fit: ModelFit) -> EdgeReading:
    """Return the reference instants of one edge with the levels of its fit.

    Parameters
    ----------
    fit : ModelFit
        The fit of one candidate.

    Notes
    -----
    The samples are smoothed over at most a twelfth of the transition before the levels are crossed.
    """
    window = fit.window
    first, last = fit.levels
    smooth = _smoothed(window.y - fit.besides, max(3, int(window.duration_s / window.interval_s / 12)))
    swing = last - first or window.swing
    last = first + swing
    before, after = fit.states
    reach = after - before or window.swing
    way_end = (fit.way_end - before) / reach
    u_level = fit.u_last / abs(reach)
    try:
        found = transition(window.t_s, smooth, first, last)
    except NotEnoughDataError:
        found = None
    begin = float(window.t_s[int(np.argmax((smooth - first) / swing >= 0.1))])
    duration = found.duration if found else 0.0
    slope = 0.4 * abs(swing) / max(duration, window.interval_s)
    samples = max(3.0, duration / window.interval_s / 12)
    return EdgeReading(
        transition=found,
        u_duration_s=float(np.hypot(window.noise / slope * np.sqrt(2 / samples), window.interval_s / np.sqrt(12))),
        settled_fraction=min(max(way_end, 0.0), 1.0),
        u_settled=abs(way_end) * u_level,
        longest_s=float(window.t_s[-1]) - begin,
    )


def _smoothed(y: FloatArray, width: int) -> FloatArray:
    width += 1 - width % 2
    return savitzky_golay(y, width, 1) if 3 <= width < y.size else y


def area_delay(fit: ModelFit, clipped: bool = True) -> tuple[float, float]:
    """Return the mean delay of the output behind the drive by area, and its standard uncertainty, s.

    Parameters
    ----------
    fit : ModelFit
        A driven edge that settles; only its clip levels are used: where the sensor saturates the output is set against
        the clipped drive.
    clipped : bool
        Whether they are: not where no candidate explains the edge.

    Notes
    -----
    The area above the output's step less the area above the drive's: the integral of (drive - output), both scaled
    from 0 to 1 by the means of their first and last tenths.
    """
    window = fit.window
    assert window.stimulus is not None
    seen = np.clip(window.stimulus.u, *fit.clips) if clipped else window.stimulus.u
    drive = np.interp(window.t_s, window.stimulus.t_s, seen)
    y, u = _scaled(window.y - fit.besides), _scaled(drive)
    noise = window.noise / abs(window.swing)
    n = window.y.size
    area = float(np.trapezoid(u - y, window.t_s))
    return area, float(noise * window.span_s * np.sqrt(1 / n + 2.0 / max(n / 10, 1) / 4))


def _scaled(values: FloatArray) -> FloatArray:
    n = max(3, values.size // 10)
    first, last = float(np.mean(values[:n])), float(np.mean(values[-n:]))
    return (values - first) / (last - first) if last != first else np.zeros_like(values)
