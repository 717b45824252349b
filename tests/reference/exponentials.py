"""Sums of decaying exponentials by the separable fit, from a start of its own: what certified data sets are made of."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.numerics.separable import SeparableFit, SeparableModel, fit_separable

__all__ = ["ExponentialFit", "fit_exponentials"]


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

    m = n_terms + (offset is None)

    def fill(theta: FloatArray, rows: FloatArray) -> None:
        times = since / np.exp(theta)[:, None]
        decay = np.exp(-times)
        rows[:n_terms] = decay if onset_fixed is None else 1.0 - decay
        rows[n_terms:m] = 1.0
        if len(rows) > m:
            rows[m:] = decay * times if onset_fixed is None else -decay * times

    n_grid = {1: 40, 2: 20, 3: 16}[n_terms]
    nodes = np.log(np.geomspace(max(low, 0.2 * float(np.median(np.diff(t)))), min(high, 30.0 * span), n_grid))
    fit = fit_separable(
        SeparableModel(n_columns=m, slopes=tuple((k, k) for k in range(n_terms)), fill=fill),
        y - (offset or 0.0),
        itertools.combinations(nodes[::-1], n_terms),
        bounds=(np.full(n_terms, np.log(low)), np.full(n_terms, np.log(high))),
        weight=weight,
        n_refine=3 if n_terms == 1 else 6,
        tolerance=1e-15,
        max_evaluations=200,
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
