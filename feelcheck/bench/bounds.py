"""How slow a pole could be without being seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.optimize import minimize_scalar

from feelcheck.bench.fit import ModelFit, model_basis
from feelcheck.model import FloatArray

__all__ = ["largest_pole_s"]

CHI2 = 3.841458820694124
"""Chi-square of one degree of freedom, 95 %: its upper end is the one-sided 97.5 % limit."""

RESOLUTION = 0.5
"""No bound below half a sample interval is claimed: the instants themselves are no better."""


def largest_pole_s(fits: Sequence[ModelFit]) -> float:
    """Return the 97.5 % upper limit of a single pole by its profile likelihood, pooled over edges, s.

    Parameters
    ----------
    fits : sequence of ModelFit
        Edges whose chosen model has no pole, or one that cannot be told from nothing.

    Notes
    -----
    The pole is raised until the residuals, counted as independent samples, are worse by 3.84 than at the best pole. A
    dead time in the model is searched anew at every pole.
    """
    profiles = [_Profile(fit) for fit in fits]
    low = 0.02 * min(fit.window.interval_s for fit in fits)
    high = max(fit.window.span_s for fit in fits)
    grid = np.geomspace(low, high, 40)
    cost = np.array([sum(profile.cost(tau) for profile in profiles) for tau in grid])
    best = int(np.argmin(cost))
    above = np.flatnonzero(cost[best:] > cost[best] + CHI2)
    if not above.size:
        return float(grid[-1])
    k = best + int(above[0])
    found = _bisect(profiles, float(grid[k - 1]), float(grid[k]), float(cost[best]) + CHI2)
    return max(found, RESOLUTION * min(fit.window.interval_s for fit in fits))


def _bisect(profiles: Sequence[_Profile], low: float, high: float, limit: float) -> float:
    for _ in range(12):
        middle = float(np.sqrt(low * high))
        if sum(profile.cost(middle) for profile in profiles) > limit:
            high = middle
        else:
            low = middle
    return high


class _Profile:
    """Twice the negative logarithm of the likelihood of one edge against the pole's time constant."""

    def __init__(self, fit: ModelFit) -> None:
        spec = replace(fit.spec, shape="one_pole")
        self.basis = model_basis(spec, fit.window, fit.scale_s)
        self.y, self.n = fit.window.y, fit.window.y.size / fit.correlation
        self.tail = fit.fit.theta[fit.spec.n_shape :]
        self.dead = fit.spec.dead
        doubt = fit.u_dead_s if np.isfinite(fit.u_dead_s) else 0.0
        self.reach = 3 * (fit.window.interval_s + min(doubt, 0.1 * fit.window.span_s)) / fit.scale_s
        self.scale = fit.scale_s

    def cost(self, tau: float) -> float:
        if not self.dead:
            return self._cost(tau, self.tail)
        middle = self.tail[0] - min(tau, 3 * self.reach * self.scale) / self.scale

        def moved(dead: float) -> float:
            return self._cost(tau, np.array([dead, *self.tail[1:]]))

        bounds = (middle - self.reach, float(self.tail[0]) + self.reach)
        found = minimize_scalar(moved, bounds=bounds, method="bounded", options={"maxiter": 20})
        return float(found.fun)

    def _cost(self, tau: float, tail: FloatArray) -> float:
        columns = self.basis(np.array([np.log(tau), *tail]))
        rest = self.y - columns @ np.linalg.lstsq(columns, self.y, rcond=None)[0]
        return float(self.n * np.log(max(float(rest @ rest), 1e-300)))
