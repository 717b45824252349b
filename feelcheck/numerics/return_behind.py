"""A spring-returned mass let go from rest, seen through a known response: how long is that response?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.numerics.one_pole import residues
from feelcheck.numerics.separable import SeparableFit, SeparableModel, fit_separable
from feelcheck.numerics.spring_return import half_way_s, return_path

__all__ = ["Behind", "fit_behind", "path_behind"]

ALIKE = 0.01
"""Relative difference from which on rising and falling are told apart."""

SPLIT = 1e-3
"""Equal poles are taken apart by so much, up and down, for partial fractions."""

MOST_SWINGS = 6
WIDTHS = {1: 1e-4, 2: 1e-4, 3: 1e-6}
"""Steps of the numerical slopes: logarithms of damping ratio and factor, and a time in seconds."""

RINGS_HZ, DAMPINGS = (10.0, 16.0, 25.0, 40.0, 64.0, 100.0), (0.1, 0.3, 0.6)
LIMITS = (
    np.array([math.log(2 * math.pi * 4.0), math.log(0.02), -3.0, -1.0]),
    np.array([math.log(2 * math.pi * 400.0), math.log(0.95), 2.0, 1.0]),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """A response whose form is known.

    Parameters
    ----------
    poles_s : tuple of float, s
        One or two time constants on the way that the release takes.
    back_s : float, s
        The time constant on the way back, where there is one pole; 0: the same.
    lags_s : tuple of float, s
        Ages of the readings that the firmware averages.
    """

    poles_s: tuple[float, ...]
    back_s: float = 0.0
    lags_s: tuple[float, ...] = (0.0,)

    def stretched(self, scale: float) -> Behind:
        """Return the same form with all times multiplied."""
        return Behind(
            poles_s=tuple(scale * tau for tau in self.poles_s),
            back_s=scale * self.back_s,
            lags_s=tuple(scale * lag for lag in self.lags_s),
        )

    @property
    def delay_s(self) -> float:
        """Mean delay of poles and average."""
        return sum(self.poles_s) + float(np.mean(self.lags_s))


def path_behind(since_s: FloatArray, omega_rad_s: float, zeta: float, behind: Behind) -> FloatArray:
    """Return the way back from displacement 1, at rest, let go at 0, seen through a response.

    Parameters
    ----------
    since_s : ndarray, shape (n,), s
        Times since letting go, increasing; before that the path is 1.
    omega_rad_s, zeta : float
        Undamped angular frequency and damping ratio below 1.
    behind : Behind
        The response.

    Examples
    --------
    >>> t_s = np.linspace(0.0, 0.1, 1001)
    >>> one = path_behind(t_s, 100.0, 0.3, Behind(poles_s=(0.004,)))
    >>> bool(np.allclose(one, return_path(t_s, 100.0, 0.3, 0.004)))
    True
    >>> slower = path_behind(t_s, 100.0, 0.3, Behind(poles_s=(0.004,), back_s=0.008))
    >>> bool(slower.min() == one.min()), bool(slower[600] < one[600])
    (True, True)
    """
    path = np.zeros_like(since_s)
    for lag_s in behind.lags_s:
        path += _behind_poles(since_s - lag_s, omega_rad_s, zeta, behind)
    return path / len(behind.lags_s)


def _behind_poles(s: FloatArray, omega_rad_s: float, zeta: float, behind: Behind) -> FloatArray:
    if len(behind.poles_s) == 2:
        taus_s = np.array(behind.poles_s)
        if abs(taus_s[1] / taus_s[0] - 1) < 2 * SPLIT:
            taus_s = taus_s.mean() * np.array([1 + SPLIT, 1 - SPLIT])
        paths = [return_path(s, omega_rad_s, zeta, tau_s) for tau_s in taus_s.tolist()]
        return np.asarray(residues(taus_s) @ np.array(paths))
    tau_s = behind.poles_s[0]
    path = return_path(s, omega_rad_s, zeta, tau_s)
    if behind.back_s <= 0.0 or abs(behind.back_s / tau_s - 1) < ALIKE:
        return path
    return _there_and_back(s, omega_rad_s, zeta, path, (behind.back_s, tau_s))


def _there_and_back(
    s: FloatArray, omega_rad_s: float, zeta: float, path: FloatArray, taus_s: tuple[float, float]
) -> FloatArray:
    """Return the path with the pole changed wherever it meets the stick's own path and turns."""
    stick = return_path(s, omega_rad_s, zeta, 0.0)
    j = int(np.searchsorted(s, 0.0, side="right")) + 1
    for k in range(MOST_SWINGS):
        gap = (stick[j - 1 :] - path[j - 1 :]) * (-1.0) ** k
        met = int(np.argmax(gap > 0.0))
        if gap[met] <= 0.0 or met == 0:
            break
        j += met - 1
        part = float(gap[met - 1] / (gap[met - 1] - gap[met]))
        at_s, level = (float(row[j - 1] + part * (row[j] - row[j - 1])) for row in (s, path))
        driven = return_path(np.append(s[j:], at_s), omega_rad_s, zeta, taus_s[k % 2])
        # What the closed form holds of its own beginning decays by the same pole, so only a multiple of it is added.
        path[j:] = driven[:-1] + (level - driven[-1]) * np.exp(-(s[j:] - at_s) / taus_s[k % 2])
        j += 1
    return path


