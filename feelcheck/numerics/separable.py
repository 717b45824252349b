"""Least squares for models that are linear in some of their parameters (variable projection)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray

__all__ = ["SeparableFit", "SeparableModel", "fit_separable", "jacobian", "least_residual"]

RANK_TOLERANCE = 1e-13
RIDGE = 1e-13
"""Added to the unit diagonal of a Gram matrix, whose columns may coincide; the end is found without it."""
TINY = 1e-150
LONGEST_STEP = 2.0
"""Of a parameter of order one: the logarithm of a time moves by no more than a factor of 7 at once."""
FIRST_DAMPING, LARGEST_DAMPING = 1e-3, 1e9
"""Of the Gauss-Newton step, as a share of its own diagonal: where a search begins, and where it has found nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeparableModel:
    """A model that is linear in some of its parameters, with closed-form slopes by the others.

    Parameters
    ----------
    n_columns : int
        Number m of linear parameters.
    slopes : tuple of (int, int)
        Of every slope that does not vanish the nonlinear parameter and the column it belongs to.
    fill : callable
        From the nonlinear parameters, shape (p,), and an array to be filled: row by row the columns, shape (m, n), and
        behind them the slopes where the array has rows for them. Parameters should be of order one (logarithms of time
        constants, times in units of the edge).
    """

    n_columns: int
    slopes: tuple[tuple[int, int], ...]
    fill: Callable[[FloatArray, FloatArray], None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeparableFit:
    """The end of a separable fit; separate facts first, one verdict (`valid`) on top.

    Parameters
    ----------
    theta : ndarray, shape (p,)
        Nonlinear parameters.
    coefficients : ndarray, shape (m,)
        Linear parameters.
    covariance : ndarray, shape (p + m, p + m)
        Of theta and then the coefficients, for white residuals of the variance rss / dof.
    fitted, residuals : ndarray, shape (n,)
        Model and data minus model, unweighted.
    rss : float
        Weighted residual sum of squares.
    dof : int
        n - p - m.
    converged : bool
        Whether the search ended by its own criterion.
    at_bound : tuple of bool
        Which nonlinear parameters ended on a bound.
    full_rank : bool
        Whether all parameters could be told apart at the end point; if not, `covariance` is infinite.
    n_evaluations : int
        How often the basis was computed.
    """

    theta: FloatArray
    coefficients: FloatArray
    covariance: FloatArray
    fitted: FloatArray
    residuals: FloatArray
    rss: float
    dof: int
    converged: bool
    at_bound: tuple[bool, ...]
    full_rank: bool
    n_evaluations: int

    @property
    def valid(self) -> bool:
        """Whether the fit may be used: converged, inside its bounds, of full rank, with freedom left."""
        return self.converged and self.full_rank and self.dof > 0 and not any(self.at_bound)

    @property
    def u(self) -> FloatArray:
        """Standard uncertainties of theta and then the coefficients, shape (p + m,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    @property
    def sigma(self) -> float:
        """Residual standard deviation."""
        return float(np.sqrt(self.rss / max(self.dof, 1)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """The projected problem at one point: residual sum of squares, its gradient and the Gauss-Newton matrix."""

    theta: FloatArray
    rss: float
    coefficients: FloatArray
    gradient: FloatArray
    matrix: FloatArray


class _Problem:
    """Data and columns in one array: row 0 the data, then the model's columns, then their slopes."""

    def __init__(self, model: SeparableModel, y: FloatArray, weight: FloatArray | None) -> None:
        self.model, self.m, self.d = model, model.n_columns, len(model.slopes)
        self.y = np.asarray(y, dtype=np.float64)
        self.root = None if weight is None else np.sqrt(weight)
        self.scale = float(np.max(np.abs(self.y))) or 1.0
        self.rows = np.empty((1 + self.m + self.d, self.y.size))
        self.rows[0] = self.y / self.scale if self.root is None else self.y / self.scale * self.root
        self.ridge = RIDGE * np.eye(self.m)
        self.n_evaluations = 0

    def _filled(self, theta: FloatArray, n_rows: int) -> FloatArray:
        part = self.rows[:n_rows]
        self.model.fill(theta, part[1:])
        self.n_evaluations += 1
        if self.root is not None:
            part[1:] *= self.root
        return part

    def rss(self, theta: FloatArray) -> float:
        """Residual sum of squares alone, in units of the largest datum squared."""
        part = self._filled(theta, 1 + self.m)
        gram = part @ part.T
        return self._solved(gram)[1] if np.all(np.isfinite(gram)) else np.inf

    def quick(self, theta: FloatArray) -> _Look | None:
        """By the Gram matrix of all rows, of which the samples are read once."""
        part = self._filled(theta, 1 + self.m + self.d)
        gram = part @ part.T
        if not np.all(np.isfinite(gram)):
            return None
        c, rss, explained = self._solved(gram)
        chain = self._chain(c, theta.size)
        across, inner = gram[1 : 1 + self.m, 1 + self.m :], gram[1 + self.m :, 1 + self.m :]
        return _Look(
            theta=theta,
            rss=rss,
            coefficients=c,
            gradient=chain @ (gram[1 + self.m :, 0] - across.T @ c),
            matrix=chain @ (inner - across.T @ explained) @ chain.T,
        )

    def _solved(self, gram: FloatArray) -> tuple[FloatArray, float, FloatArray]:
        """Linear parameters, residual sum of squares, and what the columns explain of every slope, shape (m, d)."""
        m = self.m
        inner = gram[1 : 1 + m, 1 : 1 + m]
        size = np.maximum(np.sqrt(inner.diagonal()), TINY)[:, None]
        right = np.concatenate([gram[1 : 1 + m, :1], gram[1 : 1 + m, 1 + m :]], axis=1)
        found = np.linalg.solve(inner / size / size.T + self.ridge, right / size) / size
        c = found[:, 0]
        return c, max(float(gram[0, 0] - 2 * c @ right[:, 0] + c @ inner @ c), 0.0), found[:, 1:]

    def exact(self, theta: FloatArray) -> tuple[_Look, FloatArray] | None:
        """By the QR factors of columns, slopes and data (also returned), which lose no digits to squares."""
        start = self.quick(theta)
        if start is None:
            return None
        part, m, p = self.rows, self.m, theta.size
        whole = np.concatenate([part[1 : 1 + m], self._chain(start.coefficients, p) @ part[1 + m :], part[:1]])
        r: FloatArray = np.linalg.qr(whole.T, mode="r")  # type: ignore[assignment]
        c = np.asarray(np.linalg.lstsq(r[:m, :m], r[:m, -1], rcond=RANK_TOLERANCE)[0], dtype=np.float64)
        inner, rest = r[m : m + p, m : m + p], r[m : m + p, -1]
        rss = float(rest @ rest + r[-1, -1] ** 2)
        look = _Look(theta=theta, rss=rss, coefficients=c, gradient=inner.T @ rest, matrix=inner.T @ inner)
        return look, r

    def _chain(self, c: FloatArray, n: int) -> FloatArray:
        """From the rows of slopes to the slopes of the model by each parameter, shape (p, d)."""
        chain = np.zeros((n, self.d))
        for row, (parameter, column) in enumerate(self.model.slopes):
            chain[parameter, row] = c[column]
        return chain


def jacobian(model: SeparableModel, theta: FloatArray, coefficients: FloatArray, n: int) -> FloatArray:
    """Return the slopes of the model by theta and then by the coefficients, shape (p + m, n).

    Parameters
    ----------
    model : SeparableModel
        The model.
    theta, coefficients : ndarray, shapes (p,) and (m,)
        Where.
    n : int
        Number of samples.

    Examples
    --------
    >>> def fill(theta, rows):
    ...     rows[0] = np.exp(theta[0]) * np.arange(3.0)
    ...     rows[1:] = rows[0]
    >>> jacobian(SeparableModel(n_columns=1, slopes=((0, 0),), fill=fill), np.zeros(1), np.array([2.0]), 3).tolist()
    [[0.0, 2.0, 4.0], [0.0, 1.0, 2.0]]
    """
    p, m = theta.size, model.n_columns
    rows = np.empty((m + len(model.slopes), n))
    model.fill(theta, rows)
    found = np.zeros((p + m, n))
    found[p:] = rows[:m]
    for (k, column), slope in zip(model.slopes, rows[m:], strict=True):
        found[k] += coefficients[column] * slope
    return found


def fit_separable(
    model: SeparableModel,
    y: FloatArray,
    starts: Iterable[Sequence[float] | FloatArray],
    *,
    bounds: tuple[FloatArray, FloatArray] | None = None,
    weight: FloatArray | None = None,
    n_refine: int = 2,
    tolerance: float = 1e-7,
    max_evaluations: int = 40,
) -> SeparableFit:
    """Fit a model that is linear in some of its parameters; only the others are searched.

    Parameters
    ----------
    model : SeparableModel
        Its columns and their slopes.
    y : ndarray, shape (n,)
        Data.
    starts : iterable of ndarray, shape (p,)
        A grid of start values; all are tried, the best `n_refine` are refined.
    bounds : (ndarray, ndarray), each shape (p,), optional
        Limits of the nonlinear parameters.
    weight : ndarray, shape (n,), optional
        Inverse variances up to a factor.
    n_refine : int
        How many starts are refined.
    tolerance : float
        The search ends where the next step promises less than this share of the residual sum of squares.
    max_evaluations : int
        Longest search from one start.

    Returns
    -------
    SeparableFit
        Its covariance rests on the joint derivative by all parameters.

    Raises
    ------
    NotEnoughDataError
        If there are no more data than parameters.

    Notes
    -----
    Variable projection with Kaufman's derivative in a Levenberg-Marquardt search; parameters on a bound that push
    outwards rest. The search reads the samples once a step, into a Gram matrix of columns, slopes and data; its end,
    the covariance and the rank are found anew by QR factors, since squares lose half of the digits.

    References
    ----------
    G. H. Golub, V. Pereyra, "The differentiation of pseudo-inverses and nonlinear least squares problems whose
    variables separate", SIAM J. Numer. Anal. 10 (1973) 413-432. L. Kaufman, BIT 15 (1975) 49-57.
    D. W. Marquardt, J. SIAM 11 (1963) 431-441.

    Examples
    --------
    >>> t = np.linspace(0.0, 5.0, 50)
    >>> def fill(theta, rows):
    ...     rows[0] = np.exp(-t * np.exp(theta[0]))
    ...     rows[1:] = -t * np.exp(theta[0]) * rows[0]
    >>> model = SeparableModel(n_columns=1, slopes=((0, 0),), fill=fill)
    >>> fit = fit_separable(model, 3 * np.exp(-2 * t), [[-1.0], [1.0]])
    >>> round(float(np.exp(fit.theta[0])), 6), round(float(fit.coefficients[0]), 6)
    (2.0, 3.0)
    """
    problem = _Problem(model, y, weight)
    grid = [np.asarray(start, dtype=np.float64) for start in starts]
    p = grid[0].size
    if problem.y.size <= p + problem.m:
        raise NotEnoughDataError(
            "A fit needs more data than it has parameters.",
            {"data": problem.y.size, "parameters": p + problem.m},
            "Record more samples in the edge.",
        )
    low, high = bounds or (np.full(p, -np.inf), np.full(p, np.inf))
    grid = [np.clip(start, low, high) for start in grid]
    if len(grid) > n_refine:
        cost = [problem.rss(start) for start in grid]
        grid = [grid[k] for k in np.argsort(cost, kind="stable")[:n_refine]]
    best: tuple[_Look, bool] | None = None
    for start in grid:
        found = _descend(problem.quick, start, (low, high), tolerance, max_evaluations)
        if found is not None and (best is None or found[0].rss < best[0].rss):
            best = found
    theta, converged = (grid[0], False) if best is None else (best[0].theta, best[1])
    return _conclude(problem, theta, converged, (low, high), tolerance, max_evaluations)


def least_residual(
    model: SeparableModel,
    y: FloatArray,
    start: FloatArray,
    bounds: tuple[FloatArray, FloatArray],
    *,
    tolerance: float = 1e-7,
    max_evaluations: int = 40,
) -> float:
    """Return the least residual sum of squares that a search from one start reaches; parameters may be held by bounds.

    Parameters
    ----------
    model, y, bounds, tolerance, max_evaluations
        As for `fit_separable`.
    start : ndarray, shape (p,)
        Where the search begins.
    """
    problem = _Problem(model, y, None)
    found = _descend(problem.quick, np.clip(start, *bounds), bounds, tolerance, max_evaluations)
    return np.inf if found is None else found[0].rss * problem.scale**2


def _descend(
    look: Callable[[FloatArray], _Look | None],
    theta: FloatArray,
    limits: tuple[FloatArray, FloatArray],
    tolerance: float,
    longest: int,
) -> tuple[_Look, bool] | None:
    """Return the end of one damped search and whether it ended by its own criterion; None from a bad start."""
    now, damping = look(theta), FIRST_DAMPING
    if now is None:
        return None
    for _ in range(longest):
        step, promise = _step(now, damping, limits)
        if promise <= tolerance * now.rss or damping > LARGEST_DAMPING:
            return now, True
        trial = look(np.clip(now.theta + step, *limits))
        if trial is not None and trial.rss < now.rss:
            now, damping = trial, 0.1 * damping
        else:
            damping *= 10.0
    return now, False


def _step(now: _Look, damping: float, limits: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, float]:
    """Return the next step and by how much it would lower the residual sum of squares."""
    outwards = ((now.theta <= limits[0]) & (now.gradient < 0)) | ((now.theta >= limits[1]) & (now.gradient > 0))
    free = ~outwards & (now.matrix.diagonal() > 0)
    whole = bool(free.all())
    matrix, gradient = (now.matrix, now.gradient) if whole else (now.matrix[free][:, free], now.gradient[free])
    if not gradient.size:
        return np.zeros(free.size), 0.0
    size = np.sqrt(matrix.diagonal())
    scaled = matrix / size / size[:, None]
    scaled.flat[:: size.size + 1] += damping + RIDGE
    found = np.clip(np.linalg.solve(scaled, gradient / size) / size, -LONGEST_STEP, LONGEST_STEP)
    step = found if whole else np.zeros(free.size)
    step[free] = found
    return step, float(gradient @ found)


def _conclude(
    problem: _Problem,
    theta: FloatArray,
    converged: bool,
    limits: tuple[FloatArray, FloatArray],
    tolerance: float,
    longest: int,
) -> SeparableFit:
    factors: list[FloatArray] = []
    last = theta

    def look(at: FloatArray) -> _Look | None:
        nonlocal last
        found, last = problem.exact(at), at
        factors[:] = [] if found is None else [found[1]]
        return None if found is None else found[0]

    found = _descend(look, theta, limits, tolerance, longest)
    if found is None:
        raise NotEnoughDataError("A fit needs a model that is finite somewhere.", {"parameters": theta.size})
    end, ended = found
    # the last look may have been a step that was not taken
    if end.theta is not last:
        look(end.theta)
    low, high = limits
    edge = 1e-6 * np.maximum(1.0, np.abs(end.theta))
    coefficients = end.coefficients * problem.scale
    part = problem.rows[1 : 1 + problem.m]
    fitted = coefficients @ (part if problem.root is None else part / np.where(problem.root > 0, problem.root, 1.0))
    residuals = problem.y - fitted
    dof = problem.y.size - theta.size - problem.m
    rss = float(np.sum(residuals**2 if problem.root is None else (problem.root * residuals) ** 2))
    covariance, full_rank = _covariance(factors[0], problem, theta.size)
    return SeparableFit(
        theta=end.theta,
        coefficients=coefficients,
        covariance=covariance * (rss / max(dof, 1)) if full_rank else covariance,
        fitted=fitted,
        residuals=residuals,
        rss=rss,
        dof=dof,
        converged=converged and ended,
        at_bound=tuple(bool(hit) for hit in (end.theta - low < edge) | (high - end.theta < edge)),
        full_rank=full_rank,
        n_evaluations=problem.n_evaluations,
    )


def _covariance(r: FloatArray, problem: _Problem, p: int) -> tuple[FloatArray, bool]:
    """Return (J'J)^-1 of theta and then the coefficients from QR factors, and whether the rank is full."""
    q = problem.m + p
    joint = r[:q, :q][:, [*range(problem.m, q), *range(problem.m)]]
    size = np.linalg.norm(joint, axis=0)
    if not np.all(size > 0):
        return np.full((q, q), np.inf), False
    _, s, vt = np.linalg.svd(joint / size)
    if s[-1] <= s[0] * RANK_TOLERANCE:
        return np.full((q, q), np.inf), False
    half = (vt.T / s) / size[:, None]
    half[:p] /= problem.scale
    return half @ half.T, True
