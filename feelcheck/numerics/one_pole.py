"""Closed-form responses of real poles and moving averages, and their step transitions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray

__all__ = [
    "LN9",
    "line_weights",
    "pole_of_samples",
    "ramp_response",
    "ramp_transition_10_90",
    "residues",
    "step_response",
    "transition_10_90",
]

LN9 = math.log(9.0)
"""10-90 % of a step behind one pole, in its time constants."""
SHORTEST_AVERAGE = (
    1e-4  # of the quickest pole: a shorter one is a delay by half of it, exact to 1e-9, and loses no digits
)
SHORTEST_POLE = 1e-3
"""Intervals; a shorter pole leaves nothing from one sample to the next."""


def residues(tau_s: FloatArray) -> FloatArray:
    """Return the partial-fraction weights of a chain of distinct real poles.

    Parameters
    ----------
    tau_s : ndarray, shape (..., m), s
        Time constants, pairwise distinct.

    Returns
    -------
    ndarray, shape (..., m)
        Weights that sum to one: the chain's response is the weighted sum of the single poles' responses.

    Examples
    --------
    >>> residues(np.array([2.0, 1.0]))
    array([ 2., -1.])
    """
    m = tau_s.shape[-1]
    weights = np.ones_like(tau_s)
    for i in range(m):
        for j in range(m):
            if i != j:
                weights[..., i] *= tau_s[..., i] / (tau_s[..., i] - tau_s[..., j])
    return weights


def step_response(t_s: FloatArray, poles_s: Sequence[float] = (), average_s: float = 0.0) -> FloatArray:
    """Return the response to a unit step at 0 of up to two poles and a continuous moving average.

    Parameters
    ----------
    t_s : ndarray, any shape, s
        Time from the step; the result has the same shape.
    poles_s : sequence of float, s
        None, one or two time constants.
    average_s : float, s
        Length of the moving average; 0 for none.

    Raises
    ------
    ValueError
        For more than two poles.

    Examples
    --------
    >>> round(float(step_response(np.array([1.0]), [1.0])[0]), 6)
    0.632121
    """
    poles = [tau for tau in poles_s if tau > 0]
    if average_s > SHORTEST_AVERAGE * min(poles, default=0.0):
        rise = _integrated_response(t_s, poles_s) - _integrated_response(t_s - average_s, poles_s)
        return np.asarray(rise / average_s)
    after = np.maximum(t_s - average_s / 2, 0.0)
    if not poles:
        return np.asarray(np.where(t_s >= 0, 1.0, 0.0))
    if len(poles) == 1:
        return np.asarray(-np.expm1(-after / poles[0]))
    slow, fast = _two(poles)
    if slow - fast < 1e-6 * slow:
        return np.asarray(1.0 - (1.0 + after / slow) * np.exp(-after / slow))
    return np.asarray(1.0 - (slow * np.exp(-after / slow) - fast * np.exp(-after / fast)) / (slow - fast))


def _two(poles: Sequence[float]) -> tuple[float, float]:
    if len(poles) > 2:
        raise ValueError(f"one or two poles are supported, got {len(poles)}")
    return max(poles), min(poles)


def _integrated_response(t_s: FloatArray, poles_s: Sequence[float]) -> FloatArray:
    """Integral of the poles' step response."""
    after = np.maximum(t_s, 0.0)
    poles = [tau for tau in poles_s if tau > 0]
    if not poles:
        return after
    if len(poles) == 1:
        return ramp_response(after, poles[0])
    slow, fast = _two(poles)
    if slow - fast < 1e-6 * slow:
        decay = np.exp(-after / slow)
        return np.asarray(after - 2 * slow + (2 * slow + after) * decay)
    weight = slow / (slow - fast)
    return weight * ramp_response(after, slow) + (1 - weight) * ramp_response(after, fast)


