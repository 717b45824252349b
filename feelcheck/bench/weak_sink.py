"""Discharge of a capacitor through a weak output: shapes that no pole has."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray
from feelcheck.numerics.one_pole import ramp_response

__all__ = ["weak_levels", "weak_mean_delay", "weak_response"]

Numbers = NDArray[Any]
"""Real, or complex for a derivative by complex steps."""


def weak_response(shape: str, theta: Numbers, since_s: Numbers, end_s: float) -> Numbers:
    """Return a weak-sink shape of unit size, shape (n,); of the shapes to ground the way down from 1.

    Parameters
    ----------
    shape : {"ramp", "ramp_open", "slew", "to_ground", "to_ground_open"}
        A constant current discharges at C dV/I: a straight line that stops at the target, or has not reached it yet,
        or runs out along an exponential once the current is no longer the limit; a resistor to ground discharges along
        an exponential that aims at 0 V and is cut at the target, or not yet.
    theta : ndarray
        Logarithms, s: of the ramp's duration; of the exponential's time constant and the time to the target; and last
        of the pole behind it (of "slew": of the exponential at its end).
    since_s : ndarray, shape (n,), s
        Time from the onset.
    end_s : float, s
        When a line that stops beyond the window has run its unit.

    Notes
    -----
    Nothing but algebra and exponentials on every side of a kink, so that complex steps give its slopes.
    """
    times = np.exp(theta)
    behind = times[-1]
    if shape == "slew":
        whole = times[0] + behind
        tail = 1.0 - behind / whole * np.exp(-_after(since_s, times[0]) / behind)
        return np.asarray(np.where(since_s.real < times[0].real, _after(since_s, 0.0) / whole, tail))
    if shape == "ramp":
        return np.asarray((_line(since_s, 0.0, behind) - _line(since_s, times[0], behind)) / times[0])
    if shape == "ramp_open":
        return np.asarray(_line(since_s, 0.0, behind) / end_s)
    tau = times[0]
    if abs(tau - behind) < 1e-3 * abs(tau):
        behind = 0.999 * tau
    stop = times[1] if shape == "to_ground" else np.exp(theta[0] * 0.0) * 2.0 * end_s
    falling = _after(since_s, 0.0)
    falling = np.where(falling.real < stop.real, falling, stop)
    down = (tau * np.exp(-falling / tau) - behind * np.exp(-falling / behind)) / (tau - behind)
    floor = np.exp(-stop / tau)
    held = np.exp(-_after(since_s, stop) / behind)
    return np.asarray(np.where(since_s.real < stop.real, down, floor + (down - floor) * held))


def _after(since_s: Numbers, begin: complex) -> Numbers:
    later = since_s - begin
    return np.where(later.real > 0, later, 0.0)


def _line(since_s: Numbers, begin: complex, behind: complex) -> Numbers:
    """A line of slope 1 from an instant on, behind one pole."""
    return ramp_response(_after(since_s, begin), behind)


def weak_levels(shape: str, theta: FloatArray, coefficients: FloatArray) -> tuple[float, float]:
    """Return the levels before and after; a target not reached yet is taken as the end of the window (or 0 V).

    Parameters
    ----------
    shape : str
        Name of the weak sink's shape.
    theta : ndarray, shape (k,)
        Logarithms of its times, s.
    coefficients : ndarray, shape (m,)
        Linear parameters, V: level, then swing.
    """
    if not shape.startswith("to_ground"):
        return float(coefficients[0]), float(coefficients[0] + coefficients[1])
    floor = float(np.exp(-np.exp(theta[1] - theta[0]))) if shape == "to_ground" else 0.0
    return float(coefficients[0]), float(coefficients[0]) * floor


def weak_mean_delay(shape: str, theta: FloatArray) -> float:
    """Return the area above the step of a finished weak-sink shape, from its onset, s.

    Parameters
    ----------
    shape : str
        Name of the weak sink's shape.
    theta : ndarray, shape (k,)
        Logarithms of its times, s.

    Examples
    --------
    >>> round(weak_mean_delay("ramp", np.log([0.010, 0.001])), 6)
    0.006
    """
    behind = float(np.exp(theta[-1]))
    if shape == "ramp":
        return float(np.exp(theta[0])) / 2 + behind
    if shape == "slew":
        duration = float(np.exp(theta[0]))
        return duration - (duration**2 / 2 - behind**2) / (duration + behind)
    tau, stop = float(np.exp(theta[0])), float(np.exp(theta[1]))
    floor = float(np.exp(-stop / tau))
    return (tau * (1 - floor) - stop * floor) / (1 - floor) + behind
