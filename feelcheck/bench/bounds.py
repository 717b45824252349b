"""How slow a pole could be without being seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from feelcheck.bench.fit import ModelFit
from feelcheck.bench.numbers import CHI2, N_GRID, RESOLUTION
from feelcheck.bench.response_models import separable_model
from feelcheck.numerics.separable import least_residual

__all__ = ["largest_pole_s"]


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
    grid = np.geomspace(low, high, N_GRID)
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
        self.model = separable_model(replace(fit.spec, shape="one_pole"), fit.window, fit.scale_s)
        self.y, self.n, self.scale = fit.window.y, fit.window.y.size / fit.correlation, fit.scale_s
        self.tail = fit.fit.theta[fit.spec.n_shape :]
        self.dead = fit.spec.dead
        doubt = fit.u_dead_s if np.isfinite(fit.u_dead_s) else 0.0
        self.reach = 3 * (fit.window.interval_s + min(doubt, 0.1 * fit.window.span_s)) / fit.scale_s

    def cost(self, tau: float) -> float:
        """Twice the negative logarithm of the likelihood, the pole's time constant and the clips held."""
        start = np.array([np.log(tau), *self.tail])
        low, high = start.copy(), start.copy()
        if self.dead:
            late = min(tau / self.scale, 3 * self.reach)
            low[1], high[1] = start[1] - late - self.reach, start[1] + self.reach
            start[1] -= 0.7 * late
        return float(self.n * np.log(max(least_residual(self.model, self.y, start, (low, high)), 1e-300)))
