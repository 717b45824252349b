"""A spring-returned mass let go from rest, seen through one pole: closed form and fit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray
from feelcheck.numerics.numbers import FASTEST_RING_HZ, LEAST_DAMPING, MOST_DAMPING_FITTED, SLOWEST_RING_HZ

__all__ = ["ReturnFit", "fit_return", "half_way_s", "overshoot_of", "return_path"]

ENOUGH = 1000  # readings to choose a start from
_LOG_LIMITS = np.log(
    [
        [2 * math.pi * SLOWEST_RING_HZ, LEAST_DAMPING, 2e-5],
        [2 * math.pi * FASTEST_RING_HZ, MOST_DAMPING_FITTED, 0.2],
    ]
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReturnFit:
    """A fitted spring return.

    Parameters
    ----------
    omega_rad_s, zeta, tau_s : float
        Undamped angular frequency, damping ratio, time constant of the pole.
    start_s : float, s
        Instant of letting go on the time axis of the data.
    rms : float
        Root mean square residual, as a fraction of the displacement.
    covariance : ndarray, shape (4, 4)
        Of (ln omega, ln zeta, ln tau, start).
    """

    omega_rad_s: float
    zeta: float
    tau_s: float
    start_s: float
    rms: float
    covariance: NDArray[np.float64]

    @property
    def ring_hz(self) -> float:
        """Frequency of the damped ringing."""
        return self.omega_rad_s * math.sqrt(1.0 - self.zeta**2) / (2 * math.pi)

    @property
    def passed(self) -> float:
        """Share of the ring's amplitude that the pole lets through."""
        return 1.0 / math.hypot(1.0, 2 * math.pi * self.ring_hz * self.tau_s)


def return_path(since_s: FloatArray, omega_rad_s: float, zeta: float, tau_s: float) -> FloatArray:
    """Return the way back from displacement 1, at rest, let go at 0, seen through one pole.

    Parameters
    ----------
    since_s : ndarray, shape (n,), s
        Times since letting go; before that the path is 1.
    omega_rad_s, zeta, tau_s : float
        Undamped angular frequency, damping ratio below 1, time constant of the pole (0: none).

    Examples
    --------
    >>> path = return_path(np.linspace(0.0, 10.0, 10001), 1.0, 0.5, 0.0)
    >>> round(-float(path.min()), 4)
    0.163
    """
    s = np.maximum(since_s, 0.0)
    turn = omega_rad_s * math.sqrt(1.0 - zeta**2)
    eigenvalue = complex(-zeta * omega_rad_s, turn)
    phasor = complex(1.0, -zeta * omega_rad_s / turn) / (1.0 + tau_s * eigenvalue)
    path = (phasor * np.exp(eigenvalue * s)).real
    if tau_s > 0.0:
        path = path + (1.0 - phasor.real) * np.exp(-s / tau_s)
    return np.asarray(path)


def overshoot_of(omega_rad_s: float, zeta: float, tau_s: float) -> float:
    """Return how far the path goes beyond rest, as a fraction of the displacement.

    Parameters
    ----------
    omega_rad_s : float
        Undamped angular frequency, rad/s.
    zeta : float
        Damping ratio.
    tau_s : float
        Time constant of what is behind the spring, s.
    """
    span_s = 3 * math.pi / omega_rad_s / math.sqrt(1 - zeta**2) + 4 * tau_s
    return max(-float(return_path(np.linspace(0.0, span_s, 2000), omega_rad_s, zeta, tau_s).min()), 0.0)


def half_way_s(omega_rad_s: float, zeta: float, tau_s: float) -> float:
    """Return when the path first is half way, s after letting go.

    Parameters
    ----------
    omega_rad_s : float, rad/s
        Natural angular frequency.
    zeta : float
        Damping ratio.
    tau_s : float, s
        Time constant of what the return is seen through.
    """
    s = np.linspace(0.0, 3.0 / omega_rad_s + 3.0 * tau_s, 600)
    path = return_path(s, omega_rad_s, zeta, tau_s)
    k = int(np.argmax(path < 0.5))
    return float(s[k - 1] + (path[k - 1] - 0.5) / (path[k - 1] - path[k]) * (s[k] - s[k - 1])) if k else float(s[-1])


def _starts() -> list[tuple[float, float, float]]:
    return [
        (2 * math.pi * hz, zeta, tau_s)
        for hz in (12.0, 20.0, 32.0, 50.0, 80.0, 125.0)
        for zeta in (0.1, 0.3, 0.65)
        for tau_s in (0.0003, 0.002, 0.006, 0.02, 0.06)
    ]


