"""The output network: poles with their own rising and falling time constants, dead time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.gimbal import STEP_S

__all__ = ["Network", "smooth"]

SHORT = 60_000
"""Fine steps up to which stepping one by one is quicker than many stretches side by side, each with its run-up."""
FORGOTTEN = 16.0
"""Time constants after which a wrong start no longer shows in 16 bits (exp(-16) is 1e-7)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """What stands between sensor and converter.

    Parameters
    ----------
    poles_s : tuple of (float, float), s
        Rising and falling time constant of each pole, by the direction of the volts; none to two.
    dead_time_s : float
        Pure delay.
    """

    poles_s: tuple[tuple[float, float], ...] = ((0.003, 0.003),)
    dead_time_s: float = 0.0

    def __post_init__(self) -> None:
        if len(self.poles_s) > 2 or any(tau_s <= 0.0 for pole in self.poles_s for tau_s in pole):
            raise ValueError(f"a network has at most two poles, each with positive time constants, got {self.poles_s}")

    @classmethod
    def one_pole(cls, rising_s: float, falling_s: float | None = None) -> Network:
        """Return one pole, the same both ways unless told otherwise.

        Parameters
        ----------
        rising_s, falling_s : float, s
            Time constants of the output's two ways; alike if the second is not given.
        """
        return cls(poles_s=((rising_s, rising_s if falling_s is None else falling_s),))


def smooth(network: Network, signal: FloatArray) -> FloatArray:
    """Return the signal after the poles on the fine grid, shape (n,), settled at its first value before the start.

    Parameters
    ----------
    network : Network
        The poles.
    signal : ndarray, shape (n,)
        Values on the fine grid, throws.

    Notes
    -----
    Each step is the exact answer to a straight line between two grid points. With unequal time constants a pole
    charges or discharges by the sign of what lies across it.
    """
    for rising_s, falling_s in network.poles_s:
        signal = _linear(signal, rising_s) if rising_s == falling_s else _directional(signal, rising_s, falling_s)
    return signal


def _weights(tau_s: float) -> tuple[float, float, float]:
    """Return what is kept of the old output, and the weights of the old and the new input."""
    kept = math.exp(-STEP_S / tau_s)
    mean = (1.0 - kept) * tau_s / STEP_S
    return kept, mean - kept, 1.0 - mean


def _linear(signal: FloatArray, tau_s: float) -> FloatArray:
    from scipy.signal import lfilter  # takes a second: whoever asks for the worlds' names needs none

    kept, old, new = _weights(tau_s)
    smoothed, _ = lfilter([new, old], [1.0, -kept], signal, zi=[(kept + old) * signal[0]])
    return np.asarray(smoothed, dtype=np.float64)


def _stepwise(signal: FloatArray, rising_s: float, falling_s: float) -> FloatArray:
    """Step a short signal in one go; see `_directional` for which answer wins."""
    (kept_r, old_r, new_r), (kept_f, old_f, new_f) = _weights(rising_s), _weights(falling_s)
    pick = max if rising_s < falling_s else min
    y = before = float(signal[0])
    stepped = [y]
    for now in signal[1:].tolist():
        y = pick(kept_r * y + old_r * before + new_r * now, kept_f * y + old_f * before + new_f * now)
        stepped.append(y)
        before = now
    return np.array(stepped)


def _directional(signal: FloatArray, rising_s: float, falling_s: float) -> FloatArray:
    """Step many stretches of the signal side by side, each after a run-up long enough to forget its start.

    The quicker of the two answers wins while it goes the quicker pole's way, so the larger (or the smaller) of both
    candidates is the right one in either direction.
    """
    n = signal.size
    if n <= SHORT:
        return _stepwise(signal, rising_s, falling_s)
    n_run_up = math.ceil(FORGOTTEN * max(rising_s, falling_s) / STEP_S)
    n_block = min(n, max(1000, n_run_up // 2))
    n_blocks = math.ceil(n / n_block)
    padded = np.pad(signal, (n_run_up + 1, n_blocks * n_block - n), mode="edge")
    blocks = sliding_window_view(padded, n_run_up + 1 + n_block)[::n_block].T
    (kept_r, old_r, new_r), (kept_f, old_f, new_f) = _weights(rising_s), _weights(falling_s)
    pick = np.maximum if rising_s < falling_s else np.minimum
    stepped = np.empty((n_block, n_blocks))
    before = np.ascontiguousarray(blocks[0])
    y, falling = before.copy(), np.empty(n_blocks)
    for k in range(1, blocks.shape[0]):
        now = np.ascontiguousarray(blocks[k])
        np.multiply(y, kept_f, out=falling)
        falling += old_f * before
        falling += new_f * now
        y *= kept_r
        y += old_r * before
        y += new_r * now
        pick(y, falling, out=y)
        before = now
        if k > n_run_up:
            stepped[k - n_run_up - 1] = y
    return np.ascontiguousarray(stepped.T).ravel()[:n]
