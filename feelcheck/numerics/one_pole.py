"""Closed-form responses of real poles and moving averages, and their step transitions."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy import optimize

from feelcheck.model import FloatArray

__all__ = [
    "kinked_power",
    "one_sided_rise",
    "one_sided_slope",
    "ramp_transition_10_90",
    "residues",
    "step_response",
    "transition_10_90",
]

_SMALLEST_TAU_S = 1e-9


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


def kinked_power(s: FloatArray, tau_s: FloatArray | float, power: int) -> FloatArray:
    """Return one pole's steady response to ``s**power`` for s < 0 and 0 from s = 0 on.

    Parameters
    ----------
    s : ndarray, s
        Time from the kink.
    tau_s : ndarray or float, s
        Time constant, broadcast against `s`.
    power : int
        1 to 4.

    Notes
    -----
    Before the kink the response is the polynomial P(s) = sum_i (-tau)^i (d/ds)^i s^k; after it, P(0) exp(-s / tau).
    The input must have run as that polynomial for many time constants.

    Examples
    --------
    >>> float(kinked_power(np.array([0.0]), 0.01, 1)[0])
    -0.01
    """
    tau = np.maximum(tau_s, _SMALLEST_TAU_S)
    before = np.minimum(s, 0.0)
    value = np.ones_like(before)
    for k in range(1, power + 1):
        value = before**k - k * tau * value
    return value * np.exp(-np.maximum(s, 0.0) / tau)


def one_sided_rise(s: FloatArray, tau_s: FloatArray | float, rise_s: float) -> FloatArray:
    """Return one pole's response to ``1 - exp(-s / rise)`` that starts at s = 0, from rest.

    Parameters
    ----------
    s : ndarray, s
        Time from the start; the response is 0 for s <= 0.
    tau_s : ndarray or float, s
        Time constant of the pole.
    rise_s : float, s
        Time constant of the input.

    Examples
    --------
    >>> round(float(one_sided_rise(np.array([50.0]), 1.0, 2.0)[0]), 6)
    1.0
    """
    tau = np.maximum(tau_s, _SMALLEST_TAU_S)
    tau = np.where(np.abs(tau / rise_s - 1.0) < 1e-4, rise_s * (1 + 1e-4), tau)
    after = np.maximum(s, 0.0)
    return 1.0 - (rise_s * np.exp(-after / rise_s) - tau * np.exp(-after / tau)) / (rise_s - tau)


def one_sided_slope(s: FloatArray, tau_s: FloatArray | float) -> FloatArray:
    """Return one pole's response to a unit ramp that starts at s = 0, from rest; `s` and `tau_s` in s.

    Examples
    --------
    >>> round(float(one_sided_slope(np.array([20.0]), 1.0)[0]), 6)
    19.0
    """
    tau = np.maximum(tau_s, _SMALLEST_TAU_S)
    after = np.maximum(s, 0.0)
    return after + tau * np.expm1(-after / tau)


def step_response(t_s: FloatArray, poles_s: Sequence[float] = (), average_s: float = 0.0) -> FloatArray:
    """Return the response to a unit step at 0 of up to two poles and a continuous moving average.

    Parameters
    ----------
    t_s : ndarray, s
        Time from the step.
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
    if average_s > 0:
        return (_ramp_response(t_s, poles_s) - _ramp_response(t_s - average_s, poles_s)) / average_s
    after = np.maximum(t_s, 0.0)
    poles = [tau for tau in poles_s if tau > 0]
    if not poles:
        return np.where(t_s >= 0, 1.0, 0.0)
    if len(poles) == 1:
        return -np.expm1(-after / poles[0])
    slow, fast = _two(poles)
    if slow - fast < 1e-6 * slow:
        return 1.0 - (1.0 + after / slow) * np.exp(-after / slow)
    return 1.0 - (slow * np.exp(-after / slow) - fast * np.exp(-after / fast)) / (slow - fast)


def _two(poles: Sequence[float]) -> tuple[float, float]:
    if len(poles) > 2:
        raise ValueError(f"one or two poles are supported, got {len(poles)}")
    return max(poles), min(poles)


def _ramp_response(t_s: FloatArray, poles_s: Sequence[float]) -> FloatArray:
    """Integral of the poles' step response."""
    after = np.maximum(t_s, 0.0)
    poles = [tau for tau in poles_s if tau > 0]
    if not poles:
        return after
    if len(poles) == 1:
        return one_sided_slope(after, poles[0])
    slow, fast = _two(poles)
    if slow - fast < 1e-6 * slow:
        decay = np.exp(-after / slow)
        return after - 2 * slow + (2 * slow + after) * decay
    weight = slow / (slow - fast)
    return weight * one_sided_slope(after, slow) + (1 - weight) * one_sided_slope(after, fast)


def transition_10_90(poles_s: Sequence[float] = (), average_s: float = 0.0) -> float:
    """Return the 10-90 % transition of the step response of up to two poles and a moving average, s.

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
        return math.log(9.0) * poles[0]
    return _crossing(poles, average_s, 0.9) - _crossing(poles, average_s, 0.1)


def _crossing(poles: Sequence[float], average_s: float, level: float) -> float:
    end = average_s + 8.0 * sum(poles)

    def excess(t: float) -> float:
        return float(step_response(np.array([t]), poles, average_s)[0]) - level

    return float(optimize.brentq(excess, 0.0, end, xtol=1e-13 * end, rtol=1e-13))


def ramp_transition_10_90(ramp_s: float, tau_s: float) -> float:
    """Return the 10-90 % transition of a linear ramp of duration `ramp_s` passed through one pole `tau_s`, s.

    Notes
    -----
    A moving average of length D and a ramp of duration D are the same convolution.

    Examples
    --------
    >>> round(ramp_transition_10_90(1.0, 1.0), 7)
    2.3607268
    """
    return transition_10_90([tau_s], ramp_s)
