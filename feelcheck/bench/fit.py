"""Fit one candidate model to one edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from feelcheck.bench.numbers import (
    FAR_WORSE,
    LEAST_LEFT,
    LONGEST_KINKED_SEARCH,
    LONGEST_SEARCH,
    MAIN_SHARE,
    SLOWEST_PACE,
)
from feelcheck.bench.response_models import ModelSpec, beside_rows, separable_model
from feelcheck.bench.starts import limits_of, starts_of
from feelcheck.bench.weak_sink import weak_levels, weak_mean_delay
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import FloatArray
from feelcheck.numerics.separable import SeparableFit, fit_separable

__all__ = ["ModelFit", "fit_spec", "integrated_correlation"]


@dataclass(frozen=True, kw_only=True, eq=False)
class ModelFit:
    """A candidate at its best, with what follows from it.

    Parameters
    ----------
    spec : ModelSpec
        The candidate.
    window : EdgeWindow
        The edge.
    fit : SeparableFit
        Nonlinear parameters: logarithms of the shape's times (and damping), dead time over `scale_s`, clip levels in
        the drive's way from 0 to 1 (start, then end); coefficients: level before, gain, the gain of the part beside the
        first pole if any, the free start if any, and last the drift over the window, the sag and the hum if any.
    scale_s : float
        Unit of the dead time parameter.
    """

    spec: ModelSpec
    window: EdgeWindow
    fit: SeparableFit
    scale_s: float

    @cached_property
    def correlation(self) -> float:
        """Factor by which correlated residuals reduce the number of independent samples, at least 1."""
        return integrated_correlation(self.fit.residuals, self.n_parameters)

    @property
    def n_parameters(self) -> int:
        """All fitted parameters."""
        return int(self.fit.theta.size + self.fit.coefficients.size)

    @cached_property
    def poles_s(self) -> tuple[float, ...]:
        """Time constants, slowest first; of a ringing pair the real part's, of a weak sink the pole behind it, of an
        average none, of a pole and an average the pole's.
        """
        if self.spec.weak:
            return (float(np.exp(self.fit.theta[self.spec.n_shape - 1])),)
        if self.spec.shape == "average":
            return ()
        times = np.exp(self.fit.theta[: self.spec.n_shape])
        if self.spec.shape == "pole_and_average":
            return (float(times[0]),)
        if self.spec.shape == "second_order":
            return (float(times[0] / times[1]),) if times[1] < 1 else (float(times[0] * 2 * times[1]),)
        return tuple(sorted((float(tau) for tau in times), reverse=True))

    @cached_property
    def shares(self) -> FloatArray:
        """Share of the edge that each exponential carries where these are free, shape (n_shape,); equal elsewhere."""
        n = self.spec.n_shape
        if self.spec.zero:
            beside = self.beside_share
            return np.array([1 - beside, beside][:n])
        parts = np.abs(self.fit.coefficients[1 : n + 1])
        if self.window.stimulus is not None or self.spec.shape != "two_pole" or not np.sum(parts) > 0:
            return np.full(n, 1.0 / max(n, 1))
        return np.asarray(parts / np.sum(parts))

    @property
    def beside_share(self) -> float:
        """Share of the edge that goes beside the first pole: at once, or through the second one."""
        if not self.spec.zero:
            return 0.0
        gain, beside = self.fit.coefficients[1:3].tolist()
        return float(beside / gain) if gain else 0.0

    @property
    def u_beside_share(self) -> float:
        """Standard uncertainty of `beside_share`."""
        slope, p = np.zeros(self.n_parameters), self.fit.theta.size
        slope[p + 1 : p + 3] = np.array([-self.beside_share, 1.0]) / float(self.fit.coefficients[1])
        return self.u_along(slope)

    @property
    def main(self) -> int:
        """Place of the main pole among the shape's parameters: the slowest, unless it shows but a small tail."""
        if self.spec.shape == "pole_and_average":
            return 0
        theta = self.fit.theta[: self.spec.n_shape]
        slowest = int(np.argmax(theta))
        seen = np.abs(self.shares) * -np.expm1(-self.window.span_s / np.exp(theta))
        return int(np.argmax(seen)) if seen[slowest] < MAIN_SHARE * np.sum(seen) else slowest

    @property
    def has_tail(self) -> bool:
        """Whether a small part of the edge goes on with a pole slower than the main one."""
        return self.spec.shape == "two_pole" and bool(self.fit.theta[self.main] < np.max(self.fit.theta[:2]))

    @property
    def main_pole_s(self) -> float:
        """Time constant that carries the edge."""
        return float(np.exp(self.fit.theta[self.main])) if self.has_tail else (self.poles_s or (0.0,))[0]

    @cached_property
    def u_log(self) -> FloatArray:
        """Standard uncertainties of the nonlinear parameters, correlation of the residuals included."""
        return np.asarray(self.fit.u[: self.fit.theta.size] * np.sqrt(self.correlation), dtype=np.float64)

    @property
    def smoothing_s(self) -> float:
        """Mean delay of the shape alone; a weak sink's begins with its drive, whose own delay is taken off."""
        if self.spec.weak:
            whole = weak_mean_delay(self.spec.shape, self.fit.theta[: self.spec.n_shape])
            return max(whole - self.window.drive_delay_s, 0.0)
        times = np.exp(self.fit.theta[: self.spec.n_shape])
        if self.has_tail or self.spec.zero:
            return float(self.shares @ times)
        if self.spec.averages:
            times[-1] /= 2
        return float(2 * times[0] * times[1]) if self.spec.shape == "second_order" else float(np.sum(times))

    @cached_property
    def smoothing_slope(self) -> FloatArray:
        """Slope of `smoothing_s` by all parameters, theta and then the coefficients."""
        n, p = self.spec.n_shape, self.fit.theta.size
        slope = np.zeros(self.n_parameters)
        if self.spec.weak:
            slope[0] = self.smoothing_s + self.window.drive_delay_s
            return slope
        times = np.exp(self.fit.theta[:n])
        if self.spec.averages:
            times[-1] /= 2
        slope[:n] = np.full(n, self.smoothing_s) if self.spec.shape == "second_order" else times
        if self.has_tail or self.spec.zero:
            slope[:n] *= self.shares
        if self.spec.zero:
            longer = float((times[1] if n == 2 else 0.0) - times[0]) / float(self.fit.coefficients[1])
            slope[p + 1 : p + 3] = longer * np.array([-self.beside_share, 1.0])
        return slope

    @property
    def u_smoothing_s(self) -> float:
        """Standard uncertainty of `smoothing_s`."""
        return self.u_along(self.smoothing_slope)

    @property
    def dead_slope(self) -> FloatArray:
        """Slope of `dead_s` by all parameters."""
        slope = np.zeros(self.n_parameters)
        slope[self.spec.n_shape] = self.scale_s if self.spec.dead else slope[self.spec.n_shape]
        return slope

    def u_along(self, slope: FloatArray) -> float:
        """Return the standard uncertainty of what changes along a slope by all parameters.

        Parameters
        ----------
        slope : ndarray, shape (n_parameters,)
            Derivative of what is asked for by each parameter.
        """
        wanted = np.flatnonzero(slope)
        variance = float(slope[wanted] @ self.fit.covariance[np.ix_(wanted, wanted)] @ slope[wanted]) * self.correlation
        return float(np.sqrt(max(variance, 0.0))) if np.isfinite(variance) else float("inf")

    @property
    def dead_s(self) -> float:
        """Dead time, or the onset of a step, from the window's origin."""
        return float(self.fit.theta[self.spec.n_shape] * self.scale_s) if self.spec.dead else 0.0

    @property
    def u_dead_s(self) -> float:
        """Standard uncertainty of `dead_s`."""
        return float(self.u_log[self.spec.n_shape] * self.scale_s) if self.spec.dead else 0.0

    @property
    def clips(self) -> tuple[float, float]:
        """The part of the drive's way that the output follows, 0 to 1 where nothing is cut."""
        return self.spec.clips(self.fit.theta)

    @property
    def levels(self) -> tuple[float, float]:
        """State levels before and after, as the fit has them."""
        if self.spec.weak:
            return weak_levels(self.spec.shape, self.fit.theta, self.fit.coefficients)
        base, gain = float(self.fit.coefficients[0]), float(self.fit.coefficients[1])
        if self.window.stimulus is None:
            end = self.fit.coefficients.size - self.spec.n_besides
            return base + float(np.sum(self.fit.coefficients[1:end])), base
        low, high = self.clips
        return base + gain * low, base + gain * high

    @cached_property
    def besides(self) -> FloatArray:
        """Drift, sag and hum at every sample, in the output's unit, shape (n,)."""
        rows = beside_rows(self.spec, self.window)
        return np.asarray(self.fit.coefficients[self.fit.coefficients.size - len(rows) :] @ rows)

    @property
    def coupling_s(self) -> float:
        """Time constant of a coupling capacitor; infinite without one, negative where none can do that."""
        if not self.spec.coupled:
            return float("inf")
        sag = float(self.fit.coefficients[-1]) if not self.spec.hum_hz else float(self.fit.coefficients[-3])
        return self.window.swing * self.window.span_s / sag if sag else float("inf")

    @property
    def way_end(self) -> float:
        """Level at the end of the window, without drift, sag and hum."""
        return float(np.mean((self.fit.fitted - self.besides)[-3:]))

    @property
    def saturated(self) -> bool:
        """Whether the sensor is cut; an output that turns late because it still held its level is not."""
        return self.spec.clip_high or (self.spec.clip_low and float(self.window.t_s[0]) < 0)

    @property
    def states(self) -> tuple[float, float]:
        """The levels, the one before from the output itself where the fit begins after the edge did."""
        first, last = self.levels
        seen = self.window.level_before
        return (first if seen is None else seen), last

    @property
    def u_last(self) -> float:
        """Standard uncertainty of the level after."""
        n, c = self.fit.theta.size, self.fit.covariance
        if not np.all(np.isfinite(c)):
            return float("inf")
        if self.fit.coefficients.size < 2:
            return float(np.sqrt(c[n, n]))
        share = 0.0 if self.window.stimulus is None else self.clips[1]
        variance = c[n, n] + 2 * share * c[n, n + 1] + share**2 * c[n + 1, n + 1]
        return float(np.sqrt(max(variance, 0.0) * self.correlation))

    @property
    def relative_residual(self) -> float:
        """Rms of the residuals as a share of the edge's swing."""
        return float(np.sqrt(self.fit.rss / self.window.y.size)) / abs(self.window.swing)

    @cached_property
    def misfit(self) -> float:
        """What the residual holds beyond noise: rms of its local means over the change, as a fraction of the swing."""
        return structured_misfit(self)


