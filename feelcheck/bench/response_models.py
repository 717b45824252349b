"""Responses of a pole, two poles or a ringing stage to a piecewise linear drive: exact, any sampling."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from feelcheck.model import FloatArray

__all__ = ["ModelSpec", "Stimulus", "pole_response", "shape_response"]

LONGEST_CHUNK = 300.0
FEW_KNOTS = 500


@dataclass(frozen=True, kw_only=True, eq=False)
class Stimulus:
    """A drive as straight lines between knots; two knots at one instant make a step.

    Parameters
    ----------
    t_s, u : ndarray, shape (m,)
        Knots; before the first and after the last the drive is constant.
    """

    t_s: FloatArray
    u: FloatArray

    @classmethod
    def step(cls) -> Stimulus:
        """Return the unit step at 0."""
        return cls(t_s=np.zeros(2), u=np.array([0.0, 1.0]))

    @cached_property
    def gaps(self) -> FloatArray:
        """Distances between knots, shape (m - 1,), s."""
        return np.diff(self.t_s)

    @cached_property
    def regular(self) -> bool:
        """Whether the knots are a regular grid."""
        gaps = self.gaps
        return gaps.size > 2 and bool(np.ptp(gaps) < 1e-6 * gaps[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelSpec:
    """Which parameters a candidate has.

    Parameters
    ----------
    shape : {"none", "one_pole", "two_pole", "second_order", "ramp", "ramp_open", "slew", ...}
        What stands between the drive and the output; weak-sink shapes replace the drive (see `weak_sink`).
    dead : bool
        Whether a dead time (for a step: the onset) is searched.
    clip_low, clip_high : bool
        Whether the drive is cut at a level that is searched (a sensor that saturates ahead of the network).
    drift : bool
        Whether the output runs along a straight line besides.
    hum_hz : float
        Frequency of mains hum besides; 0 for none.
    """

    shape: str = "one_pole"
    dead: bool = False
    clip_low: bool = False
    clip_high: bool = False
    drift: bool = False
    hum_hz: float = 0.0

    @property
    def n_besides(self) -> int:
        """Number of columns beside the response: one of a drift, two of hum."""
        return self.drift + 2 * (self.hum_hz > 0)

    @property
    def n_shape(self) -> int:
        """Number of parameters of the shape."""
        return {"none": 0, "one_pole": 1, "ramp_open": 1, "to_ground": 3}.get(self.shape, 2)

    @property
    def weak(self) -> bool:
        """Whether it is the discharge through a weak sink, which is not a pole."""
        return self.shape.startswith(("ramp", "slew", "to_ground"))

    @property
    def n_parameters(self) -> int:
        """Number of nonlinear parameters."""
        return self.n_shape + self.dead + self.clip_low + self.clip_high


def pole_response(stimulus: Stimulus, tau: complex, at_s: FloatArray) -> NDArray[np.complex128] | FloatArray:
    """Return one pole's response to the drive, from equilibrium at its first knot.

    Parameters
    ----------
    stimulus : Stimulus
        The drive, m knots.
    tau : float or complex
        Time constant, s; complex for half of a ringing pair.
    at_s : ndarray, shape (n,), s
        Where the response is wanted.

    Notes
    -----
    Exact for a drive made of straight lines: between knots u + s d the state is u + s d - s tau + C exp(-d / tau).

    Examples
    --------
    >>> float(np.round(pole_response(Stimulus.step(), 1.0, np.array([1.0]))[0], 6))
    0.632121
    """
    t, u, gaps = stimulus.t_s, stimulus.u, stimulus.gaps
    decay = np.exp(-gaps / tau)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(gaps > 0, np.diff(u) / gaps, 0.0)
    gain = np.where(gaps > 0, u[1:] - u[:-1] * decay - slope * tau * (1 - decay), 0.0)
    state = _recursion(decay, gain, u[0], gaps / abs(tau), stimulus.regular)
    last = np.clip(np.searchsorted(t, at_s, side="right") - 1, -1, t.size - 1)
    inside = np.maximum(last, 0)
    since = np.maximum(at_s - t[inside], 0.0)
    s = np.append(slope, 0.0)[inside]
    level = u[inside] - s * tau
    found = level + s * since + (state[inside] - level) * np.exp(-since / tau)
    return np.asarray(np.where(last < 0, u[0], found))


def _recursion(
    decay: NDArray[np.complex128] | FloatArray,
    gain: NDArray[np.complex128] | FloatArray,
    start: float,
    steps: FloatArray,
    regular: bool,
) -> NDArray[np.complex128] | FloatArray:
    """Return x with x[0] = start, x[k + 1] = decay[k] x[k] + gain[k]."""
    if regular:
        rest, _ = signal.lfilter([1.0], [1.0, -decay[0]], gain, zi=np.array([decay[0] * start]))
        return np.concatenate([[start], rest])
    if decay.size < FEW_KNOTS:
        states = [start]
        for factor, more in zip(decay.tolist(), gain.tolist(), strict=True):
            states.append(factor * states[-1] + more)
        return np.asarray(states, dtype=np.result_type(decay, gain))
    state = np.empty(decay.size + 1, dtype=np.result_type(decay, gain))
    state[0] = start
    bounds = np.searchsorted(np.cumsum(steps), np.arange(LONGEST_CHUNK, np.sum(steps) + 1e-300, LONGEST_CHUNK))
    begin = 0
    for end in [*np.unique(np.minimum(bounds + 1, decay.size)).tolist(), decay.size]:
        if end <= begin:
            continue
        if end - begin == 1 or np.sum(steps[begin:end]) > 2 * LONGEST_CHUNK:
            for k in range(begin, end):
                state[k + 1] = decay[k] * state[k] + gain[k]
        else:
            product = np.cumprod(decay[begin:end])
            state[begin + 1 : end + 1] = product * (state[begin] + np.cumsum(gain[begin:end] / product))
        begin = end
    return state


def shape_response(stimulus: Stimulus, shape: str, parameters: FloatArray, at_s: FloatArray) -> FloatArray:
    """Return the response of a shape with unit gain, shape (n,).

    Parameters
    ----------
    stimulus : Stimulus
        The drive.
    shape : {"none", "one_pole", "two_pole", "second_order"}
        What it passes through.
    parameters : ndarray
        Logarithms: of the time constant(s) in s; of 1/w0 in s and of the damping ratio for the second order.
    at_s : ndarray, shape (n,), s
        Where the response is wanted.
    """
    if shape == "none":
        return np.interp(at_s, stimulus.t_s, stimulus.u)
    if shape == "one_pole":
        return np.real(pole_response(stimulus, float(np.exp(parameters[0])), at_s))
    if shape == "two_pole":
        return _two_poles(stimulus, float(np.exp(parameters[0])), float(np.exp(parameters[1])), at_s)
    return _second_order(stimulus, float(np.exp(parameters[0])), float(np.exp(parameters[1])), at_s)


def _two_poles(stimulus: Stimulus, slow: float, fast: float, at_s: FloatArray) -> FloatArray:
    if abs(slow - fast) < 1e-3 * slow:
        slow, fast = slow * 1.0005, slow * 0.9995
    first, second = pole_response(stimulus, slow, at_s), pole_response(stimulus, fast, at_s)
    return np.real((slow * first - fast * second) / (slow - fast))


def _second_order(stimulus: Stimulus, period: float, damping: float, at_s: FloatArray) -> FloatArray:
    """Two conjugate poles: twice the real part of one weighted response."""
    root = np.sqrt(complex(1 - damping**2)) or 1e-4j
    if damping >= 1:
        spread = np.sqrt(damping**2 - 1)
        return _two_poles(stimulus, period * (damping + spread), period / (damping + spread), at_s)
    pole = (damping - 1j * root) / period
    weight = np.conj(pole) / (np.conj(pole) - pole)
    return np.asarray(2 * np.real(weight * pole_response(stimulus, 1 / pole, at_s)))
