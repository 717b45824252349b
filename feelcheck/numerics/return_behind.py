"""A spring-returned mass let go from rest, seen through a known response: how long is that response?"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.numerics.numbers import (
    ALIKE_WAYS,
    FASTEST_RING_HZ,
    LEAST_DAMPING,
    MOST_DAMPING_FITTED,
    MOST_SWINGS,
    SLOWEST_RING_HZ,
)
from feelcheck.numerics.one_pole import residues
from feelcheck.numerics.separable import SeparableFit, SeparableModel, fit_separable
from feelcheck.numerics.spring_return import half_way_s

__all__ = ["Behind", "fit_behind", "path_behind"]

SPLIT = 1e-3
"""Equal poles are taken apart by so much, up and down, for partial fractions."""

HALVINGS = 16
"""Of half a period, to find a turn. The path is flat there, so a turn that is off by a part in a thousand of a radian
moves it by less than a part in a million."""

# where a search begins
RINGS_HZ, DAMPINGS = (10.0, 16.0, 25.0, 40.0, 64.0, 100.0), (0.1, 0.3, 0.6)
LIMITS = (
    np.array([math.log(2 * math.pi * SLOWEST_RING_HZ), math.log(LEAST_DAMPING), -3.0, -1.0]),
    np.array([math.log(2 * math.pi * FASTEST_RING_HZ), math.log(MOST_DAMPING_FITTED), 2.0, 1.0]),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """A response whose form is known.

    Parameters
    ----------
    poles_s : tuple of float, s
        One or two time constants on the way that the release takes.
    back_s : float, s
        The time constant on the way back, where there is one pole; 0: the same.
    lags_s : tuple of float, s
        Ages of the readings that the firmware averages.
    """

    poles_s: tuple[float, ...]
    back_s: float = 0.0
    lags_s: tuple[float, ...] = (0.0,)

    def stretched(self, scale: float) -> Behind:
        """Return the same form with all times multiplied.

        Parameters
        ----------
        scale : float
            The factor.
        """
        return Behind(
            poles_s=tuple(scale * tau for tau in self.poles_s),
            back_s=scale * self.back_s,
            lags_s=tuple(scale * lag for lag in self.lags_s),
        )

    @property
    def delay_s(self) -> float:
        """Mean delay of poles and average."""
        return sum(self.poles_s) + float(np.mean(self.lags_s))


def path_behind(since_s: FloatArray, omega_rad_s: float, zeta: float, behind: Behind) -> FloatArray:
    """Return the way back from displacement 1, at rest, let go at 0, seen through a response.

    Parameters
    ----------
    since_s : ndarray, shape (n,), s
        Times since letting go; before that the path is 1.
    omega_rad_s, zeta : float
        Undamped angular frequency and damping ratio below 1.
    behind : Behind
        The response.

    Examples
    --------
    >>> from feelcheck.numerics.spring_return import return_path
    >>> t_s = np.linspace(0.0, 0.1, 1001)
    >>> one = path_behind(t_s, 100.0, 0.3, Behind(poles_s=(0.004,)))
    >>> bool(np.allclose(one, return_path(t_s, 100.0, 0.3, 0.004)))
    True
    >>> slower = path_behind(t_s, 100.0, 0.3, Behind(poles_s=(0.004,), back_s=0.008))
    >>> bool(slower.min() == one.min()), bool(slower[600] < one[600])
    (True, True)
    """
    return np.asarray(_path_and_slopes(since_s, omega_rad_s, zeta, behind, n_slopes=0)[0])


@dataclass(frozen=True, slots=True)
class _Ring:
    """The stick's own path, the real part of ``phasor exp(eigenvalue s)``; slopes are by the damping's logarithm."""

    eigenvalue: complex
    phasor: complex
    eigenvalue_slope: complex
    phasor_slope: complex

    @classmethod
    def of(cls, omega_rad_s: float, zeta: float) -> _Ring:
        root = math.sqrt(1.0 - zeta**2)
        return cls(
            eigenvalue=omega_rad_s * complex(-zeta, root),
            phasor=complex(1.0, -zeta / root),
            eigenvalue_slope=-zeta * omega_rad_s * complex(1.0, zeta / root),
            phasor_slope=complex(0.0, -zeta / root**3),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """The path from one turn to the next: a steady part, `phasor`, and a rest that decays with the pole.

    Of both, slopes by the logarithms of the damping and of the pole stand behind.
    """

    start_s: float
    tau_s: float
    phasors: tuple[complex, complex, complex]
    rests: tuple[float, float, float]

    @classmethod
    def begun(cls, ring: _Ring, tau_s: float, start_s: float, levels: tuple[float, float, float]) -> _Part:
        """Return the part that begins at a level, with the level's slopes."""
        behind = 1.0 + tau_s * ring.eigenvalue
        phasor = ring.phasor / behind
        by_damping = (ring.phasor_slope - phasor * tau_s * ring.eigenvalue_slope) / behind
        by_pole = -phasor * tau_s * ring.eigenvalue / behind
        turned = cmath.exp(ring.eigenvalue * start_s)
        moved = by_damping + phasor * ring.eigenvalue_slope * start_s
        steady = [(one * turned).real for one in (phasor, moved, by_pole)]
        return cls(
            start_s=start_s,
            tau_s=tau_s,
            phasors=(phasor, by_damping, by_pole),
            rests=(levels[0] - steady[0], levels[1] - steady[1], levels[2] - steady[2]),
        )

    def is_met(self, ring: _Ring, s: float, n_met: int) -> bool:
        """Tell whether the stick, which has met the path so many times, is on the path's other side by now."""
        stick = ((ring.phasor - self.phasors[0]) * cmath.exp(ring.eigenvalue * s)).real
        led = stick - self.rests[0] * math.exp((self.start_s - s) / self.tau_s)
        return led < 0.0 if n_met % 2 else led > 0.0

    def levels(self, ring: _Ring, s: float) -> tuple[float, float, float]:
        """Return path and slopes at one instant."""
        turned, past = cmath.exp(ring.eigenvalue * s), (s - self.start_s) / self.tau_s
        left = math.exp(-past)
        phasor, by_damping, by_pole = self.phasors
        return (
            (phasor * turned).real + self.rests[0] * left,
            ((by_damping + phasor * ring.eigenvalue_slope * s) * turned).real + self.rests[1] * left,
            (by_pole * turned).real + (self.rests[2] + self.rests[0] * past) * left,
        )


