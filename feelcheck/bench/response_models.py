"""Candidate responses of an edge: their columns, and the slopes of these by every parameter in closed form."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.bench.weak_sink import weak_response
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, PoleResponse
from feelcheck.numerics.separable import SeparableModel

__all__ = ["ModelSpec", "Response", "beside_rows", "separable_model", "shape_response"]

COMPLEX_STEP = 1e-30
"""Imaginary step of a derivative (W. Squire, G. Trapp, SIAM Rev. 40 (1998) 110-112): exact, whatever its size."""
EQUAL_POLES = 1e-3
"""Poles closer than this, relatively, are set apart by it: partial fractions divide by their difference."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelSpec:
    """Which parameters a candidate has.

    Parameters
    ----------
    shape : {"none", "one_pole", "two_pole", "second_order", "average", "pole_and_average", "ramp", ...}
        What stands between the drive and the output; weak-sink shapes replace the drive (see `weak_sink`).
    dead : bool
        Whether a dead time (for a step: the onset) is searched.
    clip_low, clip_high : bool
        Whether the drive is cut at a level that is searched (a sensor that saturates ahead of the network).
    zero : bool
        Whether a part of the output follows the drive at once, or of two poles each carries a share of its own: one
        zero in the transfer function.
    drift : bool
        Whether the output runs along a straight line besides.
    hum_hz : float
        Frequency of mains hum besides; 0 for none.
    coupled : bool
        Whether the output sags back to its mean, as behind a coupling capacitor; in place of the straight line.
    """

    shape: str = "one_pole"
    dead: bool = False
    clip_low: bool = False
    clip_high: bool = False
    zero: bool = False
    drift: bool = False
    hum_hz: float = 0.0
    coupled: bool = False

    @property
    def n_besides(self) -> int:
        """Number of columns beside the response: one of a drift, two of hum, two of a coupling capacitor."""
        return self.drift + 2 * (self.hum_hz > 0) + 2 * self.coupled

    @property
    def n_shape(self) -> int:
        """Number of parameters of the shape."""
        return {"none": 0, "one_pole": 1, "average": 1, "ramp_open": 1, "to_ground": 3}.get(self.shape, 2)

    @property
    def averages(self) -> bool:
        """Whether a moving average is part of it: its width is the last of the shape's parameters."""
        return self.shape.endswith("average")

    @property
    def weak(self) -> bool:
        """Whether it is the discharge through a weak sink, which is not a pole."""
        return self.shape.startswith(("ramp", "slew", "to_ground"))

    @property
    def n_parameters(self) -> int:
        """Number of nonlinear parameters."""
        return self.n_shape + self.dead + self.clip_low + self.clip_high

    def clips(self, theta: FloatArray) -> tuple[float, float]:
        """Return the part of the drive's way that the output follows, 0 to 1 where nothing is cut.

        Parameters
        ----------
        theta : ndarray, shape (n_parameters,)
            Nonlinear parameters: shape, dead time, clip levels.
        """
        low = float(theta[self.n_shape + self.dead]) if self.clip_low else 0.0
        return low, float(theta[-1]) if self.clip_high else 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Response:
    """A driven shape's response at every instant, and what it would change by.

    Parameters
    ----------
    once : ndarray, shape (k, n)
        To the drive, and to further inputs.
    by_shape : tuple of ndarray, shape (n,)
        Slopes of the first by the shape's parameters.
    by_time : ndarray, shape (n,), per s
        Slope of the first by time.
    """

    once: FloatArray
    by_shape: tuple[FloatArray, ...]
    by_time: FloatArray


def shape_response(
    ready: DrivenInstants,
    shape: str,
    parameters: FloatArray,
    delay_s: float = 0.0,
    inputs: FloatArray | None = None,
    slopes: bool = True,
) -> Response:
    """Return the response of a shape with unit gain.

    Parameters
    ----------
    ready : DrivenInstants
        The drive, and where the response is wanted.
    shape : {"none", "one_pole", "two_pole", "second_order", "average", "pole_and_average"}
        What it passes through.
    parameters : ndarray, shape (p,)
        Logarithms: of the time constant(s) in s; of 1/w0 in s and of the damping ratio, below 1, for the second order;
        of the time that is averaged over; of pole and average in this order.
    delay_s : float, s
        Dead time.
    inputs : ndarray, shape (k, m), optional
        What passes through instead of the drive, at its knots.
    slopes : bool
        Whether the slopes are wanted; they mean nothing if not.

    Notes
    -----
    By the logarithm of a time constant one pole changes by H[H[u]] - H[u]. Two poles, real or a conjugate pair, are
    a H1 + (1 - a) H2 with a = tau1 / (tau1 - tau2), and change by a (H1[H1[u]] - y) and its mirror image. The pair's
    time constant is exp(i acos(damping)) / w0. Since tau y' = u - y, the average of y over a width is that of u less
    tau / width times what y gained over it, and so for H[y] and y.
    """
    if shape == "none":
        values, slope = ready.itself(delay_s, inputs)
        return Response(once=values, by_shape=(), by_time=slope)
    if shape == "average":
        width = float(np.exp(parameters[0]))
        whole, ends = ready.average(width, delay_s, inputs), ready.itself(delay_s + width, inputs)[0][0]
        now = ready.itself(delay_s, inputs)[0][0]
        return Response(once=whole, by_shape=(ends - whole[0],), by_time=(now - ends) / width)
    if shape == "one_pole":
        tau = float(np.exp(parameters[0]))
        one = ready.pole(tau, delay_s, inputs, slopes)
        first = one.once[0]
        return Response(once=one.once, by_shape=(one.twice - first,), by_time=(one.drive - first) / tau)
    first, second = np.exp(parameters[:2]).tolist()
    if shape == "pole_and_average":
        now, before = (ready.pole(first, delay_s + late, inputs, slopes) for late in (0.0, second))
        gained, share = now.once - before.once, first / second
        whole = ready.average(second, delay_s, inputs) - share * gained
        by_shape = share * (before.twice - now.twice), before.once[0] - whole[0]
        return Response(once=whole, by_shape=by_shape, by_time=gained[0] / second)
    combined = _two_poles if shape == "two_pole" else _ring
    return combined(lambda tau: ready.pole(tau, delay_s, inputs, slopes), first, second)


