"""Noise of the output where it is at rest, and the swing it is judged by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.bench.fit import ModelFit, integrated_correlation
from feelcheck.bench.levels import Trace1D
from feelcheck.bench.numbers import MOST_POINTS
from feelcheck.model import Estimate, FloatArray
from feelcheck.numerics.uncertainty import combined

__all__ = ["output_noise", "output_swing"]

NEIGHBOURS = "differences of neighbouring samples"


def output_noise(output: Trace1D, fits: Sequence[ModelFit], unit: str) -> Estimate:
    """Return the rms noise at rest: of the raw samples after the edges have settled, a straight line taken off.

    Parameters
    ----------
    output : Trace1D
        The raw output.
    fits : sequence of ModelFit
        Fits to its edges.
    unit : str
        Unit of the output.

    Notes
    -----
    Without a settled stretch of 16 samples the noise between neighbours is given, which leaves out slow noise. Squares
    of correlated samples are correlated, too: so many fewer of them tell the rms.
    """
    rests = [rest for fit in fits if (rest := _rest(output, fit)).size >= 16]
    if not rests:
        u, terms = combined({NEIGHBOURS: output.noise / float(np.sqrt(2 * max(output.values.size, 1)))})
        return Estimate.measured("noise", output.noise, u=u, unit=unit, n=1, terms=terms)
    n = sum(rest.size - 2 for rest in rests) / max(integrated_correlation(rest[:MOST_POINTS] ** 2) for rest in rests)
    rms = float(np.sqrt(sum(float(rest @ rest) for rest in rests) / sum(rest.size - 2 for rest in rests)))
    u, terms = combined({"samples at rest, as far as they are independent": rms / float(np.sqrt(2 * n))})
    return Estimate.measured("noise", rms, u=u, unit=unit, n=len(rests), dof=float(n), terms=terms)


def _rest(output: Trace1D, fit: ModelFit) -> FloatArray:
    """The settled end of one edge's window without its trend: the tail left there hides in the noise."""
    begin, end = fit.window.raw
    first, last = fit.levels
    way = (fit.fit.fitted - fit.besides - first) / ((last - first) or 1.0)
    tail = min(0.005, 0.25 * output.noise / (abs(last - first) or 1.0))
    away = np.flatnonzero(np.abs(way - 1) > tail)
    since = fit.window.t_s[min(int(away[-1]) + 1, fit.window.t_s.size - 1)] if away.size else fit.window.t_s[0]
    keep = output.t_s[begin:end] - fit.window.origin_s > since
    y = output.values[begin:end][keep]
    if y.size < 16:
        return np.empty(0)
    x = np.linspace(-1.0, 1.0, y.size)
    return np.asarray(y - np.polynomial.Polynomial.fit(x, y, 1)(x))


def output_swing(fits: Sequence[ModelFit], unit: str, answer: Trace1D) -> Estimate:
    """Return the change of the output from state to state; at_least where no edge settles.

    Parameters
    ----------
    fits : sequence of ModelFit
        Fits to all edges.
    unit : str
        Unit of the output.
    answer : Trace1D
        The whole output.
    """
    settled = [fit for fit in fits if _arrives(fit)]
    if not settled:
        reach = max(float(np.ptp(fit.window.y)) for fit in fits)
        return Estimate.at_least("swing", reach, unit=unit, n=len(fits))
    swings = np.array([abs(fit.states[1] - fit.states[0]) for fit in settled])
    if _starts_late(settled, swings, answer):
        return Estimate.at_least("swing", float(np.min(swings)), unit=unit, n=swings.size)
    us = np.array([np.sqrt(2) * fit.u_last for fit in settled])
    inner = float(np.sqrt(np.mean(us**2) / swings.size))
    spread = float(np.std(swings, ddof=1) / np.sqrt(swings.size)) if swings.size > 1 else 0.0
    u, terms = combined({"scatter of the edges" if spread > inner else "levels of the fits": max(inner, spread)})
    return Estimate.measured("swing", float(np.mean(swings)), u=u, unit=unit, n=swings.size, terms=terms)


def _arrives(fit: ModelFit) -> bool:
    closed = not fit.spec.shape.endswith("_open")
    return closed and abs(_way_end(fit)) > 0.9 and fit.u_last < 0.1 * abs(fit.window.swing)


def _starts_late(fits: Sequence[ModelFit], swings: FloatArray, answer: Trace1D) -> bool:
    """Whether undriven fits begin after their edge did, so that the level before is not the plateau."""
    low, high = np.quantile(answer.values, (0.001, 0.999)).tolist()
    undriven = all(fit.window.stimulus is None for fit in fits)
    return bool(undriven and high - low > 1.02 * float(np.mean(swings)) + 4 * answer.noise)


def _way_end(fit: ModelFit) -> float:
    first, last = fit.levels
    return float((fit.way_end - first) / ((last - first) or 1.0))