def _model(since_s: FloatArray, parameters: FloatArray) -> FloatArray:
    omega, zeta, tau_s = np.exp(parameters[:3]).tolist()
    return return_path(since_s - parameters[3], omega, zeta, tau_s)


def _model_and_slopes(since_s: FloatArray, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the path and its slopes by (ln omega, ln zeta, ln tau, start), shape (4, n), in closed form."""
    omega, zeta, tau_s = np.exp(parameters[:3]).tolist()
    s = np.maximum(since_s - parameters[3], 0.0)
    root = math.sqrt(1.0 - zeta**2)
    eigenvalue = omega * complex(-zeta, root)
    behind = 1.0 + tau_s * eigenvalue
    phasor = complex(1.0, -zeta / root) / behind
    by_zeta = omega * complex(-zeta, -(zeta**2) / root)
    of_eigenvalue = np.array([eigenvalue, by_zeta, 0.0])
    of_phasor = np.array([0.0, complex(0.0, -zeta / root**3), 0.0]) / behind
    of_phasor = of_phasor - phasor * (tau_s * of_eigenvalue + np.array([0.0, 0.0, tau_s * eigenvalue])) / behind
    ring, decay, rest = np.exp(eigenvalue * s), np.exp(-s / tau_s), 1.0 - phasor.real
    slopes = np.empty((4, s.size))
    for k in range(3):
        slopes[k] = ((of_phasor[k] + phasor * of_eigenvalue[k] * s) * ring).real - of_phasor[k].real * decay
    slopes[2] += rest * (s / tau_s) * decay
    slopes[3] = np.where(s > 0, rest / tau_s * decay - (phasor * eigenvalue * ring).real, 0.0)
    return (phasor * ring).real + rest * decay, slopes


def _refined(
    since_s: FloatArray, y: FloatArray, parameters: FloatArray, n_steps: int
) -> tuple[FloatArray, float, FloatArray]:
    """Improve parameters by damped Gauss-Newton steps; return them, the sum of squares and the normal matrix."""
    path, slopes = _model_and_slopes(since_s, parameters)
    residual = y - path
    total, damping = float(residual @ residual), 1e-2
    normal = np.eye(4)
    for _ in range(n_steps):
        normal = slopes @ slopes.T
        step = np.linalg.solve(normal + np.diag(damping * np.diag(normal) + 1e-9), slopes @ residual)
        tried = parameters + np.clip(step, -0.5, 0.5)
        tried[:3] = np.clip(tried[:3], *_LOG_LIMITS)
        path, tried_slopes = _model_and_slopes(since_s, tried)
        left = y - path
        if float(left @ left) < total:
            done = total - float(left @ left) < 1e-7 * total
            parameters, residual, slopes, damping = tried, left, tried_slopes, damping * 0.2
            total = float(left @ left)
            if done:
                break
        else:
            damping = damping * 8 + 1e-3
    return parameters, total, normal


def fit_return(since_s: FloatArray, y: FloatArray, *, start: ReturnFit | None = None) -> ReturnFit:
    """Fit a spring return to readings.

    Parameters
    ----------
    since_s : ndarray, shape (n,), s
        Times; 0 is near the half-way instant.
    y : ndarray, shape (n,)
        Readings as fractions of the displacement: 1 before letting go, 0 at rest.
    start : ReturnFit, optional
        Where to start; else a coarse grid over frequency, damping and time constant.

    Notes
    -----
    Least squares by damped Gauss-Newton from the three best points of the grid, which some thousand readings choose
    among; the covariance is that of independent residuals.
    """
    if start is not None:
        first = np.array([*np.log([start.omega_rad_s, start.zeta, start.tau_s]), start.start_s])
        best = _refined(since_s, y, first, 12)
    else:
        few = slice(None, None, max(1, y.size // ENOUGH))
        guesses = [np.array([*np.log(p), -half_way_s(*p)]) for p in _starts()]
        misfit = [float(np.sum((y[few] - _model(since_s[few], g)) ** 2)) for g in guesses]
        chosen = [guesses[k] for k in np.argsort(misfit)[:3].tolist()]
        first, *_ = min((_refined(since_s[few], y[few], g, 25) for g in chosen), key=lambda fitted: fitted[1])
        best = _refined(since_s, y, first, 25)
    parameters, total, normal = best
    variance = total / max(y.size - 4, 1)
    omega, zeta, tau_s = np.exp(parameters[:3]).tolist()
    return ReturnFit(
        omega_rad_s=omega,
        zeta=zeta,
        tau_s=tau_s,
        start_s=float(parameters[3]),
        rms=math.sqrt(total / max(y.size, 1)),
        covariance=np.asarray(variance * np.linalg.pinv(normal), dtype=np.float64),
    )