def _two_poles(pole: Callable[[complex], PoleResponse], tau: float, other: float) -> Response:
    if abs(tau - other) < EQUAL_POLES * tau:
        tau, other = tau * (1 + EQUAL_POLES / 2), tau * (1 - EQUAL_POLES / 2)
    a = tau / (tau - other)
    one, two = pole(tau), pole(other)
    once = np.real(a * one.once + (1 - a) * two.once)
    return Response(
        once=once,
        by_shape=(a * (one.twice - once[0]), (1 - a) * (two.twice - once[0])),
        by_time=a * (one.drive - one.once[0]) / tau + (1 - a) * (two.drive - two.once[0]) / other,
    )


def _ring(pole: Callable[[complex], PoleResponse], period: float, damping: float) -> Response:
    root = float(np.sqrt(1 - damping**2))
    tau = period * complex(damping, root)
    a = tau / (tau - np.conj(tau))
    one = pole(tau)
    once = 2 * np.real(a * one.once)
    change = a * (one.twice - once[0])
    return Response(
        once=once,
        by_shape=(2 * np.real(change), 2 * damping / root * np.imag(change)),
        by_time=2 * np.real(a / tau * (one.drive - one.once[0])),
    )


def beside_rows(spec: ModelSpec, window: EdgeWindow) -> FloatArray:
    """Return drift, hum and sag of unit size, shape (n_besides, n).

    Parameters
    ----------
    spec : ModelSpec
        Which of them are fitted.
    window : EdgeWindow
        The edge: its instants, and for the sag its output.

    Notes
    -----
    Behind a coupling capacitor of the time constant T an output x reads y = x - (1/T) integral of y, counted from the
    level where y rests, which is not known: with the integral of the samples and a straight line that is linear, and
    the noise of the samples is averaged away in their integral.
    """
    t_s = window.t_s
    rows = [(t_s - t_s[0]) / (t_s[-1] - t_s[0])] if spec.drift or spec.coupled else []
    if spec.coupled:
        steps = 0.5 * (window.y[1:] + window.y[:-1]) - window.y[0]
        whole = np.concatenate([[0.0], np.cumsum(steps * np.diff(t_s))])
        rows.append(-whole / (window.swing * (t_s[-1] - t_s[0])))
    if spec.hum_hz:
        phase = 2 * np.pi * spec.hum_hz * t_s
        rows += [np.sin(phase), np.cos(phase)]
    return np.array(rows).reshape(spec.n_besides, t_s.size)


def separable_model(spec: ModelSpec, window: EdgeWindow, scale_s: float) -> SeparableModel:
    """Return a candidate's columns and slopes over the samples of an edge.

    Parameters
    ----------
    spec : ModelSpec
        The candidate.
    window : EdgeWindow
        The edge.
    scale_s : float
        Unit of the dead time parameter.
    """
    if window.stimulus is None:
        return _decays(spec, window)
    return (_weak if spec.weak else _driven)(spec, window, scale_s)


