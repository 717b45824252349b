"""The least value of a function of one or a few numbers, without its slopes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from feelcheck.model import FloatArray

__all__ = ["least_by_simplex", "least_of"]


def least_by_simplex(
    cost: Callable[[FloatArray], float],
    corners: FloatArray,
    max_evaluations: int,
    tolerance: float,
    alike: float = 0.0,
) -> tuple[FloatArray, float]:
    """Return where a function is least near a simplex, shape (n,), and its value there.

    Parameters
    ----------
    cost : callable
        The function of numbers of shape (n,); infinite where it is not to be searched.
    corners : ndarray, shape (n + 1, n)
        The simplex that the search begins with.
    max_evaluations : int
        Of the function, the corners included.
    tolerance : float
        The search ends where no corner is farther from the best one in any number, and all values are alike.
    alike : float
        By how much values may differ that count as alike.

    Notes
    -----
    As `scipy.optimize.minimize` does it by Nelder and Mead's method; importing that takes longer than the searches of a
    capture.

    References
    ----------
    J. A. Nelder, R. Mead, Computer Journal 7 (1965) 308-313.

    Examples
    --------
    >>> corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    >>> at, least = least_by_simplex(lambda x: float(np.sum((x - 0.3) ** 2)), corners, 100, 1e-6)
    >>> at.round(3).tolist()
    [0.3, 0.3]
    """
    search = _Simplex(cost, corners, max_evaluations)
    while search.left > 0 and not search.is_closer_than(tolerance, alike):
        search.step()
    return search.points[0], float(search.values[0])


def least_of(cost: Callable[[float], float], within: tuple[float, float], n_steps: int) -> float:
    """Return where a cost with one lowest place is least, by golden sections.

    Parameters
    ----------
    cost : callable
        What a value costs.
    within : (float, float)
        Between what it is looked for.
    n_steps : int
        How many sections.

    Examples
    --------
    >>> round(least_of(lambda x: (x - 0.3) ** 2, (0.0, 1.0), 20), 3)
    0.3
    """
    low, high = within
    share = (np.sqrt(5.0) - 1) / 2
    a, b = high - share * (high - low), low + share * (high - low)
    cost_a, cost_b = cost(a), cost(b)
    for _ in range(n_steps):
        if cost_a < cost_b:
            high, b, cost_b = b, a, cost_a
            a = high - share * (high - low)
            cost_a = cost(a)
        else:
            low, a, cost_a = a, b, cost_b
            b = low + share * (high - low)
            cost_b = cost(b)
    return float(a if cost_a < cost_b else b)


class _Simplex:
    """Corners and their values, best first."""

    def __init__(self, cost: Callable[[FloatArray], float], corners: FloatArray, max_evaluations: int) -> None:
        self.cost, self.left = cost, max_evaluations
        self.points, self.values = np.array(corners, dtype=np.float64), np.full(len(corners), np.inf)
        for k in range(len(corners)):
            self._put(k, self.points[k])
        self._sort()

    def is_closer_than(self, tolerance: float, alike: float) -> bool:
        """Whether nothing is left to tell the corners apart."""
        away = np.abs(self.points[1:] - self.points[0])
        return float(np.max(away)) <= tolerance and bool(self.values[-1] - self.values[0] <= alike)

    def step(self) -> None:
        """Move the worst corner, or all towards the best."""
        centre = np.mean(self.points[:-1], axis=0)
        away = centre - self.points[-1]
        mirrored = self._tried(centre + away)
        if mirrored[1] < self.values[0]:
            self._take(min(self._tried(centre + 2 * away), mirrored, key=_value))
        elif mirrored[1] < self.values[-2]:
            self._take(mirrored)
        else:
            outside = mirrored[1] < self.values[-1]
            nearer = self._tried(centre + (0.5 if outside else -0.5) * away)
            if (nearer[1] <= mirrored[1]) if outside else (nearer[1] < self.values[-1]):
                self._take(nearer)
            else:
                for k in range(1, len(self.points)):
                    self._put(k, 0.5 * (self.points[0] + self.points[k]))
        self._sort()

    def _tried(self, point: FloatArray) -> tuple[FloatArray, float]:
        """A point and its value, infinite once all evaluations are spent."""
        if self.left <= 0:
            return point, np.inf
        self.left -= 1
        return point, self.cost(point)

    def _put(self, k: int, point: FloatArray) -> None:
        if self.left > 0:
            self.points[k], self.values[k] = self._tried(point)

    def _take(self, found: tuple[FloatArray, float]) -> None:
        self.points[-1], self.values[-1] = found

    def _sort(self) -> None:
        order = np.argsort(self.values, kind="stable")
        self.points, self.values = self.points[order], self.values[order]


def _value(found: tuple[FloatArray, float]) -> float:
    return found[1]