def ramp_response(since_s: NDArray[Any], tau_s: complex) -> NDArray[Any]:
    """Return the response of one pole to a line of slope 1 that begins at 0, in seconds.

    Parameters
    ----------
    since_s : ndarray, any shape, s
        Time from the beginning, not negative; the result has the same shape; complex for a derivative by complex steps.
    tau_s : float or complex, s
        Time constant.

    Examples
    --------
    >>> ramp_response(np.array([0.0, 1.0]), 1.0).round(6).tolist()
    [0.0, 0.367879]
    """
    return np.asarray(since_s + tau_s * np.expm1(-since_s / tau_s))


def pole_of_samples(values: FloatArray, tau_s: float, interval_s: float) -> FloatArray:
    """Return even samples, joined by straight lines and settled at the first, after one pole, shape (..., n).

    Parameters
    ----------
    values : ndarray, shape (..., n)
        The samples.
    tau_s, interval_s : float, s
        Time constant, and distance of the samples.

    Notes
    -----
    From sample to sample the pole keeps exp(-interval / tau) of its output; the rest goes to both ends of the line.

    Examples
    --------
    >>> pole_of_samples(np.array([0.0, 1.0, 2.0, 3.0]), 0.0, 1.0).tolist()
    [0.0, 1.0, 2.0, 3.0]
    """
    from scipy.signal import lfilter

    kept, mean = line_weights(tau_s, interval_s)
    smoothed, _ = lfilter([1.0 - mean, mean - kept], [1.0, -kept], values, zi=mean * values[..., :1])
    return np.asarray(smoothed, dtype=np.float64)


def line_weights(tau_s: float, interval_s: float) -> tuple[float, float]:
    """Return what one pole keeps of its output over a straight line of input, and the average of what it keeps.

    The output is then ``kept y + (mean - kept) first + (1 - mean) last``.

    Parameters
    ----------
    tau_s, interval_s : float, s
        Time constant, and duration of the line.

    Examples
    --------
    >>> [round(weight, 3) for weight in line_weights(1.0, 1.0)]
    [0.368, 0.632]
    """
    if tau_s <= SHORTEST_POLE * interval_s:
        return 0.0, 0.0
    kept = math.exp(-interval_s / tau_s)
    return kept, (1.0 - kept) * tau_s / interval_s


def transition_10_90(poles_s: Sequence[float] = (), average_s: float = 0.0) -> float:
    """Return the 10-90 % transition of the step response of up to two poles and a moving average, s.

    Parameters
    ----------
    poles_s : sequence of float, optional
        Up to two time constants, s.
    average_s : float, optional
        Length of the moving average, s.

    Notes
    -----
    ln 9 tau for one pole, 0.8 L for an average of length L, else the roots of the closed-form step response.

    References
    ----------
    NXP UM10204 rev. 5 (2012) section 7.1 gives the same algebra for 30-70 %.

    Examples
    --------
    >>> round(transition_10_90([1.0]), 6)
    2.197225
    """
    poles = [float(tau) for tau in poles_s if tau > 0]
    if not poles:
        return 0.8 * average_s
    if len(poles) == 1 and average_s <= 0:
        return LN9 * poles[0]
    return _crossing(poles, average_s, 0.9) - _crossing(poles, average_s, 0.1)


def _crossing(poles: Sequence[float], average_s: float, level: float) -> float:
    """Where the step response, which never falls, reaches a level; importing the library's root takes 0.3 s."""
    low, high = 0.0, average_s + 8.0 * sum(poles)
    for _ in range(9):  # each a 32nd of the one before
        t = np.linspace(low, high, 33)
        k = int(np.clip(np.searchsorted(step_response(t, poles, average_s), level), 1, 32))
        low, high = float(t[k - 1]), float(t[k])
    return 0.5 * (low + high)


def ramp_transition_10_90(ramp_s: float, tau_s: float) -> float:
    """Return the 10-90 % transition of a linear ramp of duration `ramp_s` passed through one pole `tau_s`, s.

    Parameters
    ----------
    ramp_s : float
        Duration of the ramp, s.
    tau_s : float
        Time constant, s.

    Notes
    -----
    A moving average of length D and a ramp of duration D are the same convolution.

    Examples
    --------
    >>> round(ramp_transition_10_90(1.0, 1.0), 7)
    2.3607268
    """
    return transition_10_90([tau_s], ramp_s)