def fit_behind(since_s: FloatArray, y: FloatArray, behind: Behind, *, start: FloatArray | None = None) -> SeparableFit:
    """Fit a spring return, and by how much the response in front of the eye is longer than was thought.

    Parameters
    ----------
    since_s : ndarray, shape (n,), s
        Times; 0 is near the half-way instant.
    y : ndarray, shape (n,)
        Readings as fractions of the way, from 1 to 0.
    behind : Behind
        The response; its times are multiplied by one factor.
    start : ndarray, shape (3,) or longer, optional
        Logarithms of angular frequency, damping ratio and factor to start from; else a coarse grid with a factor of 1.

    Returns
    -------
    SeparableFit
        theta: logarithms of angular frequency, damping ratio and factor, and the instant of letting go in s;
        coefficients: offset and size of the way.

    Raises
    ------
    NotEnoughDataError
        If there are no more readings than parameters.
    """

    def path(theta: FloatArray) -> FloatArray:
        omega, zeta, scale = np.exp(theta[:3]).tolist()
        return path_behind(since_s - theta[3], omega, min(zeta, 0.99), behind.stretched(scale))

    def fill(theta: FloatArray, rows: FloatArray) -> None:
        rows[0] = 1.0
        rows[1] = path(theta)
        if len(rows) == 2:
            return
        for k, width in WIDTHS.items():
            moved = theta.copy()
            moved[k] += width
            rows[2 + k] = (path(moved) - rows[1]) / width
        # Frequency times all times leaves the path as it is: its slope follows from those of the factor and of time.
        rows[2] = rows[4] - (since_s - theta[3]) * rows[5]

    if start is None:
        grid = [(math.log(2 * math.pi * hz), math.log(zeta), 0.0) for hz in RINGS_HZ for zeta in DAMPINGS]
    else:
        grid = [(float(start[0]), float(start[1]), float(start[2]))]
    starts = [(*three, -_half_way_s(*three, behind)) for three in grid]
    model = SeparableModel(n_columns=2, slopes=tuple((k, 1) for k in range(4)), fill=fill)
    return fit_separable(model, y, starts, bounds=LIMITS, n_refine=1, tolerance=1e-5, max_evaluations=15)


def _half_way_s(log_omega: float, log_zeta: float, log_scale: float, behind: Behind) -> float:
    """Return about when the path is half way: the response's delay after the stick."""
    return half_way_s(math.exp(log_omega), math.exp(log_zeta), 0.0) + math.exp(log_scale) * behind.delay_s