def _parts(ring: _Ring, taus_s: tuple[float, float], last_s: float) -> Iterator[_Part]:
    """Yield the parts of a path whose pole changes wherever it meets the stick's own path and turns.

    Notes
    -----
    The stick goes one way for half a period. A pole that is led meets it only after it has turned back, so once in half
    a period at most, and has met it where they have changed sides by its end. Both of the pole's times hold there, the
    path being flat, so the instant's own slope drops out.
    """
    part = _Part.begun(ring, taus_s[0], 0.0, (1.0, 0.0, 0.0))
    yield part
    if taus_s[0] == taus_s[1]:
        return
    half_s, n_met, from_s = math.pi / ring.eigenvalue.imag, 0, math.pi / ring.eigenvalue.imag
    while from_s < last_s and n_met < MOST_SWINGS:
        if part.is_met(ring, from_s + half_s, n_met):
            met_s = _met_s(part, ring, from_s, half_s, n_met)
            n_met += 1
            part = _Part.begun(ring, taus_s[n_met % 2], met_s, part.levels(ring, met_s))
            yield part
        from_s += half_s


def _met_s(part: _Part, ring: _Ring, from_s: float, half_s: float, n_met: int) -> float:
    """Return when the stick meets the path within half a period."""
    width_s = half_s
    for _ in range(HALVINGS):
        width_s *= 0.5
        if not part.is_met(ring, from_s + width_s, n_met):
            from_s += width_s
    return from_s


def _path_and_slopes(
    since_s: FloatArray, omega_rad_s: float, zeta: float, behind: Behind, *, n_slopes: int = 4
) -> FloatArray:
    """Return the path, and its slopes by the logarithms of frequency, damping and all times, and by letting go later.

    The shape is (1 + n_slopes, n), with all slopes or none.
    """
    ring = _Ring.of(omega_rad_s, zeta)
    s = since_s - np.array(behind.lags_s)[:, None]
    rows = np.zeros((1 + n_slopes, *s.shape))
    for weight, taus_s in _weighed_poles(behind):
        rows += weight * _behind_one(s, ring, taus_s, n_slopes)
    rows[0, s <= 0.0] = 1.0
    if n_slopes:
        rows[3] += np.array(behind.lags_s)[:, None] * rows[4]
    found = rows.mean(axis=1)
    if n_slopes:
        # Frequency times all times leaves the path as it is: its slope follows from those of the factor and of time.
        found[1] = found[3] - since_s * found[4]
    return np.asarray(found)


