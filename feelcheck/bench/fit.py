"""Fit one candidate model to one edge."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from feelcheck.bench.response_models import ModelSpec, Stimulus, shape_response
from feelcheck.bench.weak_sink import weak_columns, weak_levels, weak_mean_delay
from feelcheck.bench.windows import EdgeWindow
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray
from feelcheck.numerics.separable import SeparableFit, fit_separable

__all__ = ["ModelFit", "fit_spec", "integrated_correlation", "model_basis"]

LEAST_SHARE = 0.2


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
        the drive's way from 0 to 1 (start, then end); coefficients: level before, gain, the free start if any, and
        last the drift over the window and the hum if any.
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
        return integrated_correlation(self.fit.residuals)

    @property
    def n_parameters(self) -> int:
        """All fitted parameters."""
        return int(self.fit.theta.size + self.fit.coefficients.size)

    @cached_property
    def poles_s(self) -> tuple[float, ...]:
        """Time constants, slowest first; of a ringing pair the real part's; of a weak sink the pole behind it."""
        if self.spec.weak:
            return (float(np.exp(self.fit.theta[self.spec.n_shape - 1])),)
        times = np.exp(self.fit.theta[: self.spec.n_shape])
        if self.spec.shape == "second_order":
            return (float(times[0] / times[1]),) if times[1] < 1 else (float(times[0] * 2 * times[1]),)
        return tuple(sorted((float(tau) for tau in times), reverse=True))

    @cached_property
    def shares(self) -> FloatArray:
        """Share of the edge that each exponential of a decay carries, shape (n_shape,); equal for anything else."""
        n = self.spec.n_shape
        parts = np.abs(self.fit.coefficients[1 : n + 1])
        if self.window.stimulus is not None or self.spec.shape != "two_pole" or not np.sum(parts) > 0:
            return np.full(n, 1.0 / max(n, 1))
        return np.asarray(parts / np.sum(parts))

    @property
    def main(self) -> int:
        """Place of the main pole among the shape's parameters: the slowest, unless it carries but a small tail."""
        slowest = int(np.argmax(self.fit.theta[: self.spec.n_shape]))
        return int(np.argmax(self.shares)) if self.shares[slowest] < LEAST_SHARE else slowest

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
        """Mean delay of the shape alone."""
        if self.spec.weak:
            return weak_mean_delay(self.spec.shape, self.fit.theta[: self.spec.n_shape])
        times = np.exp(self.fit.theta[: self.spec.n_shape])
        if self.has_tail:
            return float(self.shares @ times)
        return float(2 * times[0] * times[1]) if self.spec.shape == "second_order" else float(np.sum(times))

    @cached_property
    def u_smoothing_s(self) -> float:
        """Standard uncertainty of `smoothing_s`."""
        n = self.spec.n_shape
        times = np.exp(self.fit.theta[:n])
        if self.spec.weak:
            return self.smoothing_s * float(self.u_log[0])
        slope = np.full(n, self.smoothing_s) if self.spec.shape == "second_order" else times
        slope = slope * self.shares if self.has_tail else slope
        return float(np.sqrt(max(float(slope @ self.fit.covariance[:n, :n] @ slope), 0.0) * self.correlation))

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
        theta = self.fit.theta[self.spec.n_shape + self.spec.dead :]
        low = float(theta[0]) if self.spec.clip_low else 0.0
        return low, float(theta[-1]) if self.spec.clip_high else 1.0

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
        """Drift and hum at every sample, in the output's unit, shape (n,)."""
        columns = _beside_columns(self.spec, self.window.t_s)
        if not columns:
            return np.zeros(self.window.t_s.size)
        return np.asarray(np.column_stack(columns) @ self.fit.coefficients[-len(columns) :])

    @property
    def way_end(self) -> float:
        """Level at the end of the window, without drift and hum."""
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

    @cached_property
    def misfit(self) -> float:
        """What the residual holds beyond noise: rms of its local means over the change, as a fraction of the swing."""
        return structured_misfit(self)

    @property
    def bic(self) -> float:
        """Bayesian information criterion with the samples counted as white."""
        n = self.fit.residuals.size
        floor = (1e-6 * abs(self.window.swing)) ** 2 * n
        return float(n * np.log(max(self.fit.rss, floor) / n) + self.n_parameters * np.log(n))


def structured_misfit(model: ModelFit) -> float:
    """Return the rms of the residual's local means while the output moves, as a fraction of the swing."""
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


