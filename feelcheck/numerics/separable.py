"""Least squares for models that are linear in some of their parameters (variable projection)."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import lstsq, qr
from scipy.optimize import least_squares

from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray

__all__ = ["Basis", "ExponentialFit", "SeparableFit", "fit_exponentials", "fit_separable"]

Basis = Callable[[FloatArray], FloatArray]
"""From the nonlinear parameters, shape (p,), to the model's columns, shape (n, m)."""

Gradient = Callable[[FloatArray], FloatArray]
"""From the nonlinear parameters, shape (p,), to the derivatives of the columns, shape (p, n, m)."""

RANK_TOLERANCE = 1e-13
REPELLENT = 1e3
STEP = 6e-6


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
class ExponentialFit:
    """A sum of exponentials; time constants from the slowest to the fastest.

    Parameters
    ----------
    tau, u_tau, amplitude, u_amplitude : ndarray, shape (k,)
        Time constants in the unit of t, amplitudes in the unit of y, and their standard uncertainties.
    offset, u_offset : float
        The constant (uncertainty 0 where it was held fixed).
    fit : SeparableFit
        Everything else; its theta are the logarithms of the time constants, in this order.
    """

    tau: FloatArray
    u_tau: FloatArray
    amplitude: FloatArray
    u_amplitude: FloatArray
    offset: float
    u_offset: float
    fit: SeparableFit


class _Problem:
    """The projected residual and its Kaufman derivative, with the last basis kept."""

    def __init__(self, basis: Basis, y: FloatArray, gradient: Gradient | None, weight: FloatArray | None) -> None:
        self.basis, self.gradient, self.y = basis, gradient, np.asarray(y, dtype=np.float64)
        self.root = None if weight is None else np.sqrt(weight)
        self.target = self.y if self.root is None else self.y * self.root
        self.n_evaluations = 0

    def columns(self, theta: FloatArray) -> FloatArray:
        self.n_evaluations += 1
        columns = np.asarray(self.basis(theta), dtype=np.float64)
        return columns if self.root is None else columns * self.root[:, None]

    def coefficients(self, columns: FloatArray) -> FloatArray:
        return np.asarray(lstsq(columns, self.target, cond=RANK_TOLERANCE, check_finite=False)[0])

    def residual(self, theta: FloatArray) -> FloatArray:
        columns = self.columns(theta) if np.all(np.isfinite(theta)) else None
        if columns is None or not np.all(np.isfinite(columns)):
            return np.full(self.target.size, REPELLENT * (float(np.max(np.abs(self.target))) or 1.0))
        return np.asarray(columns @ self.coefficients(columns) - self.target)

    def slopes(self, theta: FloatArray, coefficients: FloatArray) -> FloatArray:
        """Derivatives of the model by theta at fixed coefficients, shape (n, p)."""
        if self.gradient is not None:
            slopes = np.stack([block @ coefficients for block in self.gradient(theta)], axis=1)
            return slopes if self.root is None else np.asarray(slopes * self.root[:, None])
        slopes = np.empty((self.y.size, theta.size))
        for k in range(theta.size):
            step = STEP * max(1.0, abs(theta[k]))
            up, down = theta.copy(), theta.copy()
            up[k] += step
            down[k] -= step
            slopes[:, k] = (self.columns(up) - self.columns(down)) @ coefficients / (up[k] - down[k])
        return slopes

    def jacobian(self, theta: FloatArray) -> FloatArray:
        """Kaufman's derivative of the projected residual: the part of the slopes outside the column space."""
        columns = self.columns(theta)
        slopes = self.slopes(theta, self.coefficients(columns))
        q = qr(columns, mode="economic", check_finite=False)[0]
        return np.asarray(slopes - q @ (q.T @ slopes))


