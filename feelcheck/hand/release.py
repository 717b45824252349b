"""The metric "release": how the spring brings the stick back, as far as the electronics let it show."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from feelcheck.hand.numbers import (
    AFTER_S,
    BAND_FS,
    DAMPING_DOUBT,
    MOST_MISFIT,
    SEEN,
)
from feelcheck.hand.returns import SpringReturn, spring_returns
from feelcheck.model import Caveat, Estimate, Finding, FloatArray, HandView, MetricOutput, Trace
from feelcheck.numerics.descriptive import U_OF_MEDIAN, robust_sd
from feelcheck.numerics.spring_return import ReturnFit, fit_return, overshoot_of, return_path
from feelcheck.numerics.uncertainty import combined

__all__ = ["METRIC", "ReleaseMetric"]

MOST_DRAWN = 12

SCATTER, MISFIT, GRAIN = "scatter of the releases", "path that the spring's equation leaves", "steps of the code"
"""Words of the terms of an uncertainty."""

UNITS = {
    "ring_frequency": "Hz",
    "natural_frequency": "Hz",
    "damping_ratio": "ratio",
    "overshoot": "fraction",
    "settling_time": "s",
    "ring_attenuation": "ratio",
    "coulomb_friction": "fraction",
}

_NO_RELEASE = Caveat(
    code="no_release",
    text="The stick was never let go from far out, or came back within a report or two.",
    advice="Flick to the rim, hold, and let the stick snap back by itself.",
)
_NO_RING = Caveat(
    code="no_ring_seen",
    text="The stick came back without passing its rest by more than noise and one step, so no ring can be told.",
    advice="Release it with the thumb fully off; strong smoothing or damping hides the ring.",
)
_SLOW_REPORTS = Caveat(
    code="ring_near_report_rate",
    text="The ring has fewer than four reports a period, so its figures are uncertain.",
    advice="Record with a faster report rate.",
)
_NOT_APART = Caveat(
    code="mechanics_and_electronics_not_apart",
    text="The return itself does not tell the spring's motion from the smoothing of the electronics.",
    advice="Use the gate-stop time constants for the electronics.",
)
_MODEL = Caveat(
    code="return_not_second_order",
    text="The return is not that of a spring with viscous damping seen through one pole.",
    advice="Let go without guiding the stick; a speed-adaptive filter also bends the return.",
)
_BAND = Caveat(
    code="settling_band",
    text="Time from half way back until the stick stays within 2 % of full throw (or two steps, if wider) of its rest.",
)
_DRY = Caveat(
    code="coulomb_friction_present",
    text="The ring dies out in equal steps rather than equal ratios: dry friction is at work.",
)


class ReleaseMetric:
    """Ring, damping, overshoot and settling of the free return, pooled over releases."""

    name = "release"

    def measure(self, view: HandView) -> MetricOutput:
        """Return the findings of the group ``release``."""
        interval_s = view.clock.interval.value
        returns = [r for stick in view.sticks for r in view.once(spring_returns, stick)]
        if not returns or interval_s is None:
            missing = [Estimate.not_resolved(q, unit=u, caveats=(_NO_RELEASE,)) for q, u in UNITS.items()]
            return MetricOutput(findings=tuple(Finding(estimate=e, group="release") for e in missing))
        pooled = fit_return(np.concatenate([r.since_s for r in returns]), np.concatenate([r.y for r in returns]))
        each = [fit_return(r.since_s, r.y, start=pooled) for r in returns]
        estimates = [*_ring(returns, pooled, each, interval_s), _settling(returns, interval_s), _friction(returns)]
        if estimates[-1].is_ok:
            estimates = [e.with_caveats(_DRY) if e.quantity == "damping_ratio" else e for e in estimates]
        return MetricOutput(
            findings=tuple(Finding(estimate=e, group="release") for e in estimates), traces=_traces(returns, each)
        )


METRIC = ReleaseMetric()


def _beyond(one: SpringReturn) -> float:
    """Return how far one return went past its rest."""
    after = one.y[one.since_s > 0]
    return max(-float(after.min()), 0.0) if after.size else 0.0


def _spread(values: FloatArray) -> tuple[float, float]:
    """Return median and its standard uncertainty from the spread."""
    middle = float(np.median(values))
    deviation = max(robust_sd(values, middle), 1e-4 * abs(middle))
    return middle, U_OF_MEDIAN * deviation / math.sqrt(values.size)


def _ring(returns: list[SpringReturn], pooled: ReturnFit, each: list[ReturnFit], interval_s: float) -> list[Estimate]:
    beyond, u_beyond = _spread(np.array([_beyond(r) for r in returns]))
    grain = float(np.median([r.grain for r in returns]))
    n = len(returns)
    if beyond < max(1.6 * grain, 0.004) or beyond < SEEN * u_beyond:
        return _no_ring(beyond, u_beyond, grain, n)
    if pooled.rms > MOST_MISFIT:
        return _unfitted(beyond, u_beyond, n)
    caveats = (_SLOW_REPORTS,) if pooled.ring_hz * interval_s > 0.25 else ()
    frequency, u_frequency = _spread(np.array([f.ring_hz for f in each]))
    natural, u_natural = _spread(np.array([f.omega_rad_s for f in each]) / (2 * math.pi))
    damping, u_damping = _spread(np.array([f.zeta for f in each]))
    over, u_over = _spread(np.array([overshoot_of(f.omega_rad_s, f.zeta, f.tau_s) for f in each]))
    dof = max(n - 1, 1)
    misfit = _misfit(returns, pooled)
    of_frequency = {SCATTER: u_frequency, MISFIT: (0.01 + misfit / beyond) * frequency}
    of_damping = {SCATTER: u_damping, MISFIT: (0.03 + DAMPING_DOUBT * misfit / beyond) * damping}
    u_frequency, u_damping = combined(of_frequency)[0], combined(of_damping)[0]
    if u_frequency > 0.2 * frequency or u_damping > 0.4 * damping:
        return _unfitted(beyond, u_beyond, n)
    values = {
        "ring_frequency": (frequency, of_frequency),
        "natural_frequency": (natural, {SCATTER: u_natural, "frequency of the ring": u_frequency}),
        "damping_ratio": (damping, of_damping),
        "overshoot": (over, {SCATTER: u_over, GRAIN: grain / 4, MISFIT: misfit}),
    }
    found = []
    for name, (value, parts) in values.items():
        u, terms = combined(parts)
        found.append(Estimate.measured(name, value, u=u, unit=UNITS[name], n=n, dof=dof, caveats=caveats, terms=terms))
    return [*found, _attenuation(each, pooled, misfit / beyond)]


def _misfit(returns: list[SpringReturn], pooled: ReturnFit) -> float:
    """Return how far the mean over releases strays from the fitted path, root mean square, beyond chance."""
    since = np.concatenate([r.since_s for r in returns])
    path = return_path(since - pooled.start_s, pooled.omega_rad_s, pooled.zeta, pooled.tau_s)
    left = np.concatenate([r.y for r in returns]) - path
    period_s = 1.0 / pooled.ring_hz
    core = (since > -0.5 * period_s) & (since < 1.5 * period_s)
    bins = ((since[core] / period_s + 0.5) * 10).astype(np.int64)
    count = np.maximum(np.bincount(bins), 1)
    mean = np.bincount(bins, left[core]) / count
    chance = np.bincount(bins, left[core] ** 2) / count - mean**2
    excess = np.average(mean**2 - chance / count, weights=count)
    return math.sqrt(max(float(excess), 0.0))


def _attenuation(each: list[ReturnFit], pooled: ReturnFit, relative_misfit: float) -> Estimate:
    n = len(each)
    passed, u = _spread(np.array([f.passed for f in each]))
    u_own = pooled.passed * (1 - pooled.passed**2) * math.sqrt(max(float(pooled.covariance[2, 2]), 0.0))
    u, terms = combined({SCATTER: u, MISFIT: relative_misfit * passed, "fit of all releases": u_own})
    if u < 0.15 * passed:
        return Estimate.measured("ring_attenuation", passed, u=u, unit="ratio", n=n, dof=max(n - 1, 1), terms=terms)
    bound = max(passed - 2.0 * u, 0.0)
    return Estimate.at_least("ring_attenuation", bound, unit="ratio", n=n, caveats=(_NOT_APART,))


def _no_ring(beyond: float, u_beyond: float, grain: float, n: int) -> list[Estimate]:
    bound = beyond + 2.0 * u_beyond + grain
    found = [
        Estimate.not_resolved(q, unit=UNITS[q], n=n, caveats=(_NO_RING,))
        for q in ("ring_frequency", "natural_frequency", "damping_ratio", "ring_attenuation")
    ]
    return [*found, Estimate.at_most("overshoot", bound, unit="fraction", n=n, caveats=(_NO_RING,))]


def _unfitted(beyond: float, u_beyond: float, n: int) -> list[Estimate]:
    found = [
        Estimate.not_resolved(q, unit=UNITS[q], n=n, caveats=(_MODEL,))
        for q in ("ring_frequency", "natural_frequency", "damping_ratio", "ring_attenuation")
    ]
    return [
        *found,
        Estimate.measured("overshoot", beyond, u=u_beyond, unit="fraction", n=n, dof=max(n - 1, 1), by=SCATTER),
    ]


def _settling(returns: list[SpringReturn], interval_s: float) -> Estimate:
    times = []
    for one in returns:
        band = max(BAND_FS / one.travel_fs, 2.0 * one.grain)
        outside = np.flatnonzero(np.abs(one.y) > band)
        if outside.size and outside[-1] + 1 < one.since_s.size:
            last = int(outside[-1])
            times.append(0.5 * float(one.since_s[last] + one.since_s[last + 1]))
    if not times:
        return Estimate.at_least("settling_time", AFTER_S, unit="s", n=len(returns), caveats=(_BAND,))
    middle, u = _spread(np.array(times))
    u, terms = combined({SCATTER: u, "report interval": interval_s / math.sqrt(12.0)})
    value, n, dof = max(middle, 0.0), len(times), max(len(times) - 1, 1)
    return Estimate.measured("settling_time", value, u=u, unit="s", n=n, dof=dof, caveats=(_BAND,), terms=terms)


def _extremes(one: SpringReturn) -> FloatArray:
    """Return the sizes of the successive swings past rest, down to four grains."""
    after = one.since_s > 0
    y = one.y[after]
    side = np.sign(np.where(np.abs(y) < one.grain, 0.0, y))
    swings = []
    for first, last in _sides(side):
        swings.append(float(np.abs(y[first:last]).max()))
    sizes = np.array(swings[1:])
    large = sizes > 4.0 * one.grain
    return sizes[: int(np.argmin(large)) if not large.all() else sizes.size]


def _sides(side: FloatArray) -> list[tuple[int, int]]:
    keep = np.flatnonzero(side != 0)
    if not keep.size:
        return []
    turns = np.flatnonzero(np.diff(side[keep]) != 0)
    edges = [0, *(keep[turns + 1].tolist()), side.size]
    return [(a, b) for a, b in pairwise(edges) if b > a]


def _friction(returns: list[SpringReturn]) -> Estimate:
    """Return dry friction from e[k+1] = r e[k] - (1 + r) f over successive swings e."""
    pairs = [np.stack([e[:-1], e[1:]]) for e in (_extremes(r) for r in returns) if e.size > 1]
    grain = float(np.median([r.grain for r in returns]))
    joined = np.concatenate(pairs, axis=1) if pairs else np.empty((2, 0))
    if joined.shape[1] < 8 or np.ptp(joined[0]) < 6 * grain:
        return Estimate.not_resolved("coulomb_friction", unit="fraction", caveats=(_NO_RING,))
    design = np.stack([joined[0], np.ones(joined.shape[1])], axis=1)
    (ratio, drop), *_ = np.linalg.lstsq(design, joined[1], rcond=None)
    left = joined[1] - design @ np.array([ratio, drop])
    variance = float(left @ left) / (joined.shape[1] - 2) + (grain / 2) ** 2
    u = math.sqrt(variance * float(np.linalg.inv(design.T @ design)[1, 1])) / (1 + max(float(ratio), 0.0))
    friction = -float(drop) / (1 + max(float(ratio), 0.0))
    u, terms = combined({"scatter of the swings": u, GRAIN: grain / 4})
    name, n = "coulomb_friction", joined.shape[1]
    if friction > SEEN * u:
        return Estimate.measured(name, friction, u=u, unit="fraction", n=n, terms=terms)
    return Estimate.at_most(name, max(friction, 0.0) + 2 * u, unit="fraction", n=n).because("SEEN")


def _traces(returns: list[SpringReturn], each: list[ReturnFit]) -> tuple[Trace, ...]:
    """Return the first releases, each with its own fit: directions whose electronics differ share no curve."""
    return tuple(
        Trace(
            kind="release",
            axis=one.axis,
            arrays={
                "t_s": one.since_s,
                "measured_fraction": one.y,
                "model_fraction": return_path(one.since_s - fit.start_s, fit.omega_rad_s, fit.zeta, fit.tau_s),
            },
            marks={"half_way_s": one.half_s},
            labels={"direction": one.direction},
        )
        for one, fit in list(zip(returns, each, strict=True))[:MOST_DRAWN]
    )