def _driven(spec: ModelSpec, window: EdgeWindow, scale_s: float) -> SeparableModel:
    n, p, ready, since = spec.n_shape, spec.n_parameters, window.instants, window.t_s - window.t_s[0]
    assert window.stimulus is not None
    u, besides = window.stimulus.u, beside_rows(spec, window)
    started = not window.settled_start and spec.shape in ("one_pole", "two_pole")
    begun, m = 2 + spec.zero, 2 + spec.zero + started + spec.n_besides
    both = (1, 2) if spec.zero else (1,)

    def fill(theta: FloatArray, rows: FloatArray) -> None:
        inputs = _cut(spec, u, theta[n + spec.dead :]) if spec.clip_low or spec.clip_high else None
        delay, wanted = theta[n] * scale_s if spec.dead else 0.0, len(rows) > m
        ways = _ways(spec, ready, theta, delay, inputs, wanted)
        rows[0], rows[1 : 1 + len(ways)] = 1.0, [way.once[0] for way in ways]
        rows[begun + started : m] = besides
        slowest = int(np.argmax(theta[:n])) if started else 0
        if started:
            rows[begun] = np.exp(-since / np.exp(theta[slowest]))
        if not wanted:
            return
        slopes = rows[m : m + p * len(ways)].reshape(p, len(ways), -1)
        for k, way in enumerate(ways):
            for row, slope in zip(slopes, way.by_shape, strict=False):
                row[k] = slope
            if spec.dead:
                slopes[n, k] = -scale_s * way.by_time
            slopes[n + spec.dead :, k] = way.once[1:]
        if started:
            rows[m + p * len(ways) :] = 0.0
            rows[m + p * len(ways) + slowest] = rows[begun] * since / np.exp(theta[slowest])

    slopes = [(k, column) for k in range(p) for column in both] + [(k, begun) for k in range(n * started)]
    return SeparableModel(n_columns=m, slopes=tuple(slopes), fill=fill)


def _ways(
    spec: ModelSpec,
    ready: DrivenInstants,
    theta: FloatArray,
    delay_s: float,
    inputs: FloatArray | None,
    slopes: bool,
) -> tuple[Response, ...]:
    """The whole response; or that of the first pole, and what changes where a part goes beside it instead."""
    n = spec.n_shape
    if not spec.zero:
        return (shape_response(ready, spec.shape, theta[:n], delay_s, inputs, slopes),)
    one = shape_response(ready, "one_pole", theta[:1], delay_s, inputs, slopes)
    other = shape_response(ready, "one_pole" if n == 2 else "none", theta[1:n], delay_s, inputs, slopes)
    nothing = np.zeros(one.by_time.size)
    beside = Response(
        once=other.once - one.once,
        by_shape=(-one.by_shape[0], *other.by_shape),
        by_time=other.by_time - one.by_time,
    )
    return replace(one, by_shape=(one.by_shape[0], *(nothing for _ in other.by_shape))), beside


def _cut(spec: ModelSpec, u: FloatArray, levels: FloatArray) -> FloatArray:
    """The drive cut at its levels, and which knots each level holds: the cut's slope by that level."""
    low = levels[0] if spec.clip_low else -np.inf
    high = levels[-1] if spec.clip_high else np.inf
    held = [u < low] * spec.clip_low + [u > high] * spec.clip_high
    return np.array([np.minimum(np.maximum(u, low), high), *held], dtype=np.float64)


def _decays(spec: ModelSpec, window: EdgeWindow) -> SeparableModel:
    """An edge whose begin was not seen: free decays towards the last level."""
    n, since, besides = spec.n_shape, window.t_s - window.t_s[0], beside_rows(spec, window)
    m = 1 + n + spec.n_besides

    def poles(theta: FloatArray, rows: FloatArray) -> None:
        times = since / np.exp(theta)[:, None]
        rows[0], rows[1 : 1 + n] = 1.0, np.exp(-times)
        rows[1 + n : m] = besides
        if len(rows) > m:
            rows[m:] = times * rows[1 : 1 + n]

    def ring(theta: FloatArray, rows: FloatArray) -> None:
        period, damping = np.exp(theta).tolist()
        root = np.sqrt(1 - damping**2)
        times = since * (complex(damping, -root) / period)
        wave = np.exp(-times)
        rows[0], rows[1], rows[2] = 1.0, wave.real, wave.imag
        rows[3:m] = besides
        if len(rows) > m:
            by_damping = -wave * since * (damping * complex(1.0, damping / root) / period)
            slopes = (wave * times, by_damping)
            rows[m : m + 2], rows[m + 2 :] = [s.real for s in slopes], [s.imag for s in slopes]

    if spec.shape == "second_order":
        return SeparableModel(n_columns=m, slopes=((0, 1), (1, 1), (0, 2), (1, 2)), fill=ring)
    return SeparableModel(n_columns=m, slopes=tuple((k, 1 + k) for k in range(n)), fill=poles)


def _weak(spec: ModelSpec, window: EdgeWindow, scale_s: float) -> SeparableModel:
    t, n, p = window.t_s, spec.n_shape, spec.n_parameters
    end, m = float(t[-1]), 1 if spec.shape.startswith("to_ground") else 2

    def fill(theta: FloatArray, rows: FloatArray) -> None:
        if m == 2:
            rows[0] = 1.0
        if len(rows) == m:
            rows[m - 1] = weak_response(spec.shape, theta[:n], t - theta[n] * scale_s if spec.dead else t, end)
            return
        for k in range(p):
            moved = theta.astype(np.complex128)
            moved[k] += 1j * COMPLEX_STEP
            found = weak_response(spec.shape, moved[:n], t - moved[n] * scale_s if spec.dead else t, end)
            rows[m - 1], rows[m + k] = found.real, found.imag / COMPLEX_STEP

    return SeparableModel(n_columns=m, slopes=tuple((k, m - 1) for k in range(p)), fill=fill)