def structured_misfit(model: ModelFit) -> float:
    """Return the rms of the residual's local means while the output moves, as a fraction of the swing.

    Parameters
    ----------
    model : ModelFit
        The fit whose residual is looked at.
    """
    window = model.window
    first, last = model.levels
    reach = abs(last - first)
    if not reach > 0 or not np.isfinite(reach):
        return 1.0
    way = np.abs(model.fit.fitted - model.fit.fitted[0]) / max(float(np.ptp(model.fit.fitted)), 1e-300)
    inside = np.flatnonzero((way > 0.02) & (way < 0.99))
    if inside.size < 4:
        inside = np.arange(window.t_s.size)
    part = model.fit.residuals[inside[0] : inside[-1] + 1]
    size = max(1, part.size // 24)
    means = part[: part.size // size * size].reshape(-1, size).mean(axis=1)
    excess = float(np.mean(means**2)) - window.noise**2 / size
    return float(np.sqrt(max(excess, 0.0)) / float(np.ptp(model.fit.fitted)))


def integrated_correlation(residuals: FloatArray, n_parameters: int = 1) -> float:
    """Return by how much correlation makes a variance larger than white residuals would; at least 1.

    Parameters
    ----------
    residuals : ndarray, shape (n,)
        What a fit left of neighbouring samples, any unit.
    n_parameters : int
        How many parameters took something away from it.

    Notes
    -----
    One plus twice the autocorrelation up to its last lag before it falls below two standard errors, and beyond that as
    it went on so far, geometrically. Slow columns take away what is slow: each parameter 2 m + 1 of the n samples'
    worth up to lag m, as a mean does (T. W. Anderson, The Statistical Analysis of Time Series, Wiley 1971, chapter 8).

    Examples
    --------
    >>> integrated_correlation(np.random.default_rng(2).standard_normal(4000)) < 1.2
    True
    """
    r = residuals - np.mean(residuals)
    power, n = float(r @ r), r.size
    if power <= 0 or n < 16:
        return 1.0
    rhos = _autocorrelation(r, power, 2.0 / float(np.sqrt(n)))
    if not rhos:
        return 1.0
    taken = n_parameters / n
    whole = (1 + 2 * (sum(rhos) + _beyond(rhos))) * (1 - taken) / max(1 - (2 * len(rhos) + 1) * taken, LEAST_LEFT)
    return max(whole, 1.0)


def _autocorrelation(r: FloatArray, power: float, limit: float) -> list[float]:
    """Autocorrelation from lag 1 to the last before it falls below a limit."""
    found: list[float] = []
    for lag in range(1, r.size // 8):
        rho = float(r[lag:] @ r[:-lag]) / power
        if rho < limit:
            break
        found.append(rho)
    return found


def _beyond(rhos: Sequence[float]) -> float:
    """Sum of an autocorrelation behind its last lag that was seen, if it dies out as it did so far."""
    half = max(len(rhos) // 2, 1)
    late = sum(rhos[half : 2 * half]) or rhos[0] * rhos[0]
    pace = min(late / sum(rhos[:half]), SLOWEST_PACE)
    return late * pace / (1 - pace)


def fit_spec(spec: ModelSpec, window: EdgeWindow, near: ModelFit | None = None) -> ModelFit:
    """Return the best fit of one candidate to one edge.

    Parameters
    ----------
    spec : ModelSpec
        The candidate.
    window : EdgeWindow
        The edge.
    near : ModelFit, optional
        A simpler candidate on the same edge: its end is among the starts. The same candidate on another edge: its end
        is the only start, unless the search ends far worse there than on that edge.

    Raises
    ------
    NotEnoughDataError
        If the edge has too few samples.

    Notes
    -----
    Separable least squares: levels and gain are linear, only the times and clip levels are searched, from a grid laid
    by the edge's own rough duration.

    References
    ----------
    G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432.
    """
    scale = max(window.duration_s, window.drive_duration_s, window.interval_s)
    model, limits = separable_model(spec, window, scale), limits_of(spec, window, scale)
    inner = limits[0] + 1e-9, limits[1] - 1e-9
    longest = LONGEST_KINKED_SEARCH if spec.weak else LONGEST_SEARCH

    def searched(starts: list[FloatArray]) -> ModelFit:
        starts = [np.clip(start, *inner) for start in starts]
        fit = fit_separable(
            model,
            window.y,
            starts,
            bounds=limits,
            max_evaluations=longest,
        )
        return ModelFit(spec=spec, window=window, fit=fit, scale_s=scale)

    if near is not None and near.spec == spec and near.window is not window and spec.n_parameters:
        moved = near.fit.theta.copy()
        if spec.dead:
            moved[spec.n_shape] *= near.scale_s / scale
        found = searched([moved])
        if found.fit.converged and found.relative_residual < FAR_WORSE * near.relative_residual:
            return found
        return min((found, searched(starts_of(spec, window, scale))), key=lambda fit: fit.fit.rss)
    return searched(starts_of(spec, window, scale, None if near is None else (near.spec, near.fit.theta)))