def _weighed_poles(behind: Behind) -> list[tuple[float, tuple[float, float]]]:
    """Return single poles, each with its weight and its time constants on both ways, whose sum is the response."""
    if len(behind.poles_s) == 2:
        taus_s = np.array(behind.poles_s)
        if abs(taus_s[1] / taus_s[0] - 1) < 2 * SPLIT:
            taus_s = taus_s.mean() * np.array([1 + SPLIT, 1 - SPLIT])
        return [(w, (tau, tau)) for w, tau in zip(residues(taus_s).tolist(), taus_s.tolist(), strict=True)]
    tau_s = behind.poles_s[0]
    alike = behind.back_s <= 0.0 or abs(behind.back_s / tau_s - 1) < ALIKE_WAYS
    return [(1.0, (tau_s, tau_s if alike else behind.back_s))]


def _behind_one(s: FloatArray, ring: _Ring, taus_s: tuple[float, float], n_slopes: int) -> FloatArray:
    """Return path and slopes behind one pole, shape (1 + n_slopes, ...); 0 until letting go."""
    parts = list(_parts(ring, taus_s, float(s.max())))
    which = np.searchsorted([part.start_s for part in parts[1:]], s) if len(parts) > 1 else 0
    start_s, tau_s = (np.array([getattr(part, name) for part in parts])[which] for name in ("start_s", "tau_s"))
    phasor, by_damping, by_pole = np.array([part.phasors for part in parts]).T[:, which]
    rest, rest_by_damping, rest_by_pole = np.array([part.rests for part in parts]).T[:, which]
    s = np.maximum(s, 0.0)
    turned, past = np.exp(ring.eigenvalue * s), (s - start_s) / tau_s
    left, steady = np.exp(-past), phasor * turned
    rows = np.zeros((1 + n_slopes, *s.shape))
    rows[0] = steady.real + rest * left
    if n_slopes:
        rows[2] = (by_damping * turned + ring.eigenvalue_slope * s * steady).real + rest_by_damping * left
        rows[3] = (by_pole * turned).real + (rest_by_pole + rest * past) * left
        rows[4] = (rows[0] - (ring.phasor * turned).real) / tau_s
    rows[:, s <= 0.0] = 0.0
    return rows


def fit_behind(since_s: FloatArray, y: FloatArray, behind: Behind, *, start: FloatArray | None = None) -> SeparableFit:
    """Fit a spring return, and by how much the response in front of the eye is longer than was thought.

    Parameters
    ----------
    since_s : ndarray, shape (n,), s
        Times; 0 is near the half-way instant.
    y : ndarray, shape (n,)
        Readings as fractions of the way, from 1 to 0.
    behind : Behind
        The response; its times are multiplied by one factor.
    start : ndarray, shape (3,) or (4,), optional
        Logarithms of angular frequency, damping ratio and factor to start from, and the instant of letting go where
        that is as good a guess as any; else a coarse grid with a factor of 1.

    Returns
    -------
    SeparableFit
        theta: logarithms of angular frequency, damping ratio and factor, and the instant of letting go in s;
        coefficients: offset and size of the way.

    Raises
    ------
    NotEnoughDataError
        If there are no more readings than parameters.
    """

    def fill(theta: FloatArray, rows: FloatArray) -> None:
        omega, zeta, scale = np.exp(theta[:3]).tolist()
        n_slopes = len(rows) - 2
        rows[0] = 1.0
        rows[1:] = _path_and_slopes(since_s - theta[3], omega, zeta, behind.stretched(scale), n_slopes=n_slopes)

    model = SeparableModel(n_columns=2, slopes=tuple((k, 1) for k in range(4)), fill=fill)
    starts = _starts(behind, start)
    return fit_separable(model, y, starts, bounds=LIMITS, n_refine=1, tolerance=1e-5, max_evaluations=15)


def _starts(behind: Behind, start: FloatArray | None) -> list[tuple[float, ...]]:
    """Return a grid of places to start from, or one; letting go is guessed where it is not told."""
    if start is not None and start.size > 3:
        return [tuple(start.tolist())]
    if start is None:
        grid = [(math.log(2 * math.pi * hz), math.log(zeta), 0.0) for hz in RINGS_HZ for zeta in DAMPINGS]
    else:
        grid = [tuple(start.tolist())]
    return [(*three, -_half_way_s(*three, behind)) for three in grid]


def _half_way_s(log_omega: float, log_zeta: float, log_scale: float, behind: Behind) -> float:
    """Return about when the path is half way: the response's delay after the stick."""
    return half_way_s(math.exp(log_omega), math.exp(log_zeta), 0.0) + math.exp(log_scale) * behind.delay_s