def fit_separable(
    basis: Basis,
    y: FloatArray,
    starts: Iterable[Iterable[float]],
    *,
    bounds: tuple[FloatArray, FloatArray] | None = None,
    gradient: Gradient | None = None,
    weight: FloatArray | None = None,
    n_refine: int = 3,
    tolerance: float = 1e-12,
    max_evaluations: int = 200,
) -> SeparableFit:
    """Fit a model that is linear in some of its parameters; only the others are searched.

    Parameters
    ----------
    basis : callable
        Nonlinear parameters, shape (p,) -> columns, shape (n, m); scale the parameters to be of order one (logarithms
        of time constants, times in units of the interval).
    y : ndarray, shape (n,)
        Data.
    starts : iterable of sequences of length p
        A grid of start values; all are tried, the best `n_refine` are refined.
    bounds : (ndarray, ndarray), each shape (p,), optional
        Limits of the nonlinear parameters.
    gradient : callable, optional
        Derivatives of the columns, shape (p, n, m); central differences where absent.
    weight : ndarray, shape (n,), optional
        Inverse variances up to a factor.
    n_refine : int
        How many starts are refined.
    tolerance : float
        Relative step and reduction at which the search ends.
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
    Variable projection with Kaufman's derivative inside a trust-region search.

    References
    ----------
    G. H. Golub, V. Pereyra, "The differentiation of pseudo-inverses and nonlinear least squares problems whose
    variables separate", SIAM J. Numer. Anal. 10 (1973) 413-432.

    Examples
    --------
    >>> t = np.linspace(0.0, 5.0, 50)
    >>> fit = fit_separable(lambda p: np.exp(-t[:, None] * np.exp(p)), 3 * np.exp(-2 * t), [[-1.0], [1.0]])
    >>> round(float(np.exp(fit.theta[0])), 6), round(float(fit.coefficients[0]), 6)
    (2.0, 3.0)
    """
    problem = _Problem(basis, y, gradient, weight)
    grid = [np.asarray(list(start), dtype=np.float64) for start in starts]
    cost = [float(np.sum(problem.residual(theta) ** 2)) for theta in grid]
    n_parameters = grid[0].size + problem.columns(grid[0]).shape[1]
    if problem.y.size <= n_parameters:
        raise NotEnoughDataError(
            "A fit needs more data than it has parameters.",
            {"data": problem.y.size, "parameters": n_parameters},
            "Record more samples in the edge.",
        )
    order = np.argsort(cost)[:n_refine]
    limits = bounds or (np.full(grid[0].size, -np.inf), np.full(grid[0].size, np.inf))
    scale = float(np.sqrt(np.mean(problem.target**2))) or 1.0
    ends = [_refine(problem, grid[k], limits, scale, (tolerance, max_evaluations)) for k in order]
    return _conclude(problem, *min(ends, key=lambda end: float(np.sum(problem.residual(end[0]) ** 2))), limits)


def _refine(
    problem: _Problem, theta: FloatArray, limits: tuple[FloatArray, FloatArray], scale: float, ends: tuple[float, int]
) -> tuple[FloatArray, bool]:
    def cost(p: FloatArray) -> FloatArray:
        return problem.residual(p) / scale

    def slopes(p: FloatArray) -> FloatArray:
        return problem.jacobian(p) / scale

    first = slopes(theta) if np.all(np.isfinite(problem.columns(theta))) else np.zeros(1)
    if not (np.all(np.isfinite(first)) and np.any(first)):
        return theta, False
    with np.errstate(all="ignore"):
        found = least_squares(
            cost,
            np.clip(theta, *limits),
            jac=slopes,
            bounds=limits,
            ftol=ends[0],
            xtol=ends[0],
            gtol=None,
            max_nfev=ends[1],
        )
    if not np.all(np.isfinite(found.x)):
        return theta, False
    return np.asarray(found.x), bool(found.status > 0)


def _conclude(
    problem: _Problem, theta: FloatArray, converged: bool, limits: tuple[FloatArray, FloatArray]
) -> SeparableFit:
    columns = problem.columns(theta)
    coefficients = problem.coefficients(columns)
    residual = problem.target - columns @ coefficients
    joint = np.concatenate([problem.slopes(theta, coefficients), columns], axis=1)
    rss = float(residual @ residual)
    dof = problem.y.size - joint.shape[1]
    covariance, full_rank = _covariance(joint)
    low, high = (np.broadcast_to(np.asarray(limit, dtype=np.float64), theta.shape) for limit in limits)
    edge = 1e-6 * np.maximum(1.0, np.abs(theta))
    root = 1.0 if problem.root is None else np.where(problem.root > 0, problem.root, 1.0)
    fitted = columns @ coefficients / root
    return SeparableFit(
        theta=theta,
        coefficients=coefficients,
        covariance=covariance * (rss / max(dof, 1)) if full_rank else covariance,
        fitted=fitted,
        residuals=problem.y - fitted,
        rss=rss,
        dof=dof,
        converged=converged,
        at_bound=tuple(bool(hit) for hit in (theta - low < edge) | (high - theta < edge)),
        full_rank=full_rank,
        n_evaluations=problem.n_evaluations,
    )


