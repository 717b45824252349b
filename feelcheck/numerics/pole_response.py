"""Poles driven by straight lines: exact responses, and their responses again, which are the slopes of a fit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from feelcheck.model import FloatArray

__all__ = ["DrivenInstants", "PoleResponse", "Stimulus", "recursion"]


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PoleResponse:
    """What one pole makes of its inputs at every instant.

    Parameters
    ----------
    once : ndarray, shape (k, n)
        H[u] of every input; complex for half of a ringing pair.
    twice : ndarray, shape (n,)
        H[H[u]] of the first input: its slope by the logarithm of the time constant is `twice` - `once`.
    drive : ndarray, shape (n,)
        The first input itself: the slope of its `once` by time is (drive - once) / tau.
    """

    once: NDArray[Any]
    twice: NDArray[Any]
    drive: FloatArray


class DrivenInstants:
    """A drive and the instants its responses are wanted at, made ready for many time constants.

    Parameters
    ----------
    stimulus : Stimulus
        The drive's knots; other inputs share them.
    at_s : ndarray, shape (n,), s
        Increasing instants.

    Notes
    -----
    Between knots, d after one with the input u and its slope s, the state is u + s d - s tau + C exp(-d / tau). Knot to
    knot this is a recursion y = a y + b, done in numpy: importing a library's filter takes longer than all fits.
    A delay on a shared regular grid moves every instant by the same number of knots.

    Examples
    --------
    >>> ready = DrivenInstants(Stimulus.step(), np.array([-1.0, 1.0]))
    >>> ready.pole(1.0).once.round(6).tolist()
    [[0.0, 0.632121]]
    """

    def __init__(self, stimulus: Stimulus, at_s: FloatArray) -> None:
        self._knots, self._at = stimulus.t_s, at_s
        self._gaps = stimulus.gaps[:1] if stimulus.regular else stimulus.gaps
        self._jumps = self._gaps == 0 if not np.all(self._gaps) else None
        self._rate = np.divide(1.0, self._gaps, out=np.zeros(self._gaps.size), where=self._gaps > 0)
        self._even = _EvenRecursion(stimulus.t_s.size - 1) if stimulus.regular else None
        self._own = self._with_slope(stimulus.u[None, :])
        self._inside, self._since = self._searched(at_s)
        self._on_knots = not np.any(self._since)
        self._step = float(self._gaps[0]) if self._on_knots and stimulus.regular else 0.0

    def _with_slope(self, inputs: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Inputs at the knots and their slopes after each, 0 after the last."""
        slope = np.zeros(inputs.shape)
        slope[:, :-1] = (inputs[:, 1:] - inputs[:, :-1]) * self._rate
        return inputs, slope

    def _searched(self, at: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
        inside = np.maximum(np.searchsorted(self._knots, at, side="right") - 1, 0)
        return inside, np.maximum(at - self._knots[inside], 0.0)

    def _placed(self, delay_s: float) -> tuple[NDArray[np.int64], FloatArray]:
        """The knot before every delayed instant, and the time since that knot."""
        if delay_s == 0.0:
            return self._inside, self._since
        at = self._at - delay_s
        if self._step == 0.0:
            return self._searched(at)
        moved = self._inside - int(np.ceil(delay_s / self._step - 1e-9))
        inside = np.minimum(np.maximum(moved, 0), self._knots.size - 1)
        return inside, np.maximum(at - self._knots[inside], 0.0)

    def itself(self, delay_s: float = 0.0, inputs: FloatArray | None = None) -> tuple[FloatArray, FloatArray]:
        """Return the delayed inputs and the slope of the first, per s, shapes (k, n) and (n,).

        Parameters
        ----------
        delay_s : float, s
            How much later everything comes.
        inputs : ndarray, shape (k, m), optional
            Values at the knots; the drive's own where absent.
        """
        values, slope = self._own if inputs is None else self._with_slope(inputs)
        inside, since = self._placed(delay_s)
        return values[:, inside] + slope[:, inside] * since, np.asarray(slope[0, inside])

    def average(self, width_s: float, delay_s: float = 0.0, inputs: FloatArray | None = None) -> FloatArray:
        """Return the delayed inputs averaged over the time before each instant, shape (k, n).

        Parameters
        ----------
        width_s : float, s
            Over how long.
        delay_s : float, s
            How much later everything comes.
        inputs : ndarray, shape (k, m), optional
            Values at the knots; the drive's own where absent.

        Examples
        --------
        >>> DrivenInstants(Stimulus.step(), np.array([0.0, 1.0, 4.0])).average(4.0).tolist()
        [[0.0, 0.25, 1.0]]
        """
        values, slope = self._own if inputs is None else self._with_slope(inputs)
        pieces = 0.5 * (values[:, 1:] + values[:, :-1]) * np.diff(self._knots)
        areas = np.concatenate([np.zeros((values.shape[0], 1)), np.cumsum(pieces, axis=1)], axis=1)

        def area(delay_s: float) -> FloatArray:
            inside, since = self._placed(delay_s)
            before = np.minimum(self._at - delay_s - self._knots[0], 0.0)
            within = values[:, inside] * since + 0.5 * slope[:, inside] * since**2
            return np.asarray(areas[:, inside] + within + values[:, :1] * before)

        return (area(delay_s) - area(delay_s + width_s)) / width_s

    def pole(
        self, tau: complex, delay_s: float = 0.0, inputs: FloatArray | None = None, twice: bool = True
    ) -> PoleResponse:
        """Return the responses of one pole, from equilibrium at the first knot.

        Parameters
        ----------
        tau : float or complex, s
            Time constant; complex for half of a ringing pair.
        delay_s : float, s
            How much later the output comes.
        inputs : ndarray, shape (k, m), optional
            Values at the knots; the drive's own where absent.
        twice : bool
            Whether H[H[u]] is wanted; zeros stand for it if not.
        """
        values, slope = self._own if inputs is None else self._with_slope(inputs)
        # between knots the drive is a line, which `level` follows one time constant late; the rest decays
        level, share = values - slope * tau, self._gaps / tau
        decay, rest = np.exp(-share), -np.expm1(-share)
        run = slope[:, :-1] * self._gaps
        once = self._recursion(decay, values[:, :1], level[:, :-1] * rest + run)
        again, lower = None, level[0] - slope[0] * tau
        if twice:
            # what decays drives a second pole of the same time constant: t exp(-t / tau)
            begun = (once[0, :-1] - level[0, :-1]) * (share * decay)
            again = self._recursion(decay, values[:1, :1], (lower[:-1] * rest + run[0] + begun)[None, :])[0]
        inside, since = self._placed(delay_s)
        if self._on_knots and delay_s == 0.0:
            second = np.zeros(inside.size) if again is None else again[inside]
            return PoleResponse(once=once[:, inside], twice=second, drive=values[0, inside])
        run, left = slope[:, inside] * since, np.exp(since * (-1 / tau))
        level = level[:, inside]
        begun = once[:, inside] - level
        second = np.zeros(inside.size)
        if again is not None:
            lower = lower[inside]
            second = lower + run[0] + (begun[0] * since * (1 / tau) + again[inside] - lower) * left
        return PoleResponse(once=level + run + begun * left, twice=second, drive=values[0, inside] + run[0])

    def _recursion(self, decay: NDArray[Any], start: FloatArray, gain: NDArray[Any]) -> NDArray[Any]:
        """Return x with x[:, 0] = start, x[:, j + 1] = decay[j] x[:, j] + gain[:, j], shape (k, m)."""
        if self._jumps is not None:
            gain[:, self._jumps] = 0.0
        rest = self._even(decay[0], start, gain) if self._even is not None else recursion(decay, start, gain)
        return np.concatenate([start, rest], axis=1)


def recursion(decay: ArrayLike, start: FloatArray, gain: NDArray[Any]) -> NDArray[Any]:
    """Return x with x[j] = decay[j] x[j - 1] + gain[j], by doubling: every pass joins each to one twice as far back.

    Parameters
    ----------
    decay : float or ndarray, shape (m,)
        What is kept from each to the next.
    start : ndarray, shape (k, 1)
        What stands before the first.
    gain : ndarray, shape (k, m)
        What comes in; the result has the same shape.

    Examples
    --------
    >>> recursion(0.5, np.array([[8.0]]), np.array([[0.0, 1.0, 0.0]])).tolist()
    [[4.0, 3.0, 1.5]]
    """
    state, factor = gain.copy(), np.array(np.broadcast_to(decay, gain.shape[1:]))
    state[:, :1] += factor[:1] * start
    reach = 1
    while reach < factor.size:
        state[:, reach:] += factor[reach:] * state[:, :-reach]
        factor[reach:] = factor[reach:] * factor[:-reach]
        reach *= 2
    return state


class _EvenRecursion:
    """The recursion of n samples with one factor: in blocks by a matrix of its powers, between them by another."""

    def __init__(self, n: int) -> None:
        self.n, self.size = n, int(np.ceil(np.sqrt(n)))
        self.n_blocks = -(-n // self.size)
        self.inside, self.between = _lower(self.size), _lower(self.n_blocks)

    def __call__(self, decay: complex, start: FloatArray, gain: NDArray[Any]) -> NDArray[Any]:
        k = gain.shape[0]
        padded = np.zeros((k, self.n_blocks * self.size), dtype=np.result_type(gain, decay))
        padded[:, : self.n] = gain
        powers = np.append(np.asarray(decay) ** np.arange(self.size + 1), 0.0)
        across = np.append(powers[-2] ** np.arange(self.n_blocks), 0.0)
        inner = padded.reshape(k, self.n_blocks, self.size) @ powers[self.inside].T
        begins = np.concatenate([start, inner[:, :-1, -1]], axis=1) @ across[self.between].T
        inner += begins[:, :, None] * powers[1:-1]
        return np.asarray(inner.reshape(k, -1)[:, : self.n])


def _lower(n: int) -> NDArray[np.int64]:
    """Places of the powers in a lower triangular matrix, shape (n, n): i - j, and -1, which is a 0, above."""
    away = np.arange(n)[:, None] - np.arange(n)
    return np.asarray(np.where(away >= 0, away, -1))
