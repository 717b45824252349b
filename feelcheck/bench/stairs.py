"""Stair steps of a sensor that samples internally."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from feelcheck.bench.fit import ModelFit
from feelcheck.bench.levels import Trace1D, block_average, noise_rms
from feelcheck.bench.numbers import (
    EDGE_SHARE,
    FIRST_EDGE_LEFT,
    FLAT_POLES,
    FLAT_SHARE_LEFT,
    LEAST_RAMP_SAMPLES,
    MIN_STEPS,
    MOST_STEPS,
    N_STEP_PHASES,
    RAMP_NOISE,
    RAMP_SAMPLES,
    RAMP_STEPS,
    SAMPLES_A_STEP,
    STAIRS_DECISIVE,
    STEP_CODES,
    STEP_NOISE,
    UNEVEN_STEPS,
    UNEXPLAINED,
    USUAL_HOLD_S,
)
from feelcheck.model import Caveat, Estimate, FloatArray
from feelcheck.numerics.filters import local_maxima
from feelcheck.numerics.pole_response import Stimulus
from feelcheck.numerics.uncertainty import combined

__all__ = ["Stairs", "comb_phase", "find_stairs", "held_stimulus"]

TOO_FEW = Caveat(
    code="too_few_samples_in_ramp",
    text="The edge holds too few samples, too few converter steps or too much noise to show stair steps.",
    advice="Zoom the scope in on the edge: at least 50 samples and 20 converter steps across it.",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stairs:
    """What the search found.

    Parameters
    ----------
    interval : Estimate, s
        Update interval; not_present where a smooth edge was told from stairs, not_resolved where it could not be.
    instants_s : tuple of ndarray
        Instants of the steps, one array an edge, on the capture's axis.
    """

    interval: Estimate
    instants_s: tuple[FloatArray, ...] = ()

    @property
    def found(self) -> bool:
        """Whether there are stairs."""
        return self.interval.is_ok


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ramp:
    """The moving part of one edge: raw samples and the smooth curve through them."""

    t: FloatArray
    y: FloatArray
    smooth: FloatArray
    noise: float
    step: float
    interval: float
    pole: float = 0.0

    @cached_property
    def sums_y(self) -> FloatArray:
        """Running sums of the samples and of their squares, shape (2, n + 1)."""
        return _running(self.y)

    @cached_property
    def sums_smooth(self) -> FloatArray:
        """The same of the smooth curve."""
        return _running(self.smooth)

    @cached_property
    def sums_rest(self) -> FloatArray:
        """Running sums of the squared difference, shape (n + 1,)."""
        return np.asarray(_running(self.y - self.smooth, centred=False)[1])


def _running(values: FloatArray, centred: bool = True) -> FloatArray:
    rest = values - np.mean(values) if centred else values
    return np.concatenate([np.zeros((2, 1)), np.cumsum([rest, rest**2], axis=1)], axis=1)


def find_stairs(output: Trace1D, fits: Sequence[ModelFit]) -> Stairs:
    """Search the edges' moving parts for steps at an even interval.

    Parameters
    ----------
    output : Trace1D
        The raw output.
    fits : sequence of ModelFit
        Smooth fits to its edges.

    Notes
    -----
    A staircase of period T is compared with the smooth curve by the evidence of both (samples inside a step must be
    flat, which those of a smooth ramp are not). The longest period that leaves the steps flat is taken and refined by a
    line through the steps' instants. The price of searching all periods and phases is part of the evidence, so that a
    smooth edge passes for stairs in fewer than one of a thousand captures; rounding of the scope's converter makes
    steps of one code and is told apart by their height. That none were found means something only where steps at the
    usual interval would have been: elsewhere the interval is not_resolved.
    """
    ramps = [ramp for ramp in (_ramp(output, fit) for fit in fits) if ramp is not None]
    if not ramps:
        return Stairs(interval=Estimate.not_resolved("update_interval", unit="s", caveats=(TOO_FEW,)))
    if not any(map(_holds_something, ramps)):
        return _none_found(ramps)
    span = min(float(ramp.t[-1] - ramp.t[0]) for ramp in ramps)
    shortest = max(SAMPLES_A_STEP * max(ramp.interval for ramp in ramps), span / MOST_STEPS)
    n = int(np.log(max(span / (MIN_STEPS - 1) / shortest, 1.02)) / 0.015) + 1
    periods = np.geomspace(shortest, max(span / (MIN_STEPS - 1), shortest * 1.02), n)
    table = np.full((n, len(ramps), 2), (9.0, -1e9))
    for k, period in enumerate(periods):
        table[k, 0] = _best_phase(ramps[0], period)
        for j, ramp in enumerate(ramps[1:] if table[k, 0, 0] < FIRST_EDGE_LEFT else (), 1):
            table[k, j] = _best_phase(ramp, period)
    ratio, gain = np.mean(table[:, :, 0], axis=1), np.sum(table[:, :, 1], axis=1)
    price = 2 * np.log(n * N_STEP_PHASES)
    passing = np.flatnonzero((ratio < FLAT_SHARE_LEFT) & (gain > price + STAIRS_DECISIVE))
    if not passing.size:
        return _none_found(ramps)
    flattest = float(np.min(ratio[passing]))
    good = passing[ratio[passing] < flattest + 0.12]
    top = good[-1]
    near = [k for k in good if periods[k] > 0.85 * periods[top]]
    return _refined(ramps, float(periods[min(near, key=lambda k: ratio[k])]))


def _none_found(ramps: Sequence[_Ramp]) -> Stairs:
    """No stairs; not_resolved, with the reason, where steps at the usual interval would have gone unseen."""
    reasons = [_hidden(ramp) for ramp in ramps]
    if "" in reasons:
        return Stairs(interval=Estimate.not_present("update_interval", unit="s", n=len(ramps)))
    caveat = Caveat(
        code="steps_could_hide",
        text=f"Steps of about {USUAL_HOLD_S * 1e3:g} ms, as sensors that sample internally show them, would not have"
        f" been seen here: {reasons[0]}.",
        advice="Lift the capacitors, step the field over several milliseconds and zoom in on the edge.",
    )
    return Stairs(interval=Estimate.not_resolved("update_interval", unit="s", n=len(ramps), caveats=(caveat,)))


def _holds_something(ramp: _Ramp) -> bool:
    """Whether the smooth curve leaves more than white noise in a ramp, at any length of local means."""
    rest = ramp.y - ramp.smooth
    noise = max(noise_rms(rest), 1e-300)
    for size in 2 ** np.arange(1, int(np.log2(max(rest.size / 8, 1))) + 1):
        means = block_average(rest, int(size))
        if float(np.mean(means**2)) * size > noise**2 * (1 + UNEXPLAINED * np.sqrt(2 / means.size)):
            return True
    return False


def _hidden(ramp: _Ramp) -> str:
    """Return why steps at the usual interval would not show in a ramp; nothing where they would."""
    span = float(ramp.t[-1] - ramp.t[0])
    height = abs(float(ramp.smooth[-1] - ramp.smooth[0])) * USUAL_HOLD_S / span
    if span < (MIN_STEPS - 1) * USUAL_HOLD_S:
        return f"the edge holds fewer than {MIN_STEPS} of them"
    if ramp.pole * FLAT_POLES > USUAL_HOLD_S:
        return "the filter smooths them"
    if SAMPLES_A_STEP * ramp.interval > USUAL_HOLD_S:
        return "the samples are too far apart"
    return "they are no higher than the noise" if height < max(STEP_CODES * ramp.step, STEP_NOISE * ramp.noise) else ""


def _ramp(output: Trace1D, fit: ModelFit) -> _Ramp | None:
    begin, end = fit.window.raw
    t, y = output.t_s[begin:end], output.values[begin:end]
    smooth = np.interp(t - fit.window.origin_s, fit.window.t_s, fit.fit.fitted)
    first, last = fit.levels
    way = (smooth - first) / ((last - first) or 1.0)
    inside = np.flatnonzero((way > 0.04) & (way < 0.93))
    if inside.size < LEAST_RAMP_SAMPLES or abs(last - first) < max(RAMP_STEPS * output.step, RAMP_NOISE * output.noise):
        return None
    cut = slice(int(inside[0]), int(inside[-1]) + 1)
    size = -(-(cut.stop - cut.start) // RAMP_SAMPLES)
    return _Ramp(
        t=block_average(t[cut], size),
        y=block_average(y[cut], size),
        smooth=block_average(smooth[cut], size),
        noise=output.noise / np.sqrt(size),
        step=output.step,
        interval=output.interval_s * size,
        pole=fit.main_pole_s,
    )


def _best_phase(ramp: _Ramp, period: float) -> tuple[float, float]:
    """Smallest unexplained share within steps over all phases, and the evidence for stairs there."""
    late = max(EDGE_SHARE, 1.2 * ramp.interval / period)
    early = 1 - 0.6 * ramp.interval / period
    n_steps = int((ramp.t[-1] - ramp.t[0]) / period) + 3
    begins = ramp.t[0] + period * (np.arange(N_STEP_PHASES)[:, None] / N_STEP_PHASES + np.arange(-1, n_steps - 1))
    first = np.searchsorted(ramp.t, begins + late * period, side="right")
    last = np.maximum(np.searchsorted(ramp.t, begins + early * period, side="left"), first)
    count = last - first
    flat, curve = (_within(sums[:, last] - sums[:, first], count) for sums in (ramp.sums_y, ramp.sums_smooth))
    n, n_bins = np.sum(count, axis=1), np.sum(count > 0, axis=1)
    floor = (n - n_bins) * ramp.noise**2
    ratio = np.where(n < 12, 9.0, (flat - floor) / np.maximum(curve, 1e-300))
    k = int(np.argmin(ratio))
    if n[k] < 12 or ratio[k] >= 9.0:
        return 9.0, -1e9
    rest = float(np.sum(ramp.sums_rest[last[k]] - ramp.sums_rest[first[k]]))
    low = max(float(floor[k]) * 0.5, 1e-300)
    gain = n[k] * np.log(max(rest, low) / max(float(flat[k]), low)) - n_bins[k] * np.log(n[k])
    return float(ratio[k]), float(gain)


def _within(sums: FloatArray, count: FloatArray) -> FloatArray:
    """Sums of squares about the means of the bins, shape (phases,), from sums and sums of squares of the bins."""
    means = np.divide(sums[0] ** 2, count, out=np.zeros(count.shape), where=count > 0)
    return np.asarray(np.sum(np.maximum(sums[1] - means, 0.0), axis=1))


def _refined(ramps: Sequence[_Ramp], period: float) -> Stairs:
    """Fit one interval through the instants of all steps; each edge has its own phase."""
    instants = [_instants(ramp, period) for ramp in ramps]
    spacings = np.concatenate([np.diff(found) for found in instants])
    if spacings.size and float(np.median(spacings)) > 1.5 * period:
        period = float(np.median(spacings))
        instants = [_instants(ramp, period) for ramp in ramps]
    numbers = [np.round((found - found[0]) / period) if found.size else found for found in instants]
    usable = [(i, k) for i, k in zip(instants, numbers, strict=True) if i.size >= 3]
    if sum(i.size for i, _ in usable) < MIN_STEPS - 1:
        return _none_found(ramps)
    k = np.concatenate([k - np.mean(k) for _, k in usable])
    t = np.concatenate([i - np.mean(i) for i, _ in usable])
    slope = float(k @ t / (k @ k))
    rest = t - slope * k
    dof = max(t.size - 1 - len(usable), 1)
    sigma = max(float(np.sqrt(rest @ rest / dof)), ramps[0].interval / np.sqrt(12))
    if sigma > UNEVEN_STEPS * slope:
        return _none_found(ramps)
    u, terms = combined({"instants of the steps": sigma / float(np.sqrt(k @ k))})
    estimate = Estimate.measured("update_interval", slope, u=u, unit="s", n=int(t.size), dof=float(dof), terms=terms)
    return Stairs(interval=estimate, instants_s=tuple(instants))


def _instants(ramp: _Ramp, period: float) -> FloatArray:
    """Half-way instants of the jumps: where the output changes most between the flats on both sides."""
    reach = max(2, int(0.3 * period / ramp.interval))
    total = np.concatenate([[0.0], np.cumsum(ramp.y)])
    k = np.arange(reach, ramp.y.size - reach)
    jump = np.abs((total[k + reach] - total[k]) - (total[k] - total[k - reach])) / reach
    floor = max(STEP_CODES * ramp.step, STEP_NOISE * ramp.noise, 0.3 * float(np.max(jump)))
    peaks = local_maxima(jump, floor, max(1, int(0.6 * period / ramp.interval)))
    found = [_half_way(ramp, int(peak) + reach, reach) for peak in peaks]
    return np.asarray([instant for instant in found if instant is not None])


def _half_way(ramp: _Ramp, at: int, reach: int) -> float | None:
    """Instant at which the output is half-way between the flats before and after a jump."""
    skip = 1 if reach > 3 else 0
    a = float(np.median(ramp.y[at - reach : at - skip]))
    b = float(np.median(ramp.y[at + skip : at + reach]))
    part = slice(max(at - reach // 2 - 1, 0), at + reach // 2 + 1)
    way = (ramp.y[part] - a) / ((b - a) or 1.0)
    j = int(np.argmax(way >= 0.5))
    if j == 0 or way[j] == way[j - 1]:
        return None
    share = (0.5 - way[j - 1]) / (way[j] - way[j - 1])
    t = ramp.t[part]
    return float(t[j - 1] + share * (t[j] - t[j - 1]))


def held_stimulus(
    stimulus: Stimulus, tick_s: float, interval_s: float, conversion_s: float = 0.0, averaged_s: float = 0.0
) -> Stimulus:
    """Return the drive as an internally sampling sensor shows it: held between its own instants.

    Parameters
    ----------
    stimulus : Stimulus
        The drive.
    tick_s : float, s
        An instant at which the output changes, on the stimulus' axis.
    interval_s : float, s
        Update interval.
    conversion_s : float, s
        How much earlier the sensor looks than its output changes.
    averaged_s : float, s
        Over what time around its instant each sample of the output is an average: so long each step takes.
    """
    begin, end = float(stimulus.t_s[0]), float(stimulus.t_s[-1])
    comb = tick_s + interval_s * np.arange(np.ceil((begin - tick_s) / interval_s), (end - tick_s) / interval_s)
    seen = np.interp(comb - conversion_s, stimulus.t_s, stimulus.u)
    width = min(averaged_s, interval_s)
    times = (comb[:, None] + 0.5 * np.array([-width, width])).ravel()
    levels = np.concatenate([[stimulus.u[0]], np.repeat(seen, 2)[:-1]])
    last = seen[-1:] if seen.size else stimulus.u[-1:]
    begin, end = min(begin, *times[:1].tolist(), end), max(end, *times[-1:].tolist(), begin)
    return Stimulus(t_s=np.concatenate([[begin], times, [end]]), u=np.concatenate([[stimulus.u[0]], levels, last]))


def comb_phase(instants_s: FloatArray, interval_s: float) -> float:
    """Return the instant of the first step that an even comb through all steps has, s.

    Parameters
    ----------
    instants_s : ndarray, shape (n,)
        Instants of the steps, s.
    interval_s : float
        Interval of the comb, s.
    """
    return float(np.median(instants_s - interval_s * np.round((instants_s - instants_s[0]) / interval_s)))
