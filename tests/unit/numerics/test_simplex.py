"""The search by a simplex against the library's."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import minimize, rosen

from feelcheck.model import FloatArray
from feelcheck.numerics.simplex import least_by_simplex


def bounded(x: FloatArray) -> float:
    """A valley whose lowest place lies behind a wall."""
    return float(np.sum((x - 1.0) ** 2) + 0.5 * x[0] * x[1]) if x[0] < 0.6 else float("inf")


def flat(x: FloatArray) -> float:
    """A bowl without a curvature at its lowest place."""
    return float(np.sum((x - 0.37) ** 4))


@pytest.mark.parametrize("cost", [rosen, bounded, flat])
@pytest.mark.parametrize("n", [2, 3, 4])
def test_it_ends_where_the_library_does(cost: Callable[[FloatArray], float], n: int) -> None:
    here = np.linspace(-0.7, 0.4, n)
    corners = np.vstack([here, here + 0.3 * np.eye(n)])
    theirs = minimize(
        cost,
        here,
        method="Nelder-Mead",
        options={"initial_simplex": corners, "maxfev": 2000, "xatol": 1e-6, "fatol": 0},
    )
    at, least = least_by_simplex(cost, corners, 2000, 1e-6)
    assert least == pytest.approx(theirs.fun, abs=1e-9)
    assert at == pytest.approx(theirs.x, abs=0.01)


def test_it_asks_no_more_often_than_it_may_and_keeps_the_best() -> None:
    asked: list[float] = []

    def cost(x: FloatArray) -> float:
        asked.append(float(rosen(x)))
        return asked[-1]

    for most in range(3, 40):
        asked.clear()
        corners = np.array([[-1.0, 1.0], [-0.5, 1.0], [-1.0, 1.5]])
        _, least = least_by_simplex(cost, corners, most, 0.0)
        assert len(asked) == most
        assert least == min(asked)
