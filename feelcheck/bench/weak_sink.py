"""Discharge of a capacitor through a weak output: shapes that no pole has."""

from __future__ import annotations

import numpy as np

from feelcheck.bench.response_models import Stimulus, pole_response
from feelcheck.model import FloatArray

__all__ = ["weak_columns", "weak_levels", "weak_mean_delay"]

N_KNOTS = 160


def weak_columns(shape: str, theta: FloatArray, since_s: FloatArray) -> FloatArray:
    """Return the model columns of a weak-sink shape, shape (n, 1 or 2).

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
    """
    end = float(max(since_s[-1], 1e-300))
    behind = float(np.exp(theta[-1]))
    if shape == "slew":
        duration, after = float(np.exp(theta[0])), np.maximum(since_s, 0.0)
        tail = 1 - behind / (duration + behind) * np.exp(-np.maximum(after - duration, 0.0) / behind)
        return np.column_stack([np.ones(since_s.size), np.where(after < duration, after / (duration + behind), tail)])
    if shape.startswith("ramp"):
        duration = float(np.exp(theta[0])) if shape == "ramp" else 10 * end
        ramp = Stimulus(t_s=np.array([0.0, duration]), u=np.array([0.0, 1.0 if shape == "ramp" else 10.0]))
        return np.column_stack([np.ones(since_s.size), np.real(pole_response(ramp, behind, since_s))])
    tau = float(np.exp(theta[0]))
    stop = float(np.exp(theta[1])) if shape == "to_ground" else 2 * end
    knots = np.linspace(0.0, stop, N_KNOTS)
    return np.real(pole_response(Stimulus(t_s=knots, u=np.exp(-knots / tau)), behind, since_s))[:, None]


def weak_levels(shape: str, theta: FloatArray, coefficients: FloatArray) -> tuple[float, float]:
    """Return the levels before and after; a target not reached yet is taken as the end of the window (or 0 V)."""
    if not shape.startswith("to_ground"):
        return float(coefficients[0]), float(coefficients[0] + coefficients[1])
    floor = float(np.exp(-np.exp(theta[1] - theta[0]))) if shape == "to_ground" else 0.0
    return float(coefficients[0]), float(coefficients[0]) * floor


def weak_mean_delay(shape: str, theta: FloatArray) -> float:
    """Return the area above the step of a finished weak-sink shape, from its onset, s.

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