def _covariance(joint: FloatArray) -> tuple[FloatArray, bool]:
    """Return (J'J)^-1 by a column-scaled singular value decomposition, and whether the rank is full."""
    size = np.linalg.norm(joint, axis=0)
    if not np.all(size > 0):
        return np.full((joint.shape[1],) * 2, np.inf), False
    _, s, vt = np.linalg.svd(joint / size, full_matrices=False)
    if s[-1] <= s[0] * RANK_TOLERANCE:
        return np.full((joint.shape[1],) * 2, np.inf), False
    half = (vt.T / s) / size[:, None]
    return half @ half.T, True


def fit_exponentials(
    t: FloatArray,
    y: FloatArray,
    n_terms: int,
    *,
    offset: float | None = None,
    onset_fixed: float | None = None,
    weight: FloatArray | None = None,
    tau_limits: tuple[float, float] | None = None,
) -> ExponentialFit:
    """Fit a sum of decaying exponentials, making its own start from the data.

    Without `onset_fixed` the model is ``offset + sum a_i exp(-(t - t[0]) / tau_i)``; with it the curve leaves `offset`
    at that instant: ``offset + sum a_i (1 - exp(-(t - onset) / tau_i))``.

    Parameters
    ----------
    t, y : ndarray, shape (n,)
        Instants and data, any units; t increasing, need not be regular.
    n_terms : int
        Number of exponentials, 1 to 3.
    offset : float or None
        The constant held fixed, or None to fit it.
    onset_fixed : float or None
        Instant at which the curve leaves the offset.
    weight : ndarray, shape (n,), optional
        Inverse variances up to a factor.
    tau_limits : (float, float), optional
        Limits of the time constants; by default a tenth of the shortest interval and 1000 times the whole span.

    Raises
    ------
    NotEnoughDataError
        If there are no more data than parameters.

    References
    ----------
    Held to the certified data sets Misra1a, BoxBOD, MGH17, Lanczos2 and Lanczos3 of NIST/ITL Statistical Reference
    Datasets, Nonlinear Regression.

    Examples
    --------
    >>> t = np.linspace(0.0, 30.0, 200)
    >>> found = fit_exponentials(t, 1.0 + 2.0 * np.exp(-t / 4.7), 1)
    >>> round(float(found.tau[0]), 6), round(found.offset, 6)
    (4.7, 1.0)
    """
    t, y = np.asarray(t, dtype=np.float64), np.asarray(y, dtype=np.float64)
    since = t - (float(t[0]) if onset_fixed is None else onset_fixed)
    span = float(np.ptp(t)) or 1.0
    low, high = tau_limits or (0.1 * float(np.min(np.diff(t))), 1000.0 * span)

    def terms(theta: FloatArray) -> FloatArray:
        decay = np.exp(-since[:, None] / np.exp(theta))
        return decay if onset_fixed is None else 1.0 - decay

    def basis(theta: FloatArray) -> FloatArray:
        return terms(theta) if offset is not None else np.column_stack([terms(theta), np.ones(t.size)])

    def gradient(theta: FloatArray) -> FloatArray:
        blocks = np.zeros((n_terms, t.size, n_terms + (offset is None)))
        sign = 1.0 if onset_fixed is None else -1.0
        for k, tau in enumerate(np.exp(theta)):
            blocks[k, :, k] = sign * np.exp(-since / tau) * since / tau
        return blocks

    n_grid = {1: 40, 2: 20, 3: 16}[n_terms]
    nodes = np.log(np.geomspace(max(low, 0.2 * float(np.median(np.diff(t)))), min(high, 30.0 * span), n_grid))
    fit = fit_separable(
        basis,
        y - (offset or 0.0),
        itertools.combinations(nodes[::-1], n_terms),
        bounds=(np.full(n_terms, np.log(low)), np.full(n_terms, np.log(high))),
        gradient=gradient,
        weight=weight,
        n_refine=3 if n_terms == 1 else 6,
        tolerance=1e-15,
    )
    return _as_exponentials(fit, n_terms, offset)


def _as_exponentials(fit: SeparableFit, n_terms: int, offset: float | None) -> ExponentialFit:
    order = np.argsort(-fit.theta)
    tau, u = np.exp(fit.theta[order]), fit.u
    return ExponentialFit(
        tau=tau,
        u_tau=tau * u[:n_terms][order],
        amplitude=fit.coefficients[:n_terms][order],
        u_amplitude=u[n_terms : 2 * n_terms][order],
        offset=float(fit.coefficients[n_terms]) if offset is None else offset,
        u_offset=float(u[-1]) if offset is None else 0.0,
        fit=fit,
    )
