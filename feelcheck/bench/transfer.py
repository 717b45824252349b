"""Output against drive: from a slow sweep the whole curve, from a fast edge at least swing per unit of drive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.bench.edges import Edge
from feelcheck.bench.levels import Trace1D
from feelcheck.bench.noise import NEIGHBOURS
from feelcheck.bench.numbers import FLAT_SLOPE, LINEAR_TOLERANCE, N_BINS, STEEP_SLOPE
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Estimate, FloatArray, Trace
from feelcheck.numerics.uncertainty import combined

__all__ = ["TransferCurve", "edge_sensitivity", "measure_transfer"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TransferCurve:
    """What a sweep tells.

    Parameters
    ----------
    estimates : dict of Estimate
        sensitivity (output per unit of drive), linear_low and linear_high (drive), saturation_low and saturation_high
        (output; not_present where the sweep does not reach them), hysteresis (drive), noise (output).
    swing : Estimate
        Output from end to end.
    trace : Trace
        Kind "transfer": drive, up, down.
    """

    estimates: dict[str, Estimate]
    swing: Estimate
    trace: Trace


def measure_transfer(
    drive: Trace1D, output: Trace1D, edges: tuple[Edge, ...], units: tuple[str, str], name: str
) -> TransferCurve:
    """Return the transfer curve of a slow ramp or triangle of the drive.

    Parameters
    ----------
    drive, output : Trace1D
        Both columns on the same instants.
    edges : tuple of Edge
        The drive's flanks.
    units : (str, str)
        Units of drive and output.
    name : str
        The output's name.

    Raises
    ------
    NotEnoughDataError
        If the flanks hold fewer than 5 samples a bin on average.

    Notes
    -----
    Means of the output in 60 bins of the drive, up and down apart. The line is fitted where the local slope is at least
    80 % of its steepest; the linear range ends where the curve leaves the line by 2 % of the swing; an end is saturated
    where the slope falls under 15 % of the line's. Hysteresis is the median distance of the flanks in the linear range,
    in units of the drive; a lag adds its delay times the sweep rate to it.
    """
    up, down, centres, spread = _curves(drive, output, edges)
    both: FloatArray = 0.5 * (np.where(np.isnan(up), down, up) + np.where(np.isnan(down), up, down))
    known = np.isfinite(both)
    u, y = centres[known], both[known]
    swing = float(np.ptp(y)) if y.size else 0.0
    if u.size < 12 or not swing:
        raise _no_curve(u.size, swing)
    slope = np.gradient(y, u)
    steep = np.abs(slope) > STEEP_SLOPE * np.quantile(np.abs(slope), 0.9)
    line, covariance = np.polyfit(u[steep], y[steep], 1, cov=True)
    near = np.abs(np.polyval(line, u) - y) < LINEAR_TOLERANCE * swing
    if not near.any():
        raise _no_curve(u.size, swing)
    low, high = _longest(near)
    gaps = (up - down)[known][low : high + 1]
    gaps = gaps[np.isfinite(gaps)]
    width = float(centres[1] - centres[0])
    slope_u = {"straight line through the bins": float(np.sqrt(covariance[0, 0]))}
    half_bin = {"width of a bin": width / 2}
    estimates = {
        "sensitivity": _told("sensitivity", float(line[0]), slope_u, f"{units[1]}/{units[0] or '1'}"),
        "linear_low": _told("linear_low", float(u[low]), half_bin, units[0]),
        "linear_high": _told("linear_high", float(u[high]), half_bin, units[0]),
        "noise": _told("noise", spread, {NEIGHBOURS: spread / 10}, units[1]),
        **_ends(y, slope, float(line[0]), units[1], spread),
    }
    if gaps.size > 4:
        lag = abs(float(np.median(gaps)) / float(line[0]))
        u_lag = float(np.std(gaps) / np.sqrt(gaps.size) / abs(line[0]))
        estimates["hysteresis"] = (
            _told("hysteresis", lag, {"scatter over the bins": u_lag}, units[0])
            if lag > 2 * u_lag
            else Estimate.at_most("hysteresis", lag + 2 * u_lag, unit=units[0])
        )
    return TransferCurve(
        estimates=estimates,
        swing=_told("swing", swing, {NEIGHBOURS: spread}, units[1], len(edges)),
        trace=Trace(kind="transfer", axis=name, arrays={"drive": centres, "up": up, "down": down}),
    )


def _curves(
    drive: Trace1D, output: Trace1D, edges: tuple[Edge, ...]
) -> tuple[FloatArray, FloatArray, FloatArray, float]:
    """Bin means on the way up and on the way down, bin centres, and the rms within bins about a local line."""
    bounds = np.linspace(float(np.min(drive.values)), float(np.max(drive.values)), N_BINS + 1)
    index = np.clip(np.searchsorted(bounds, drive.values, side="right") - 1, 0, N_BINS - 1)
    way = np.zeros(drive.values.size, dtype=np.int64)
    for edge in edges:
        inside = (drive.t_s >= edge.onset_s) & (drive.t_s <= edge.end_s)
        way[inside] = 1 if edge.rising else -1
    curves = []
    for sign in (1, -1):
        chosen = way == sign
        count = np.bincount(index[chosen], minlength=N_BINS)
        total = np.bincount(index[chosen], weights=output.values[chosen], minlength=N_BINS)
        curves.append(np.divide(total, count, out=np.full(N_BINS, np.nan), where=count > 0))
    return curves[0], curves[1], 0.5 * (bounds[1:] + bounds[:-1]), output.noise


def _no_curve(n_bins: int, swing: float) -> NotEnoughDataError:
    facts = {"bins": n_bins, "output range": f"{swing:.4g}"}
    return NotEnoughDataError("A transfer curve needs a sweep of the drive that the output follows.", facts)


def _longest(flags: NDArray[np.bool_]) -> tuple[int, int]:
    """First and last index of the longest run of true flags."""
    padded = np.concatenate([[0], np.asarray(flags, dtype=np.int64), [0]])
    starts, stops = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    k = int(np.argmax(stops - starts))
    return int(starts[k]), int(stops[k]) - 1


def _ends(y: FloatArray, slope: FloatArray, sensitivity: float, unit: str, noise: float) -> dict[str, Estimate]:
    """Saturation levels at both ends of the output."""
    flat = np.abs(slope) < FLAT_SLOPE * abs(sensitivity)
    found = {}
    rising = sensitivity > 0
    for name, at_start in (("saturation_low", rising), ("saturation_high", not rising)):
        run = flat if at_start else flat[::-1]
        n = int(np.argmin(run)) if not np.all(run) else run.size
        if n < 3:
            found[name] = Estimate.not_present(name, unit=unit)
            continue
        level = float(np.mean(y[:n] if at_start else y[-n:]))
        found[name] = _told(name, level, {"noise at the end": max(noise, float(np.ptp(y)) / 500)}, unit, n)
    return found


def _told(name: str, value: float, parts: dict[str, float], unit: str, n: int = 1) -> Estimate:
    u, terms = combined(parts)
    return Estimate.measured(name, value, u=u, unit=unit, n=n, terms=terms)


def edge_sensitivity(swing: Estimate, drive_swing: Estimate | None, saturated: bool, unit: str) -> Estimate:
    """Return swing per unit of drive of a fast capture; at_least where the output saturates or does not settle.

    Parameters
    ----------
    swing : Estimate
        The output's swing.
    drive_swing : Estimate or None
        The drive's swing in its own unit; None where it is not known.
    saturated : bool
        Whether the output runs into a rail.
    unit : str
        Unit of the drive.

    Examples
    --------
    >>> swing = Estimate.measured("swing", 1.0, u=0.01, unit="V")
    >>> edge_sensitivity(swing, Estimate.measured("swing", 0.5, u=0.005, unit="A"), False, "V/A").value
    2.0
    """
    name = "sensitivity"
    if drive_swing is None or not drive_swing.value or drive_swing.u is None:
        return Estimate.not_resolved(name, unit=unit)
    reach = swing.value if swing.value is not None else swing.bound
    if reach is None:
        return Estimate.not_resolved(name, unit=unit)
    value = reach / drive_swing.value
    if saturated or swing.value is None or swing.u is None:
        return Estimate.at_least(name, value, unit=unit)
    u, terms = combined(
        {
            "swing of the output": value * swing.u / swing.value,
            "swing of the drive": value * drive_swing.u / drive_swing.value,
        }
    )
    return Estimate.measured(name, value, u=u, unit=unit, n=swing.n, terms=terms)