def integrated_correlation(residuals: FloatArray) -> float:
    """Return 1 + 2 sum of the autocorrelation up to its first lag below two standard errors; at least 1.

    Examples
    --------
    >>> integrated_correlation(np.random.default_rng(2).standard_normal(4000)) < 1.2
    True
    """
    r = residuals - np.mean(residuals)
    power, n = float(r @ r), r.size
    if power <= 0 or n < 16:
        return 1.0
    total, limit = 1.0, 2.0 / np.sqrt(n)
    for lag in range(1, n // 8):
        rho = float(r[lag:] @ r[:-lag]) / power
        if rho < limit:
            break
        total += 2 * rho
    return total


def _beside_columns(spec: ModelSpec, t: FloatArray) -> list[FloatArray]:
    columns = [(t - t[0]) / (t[-1] - t[0])] if spec.drift else []
    if spec.hum_hz:
        phase = 2 * np.pi * spec.hum_hz * t
        columns += [np.sin(phase), np.cos(phase)]
    return columns


def model_basis(spec: ModelSpec, window: EdgeWindow, scale_s: float):  # type: ignore[no-untyped-def]
    """Return the function from nonlinear parameters to the model's columns."""
    t, stimulus = window.t_s, window.stimulus
    since = t - t[0]
    besides = _beside_columns(spec, t)

    def decay(theta: FloatArray) -> FloatArray:
        if spec.shape == "second_order":
            damping = min(float(np.exp(theta[1])), 0.9999)
            rate, wave = damping / np.exp(theta[0]), np.sqrt(1 - damping**2) / np.exp(theta[0])
            envelope = np.exp(-rate * since)
            return np.column_stack([np.ones(t.size), envelope * np.cos(wave * since), envelope * np.sin(wave * since)])
        return np.column_stack([np.ones(t.size), *(np.exp(-since / np.exp(p)) for p in theta), *besides])

    def driven(theta: FloatArray) -> FloatArray:
        assert stimulus is not None
        n = spec.n_shape
        at = t - theta[n] * scale_s if spec.dead else t
        if spec.weak:
            return weak_columns(spec.shape, theta[:n], at)
        cut = stimulus
        if spec.clip_low or spec.clip_high:
            levels = theta[n + spec.dead :]
            cut = Stimulus(
                t_s=stimulus.t_s,
                u=np.clip(
                    stimulus.u,
                    levels[0] if spec.clip_low else -np.inf,
                    levels[-1] if spec.clip_high else np.inf,
                ),
            )
        columns = [np.ones(t.size), shape_response(cut, spec.shape, theta[:n], at)]
        if not window.settled_start and spec.shape == "one_pole":
            columns.append(np.exp(-since / np.exp(theta[0])))
        if not window.settled_start and spec.shape == "two_pole":
            columns.append(np.exp(-since / np.exp(np.max(theta[:2]))))
        return np.column_stack([*columns, *besides])

    return decay if stimulus is None else driven


def fit_spec(spec: ModelSpec, window: EdgeWindow, near: ModelFit | None = None) -> ModelFit:
    """Return the best fit of one candidate to one edge.

    Parameters
    ----------
    spec : ModelSpec
        The candidate.
    window : EdgeWindow
        The edge.
    near : ModelFit, optional
        A simpler candidate on the same edge, or the same one on another edge: its end is among the starts.

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
    basis = model_basis(spec, window, scale)
    if spec.n_parameters == 0:
        fit = _linear(basis, window)
    else:
        starts = list(_starts(spec, window, scale, near))
        limits = _bounds(spec, window, scale)
        starts = [np.clip(start, limits[0] + 1e-9, limits[1] - 1e-9) for start in starts]
        longest = 120 if spec.weak else 40
        fit = fit_separable(basis, window.y, starts, bounds=limits, n_refine=2, tolerance=1e-7, max_evaluations=longest)
    return ModelFit(spec=spec, window=window, fit=fit, scale_s=scale)


def _linear(basis, window: EdgeWindow) -> SeparableFit:  # type: ignore[no-untyped-def]
    columns = basis(np.empty(0))
    if window.y.size <= columns.shape[1]:
        raise NotEnoughDataError("A fit needs more data than it has parameters.", {"data": window.y.size})
    coefficients = np.linalg.lstsq(columns, window.y, rcond=None)[0]
    fitted = columns @ coefficients
    residuals = window.y - fitted
    rss, dof = float(residuals @ residuals), window.y.size - columns.shape[1]
    return SeparableFit(
        theta=np.empty(0),
        coefficients=coefficients,
        covariance=np.linalg.pinv(columns.T @ columns) * rss / dof,
        fitted=fitted,
        residuals=residuals,
        rss=rss,
        dof=dof,
        converged=True,
        at_bound=(),
        full_rank=True,
        n_evaluations=1,
    )


def _bounds(spec: ModelSpec, window: EdgeWindow, scale: float) -> tuple[FloatArray, FloatArray]:
    fastest = np.log(0.02 * window.interval_s)
    slowest = np.log(60.0 * window.span_s)
    low, high = [fastest] * spec.n_shape, [slowest] * spec.n_shape
    if spec.shape == "second_order":
        low[1], high[1] = np.log(0.005), np.log(0.98)
    if spec.weak:
        high[-1] = np.log(0.3 * window.span_s)
    if spec.dead:
        early = -1.5 * window.interval_s if window.driven else max(float(window.t_s[0]), -3.0 * scale)
        low.append(early / scale)
        high.append(0.9 * float(window.t_s[-1]) / scale)
    if spec.clip_low:
        low.append(0.005)
        high.append(0.95)
    if spec.clip_high:
        low.append(0.05)
        high.append(0.995)
    return np.array(low), np.array(high)


def _starts(spec: ModelSpec, window: EdgeWindow, scale: float, near: ModelFit | None) -> Iterable[FloatArray]:
    shapes = list(_shape_starts(spec, window, near))
    deads = list(_dead_starts(window, scale)) if spec.dead else [None]
    clips: list[tuple[float | None, float | None]] = list(
        itertools.product(
            (0.02, 0.1, 0.3, 0.6) if spec.clip_low else (None,),
            (0.15, 0.4, 0.7, 0.9, 0.98) if spec.clip_high else (None,),
        )
    )
    if near is not None and near.spec == spec:
        yield near.fit.theta
    same_clips = near is not None and (near.spec.clip_low, near.spec.clip_high) == (spec.clip_low, spec.clip_high)
    if near is not None and same_clips and (spec.clip_low or spec.clip_high):
        low, high = near.clips
        clips = [(low if spec.clip_low else None, high if spec.clip_high else None)]
    for shape, dead, clip in itertools.product(shapes, deads, clips):
        pull = 0.7 * float(np.exp(shape[0])) / scale if not (window.driven or spec.weak) else 0.0
        tail = [] if dead is None else [dead - pull]
        yield np.array([*shape, *tail, *(level for level in clip if level is not None)])


def _shape_starts(spec: ModelSpec, window: EdgeWindow, near: ModelFit | None) -> Iterable[list[float]]:
    if spec.shape == "none":
        return [[]]
    rough = np.log(max(window.duration_s, 2 * window.interval_s) / 2.2)
    if spec.weak:
        behind = (np.log(2 * window.interval_s), rough - 2.0)
        first = {"ramp": (rough + 0.6, rough + 1.0), "slew": (rough, rough + 0.6), "ramp_open": ()}.get(
            spec.shape, (rough - 0.3, rough + 0.5, rough + 1.5)
        )
        stop = (rough + 0.3, rough + 1.0) if spec.shape == "to_ground" else (None,)
        combos = itertools.product(first or (None,), stop, behind)
        return [[float(p) for p in combo if p is not None] for combo in combos]
    if spec.shape == "one_pole":
        if near is not None and near.spec.n_shape == 1:
            return [[float(near.fit.theta[0])], [rough]]
        return [
            [p] for p in (rough - 3.5, rough - 2.3, rough - 1.4, rough - 0.7, rough - 0.2, rough + 0.4, rough + 1.5)
        ]
    if near is not None and near.spec.n_shape == 1:
        rough = float(near.fit.theta[0])
    if spec.shape == "two_pole":
        return [
            [rough + a, rough + b] for a, b in ((-0.05, -1.5), (-0.02, -3.0), (-0.4, -0.7), (0.3, -0.3), (0.0, -4.0))
        ]
    periods = rough + np.array([-2.5, -2.0, -1.6, -1.2, -0.9, -0.6, -0.3, 0.0])
    return [[float(p), z] for p in periods for z in (-2.3, -1.2, -0.5)]


def _dead_starts(window: EdgeWindow, scale: float) -> Iterable[float]:
    """Starts of the dead time over scale; without a drive of the half-way instant."""
    first, last = float(np.mean(window.y[:3])), float(np.mean(window.y[-3:]))
    way = (window.y - first) / ((last - first) or 1.0)
    half = float(window.t_s[int(np.argmax(way >= 0.5))])
    if not window.driven:
        return [half / scale, 0.0]
    assert window.stimulus is not None
    drive_half = float(window.stimulus.t_s[int(np.argmax(window.stimulus.u >= 0.5))])
    late = max(half - drive_half, 0.0) / scale
    return [0.02, 0.3 * late, 0.7 * late, late]
