"""All edges of one direction become one response."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from feelcheck.bench.area import EdgeReading, area_delay, read_edge
from feelcheck.bench.bounds import largest_pole_s
from feelcheck.bench.choice import Choice, choose_model
from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.windows import EdgeWindow, turned
from feelcheck.model import BenchDirection, Caveat, Estimate
from feelcheck.numerics.one_pole import transition_10_90

__all__ = ["DirectionFits", "fit_direction", "report_direction"]

N_CHOOSING = 3
N_FITTED = 24
REFUSED_MISFIT = 0.03
SETTLED = 0.9
RINGS = Caveat(
    code="ringing",
    text="The output rings: no single time constant describes it; natural frequency, damping and envelope are given.",
    advice="Look for an inductance, a long probe ground lead, or a control loop.",
)
DECAYS = Caveat(
    code="does_not_fit",
    text="No pole, pair of poles, ring or weak-sink shape explains this edge.",
    advice="Look at the capture: hum, a second edge, a limited probe or an over-range channel bend the curve.",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class DirectionFits:
    """The chosen candidate on every fitted edge of one direction."""

    choice: Choice
    fits: tuple[ModelFit, ...]
    readings: tuple[EdgeReading, ...]
    n_edges: int

    @property
    def shape(self) -> str:
        """The chosen shape."""
        return self.fits[0].spec.shape

    @property
    def misfit(self) -> float:
        """Median structured misfit as a fraction of the swing."""
        return float(np.median([fit.misfit for fit in self.fits]))

    @property
    def fits_well(self) -> bool:
        """Whether the candidate explains the edges."""
        return self.misfit < REFUSED_MISFIT

    @property
    def settled_fraction(self) -> float:
        """Median way covered when the windows end."""
        return float(np.median([reading.settled_fraction for reading in self.readings]))


def fit_direction(windows: Sequence[EdgeWindow]) -> DirectionFits | None:
    """Choose a model on a few edges and fit it to all of one direction; None without edges.

    Parameters
    ----------
    windows : sequence of EdgeWindow
        All edges of one direction.
    """
    if not windows:
        return None
    steps = [w for w in windows if w.stimulus is not None]
    alike = steps if len(steps) >= 0.5 * len(windows) else [w for w in windows if w.stimulus is None]
    alike = [w for w in alike if abs(w.swing) > 0.5 * max(abs(x.swing) for x in alike)]
    by_quality = sorted(alike, key=lambda w: (-round(w.span_s / max(w.duration_s, w.interval_s)), w.origin_s))
    chosen_by = by_quality[:N_CHOOSING]
    choice = choose_model(chosen_by)
    choice, by_quality = _or_turned(choice, by_quality)
    rest = by_quality[N_CHOOSING:][: N_FITTED - len(chosen_by)]
    fits = (*choice.best, *(fit_spec(choice.spec, window, choice.best[0]) for window in rest))
    fits = _without_strays(fits)
    return DirectionFits(choice=choice, fits=fits, readings=tuple(read_edge(fit) for fit in fits), n_edges=len(windows))


def _or_turned(choice: Choice, windows: list[EdgeWindow]) -> tuple[Choice, list[EdgeWindow]]:
    """Begin at the output's turning points where that explains edges that began unsettled far better."""
    misfit = float(np.median([fit.misfit for fit in choice.best]))
    if misfit < 0.005:
        return choice, windows
    shorter = [short for short in (turned(window) for window in windows) if short is not None]
    if len(shorter) < 0.5 * len(windows):
        return choice, windows
    other = choose_model(shorter[:N_CHOOSING])
    if float(np.median([fit.misfit for fit in other.best])) < 0.5 * misfit:
        return other, shorter
    return choice, windows


def _without_strays(fits: tuple[ModelFit, ...]) -> tuple[ModelFit, ...]:
    """Leave out edges that fit far worse than the others (a glitch, a cut window)."""
    limit = 4 * float(np.median([fit.misfit for fit in fits])) + 0.005
    kept = tuple(fit for fit in fits if fit.misfit <= limit and fit.fit.converged)
    return kept or fits


def _pool(values: Sequence[float], us: Sequence[float]) -> tuple[float, float]:
    """Weighted mean and its standard uncertainty, enlarged where the values scatter more than they say."""
    v = np.asarray(values)
    u = np.maximum(np.asarray(us), 1e-9 * float(np.max(np.abs(v), initial=0.0)) + 1e-150)
    good = np.isfinite(v) & np.isfinite(u)
    if not np.any(good):
        return float(np.mean(v)), float("inf")
    v, u = v[good], u[good]
    weight = 1 / u**2
    mean = float(np.sum(weight * v) / np.sum(weight))
    inner = float(1 / np.sqrt(np.sum(weight)))
    if v.size == 1:
        return mean, inner
    chi = float(np.sum(weight * (v - mean) ** 2)) / (v.size - 1)
    return mean, inner * max(1.0, np.sqrt(chi))


def _model_spread(found: DirectionFits, quantity: Callable[[ModelFit], float]) -> float:
    """What the choice of model adds to the uncertainty: spread over rivals by their weight of evidence."""
    best = float(np.median([quantity(fit) for fit in found.choice.best]))
    total, weights = 0.0, 1.0
    for gain, fits in found.choice.rivals:
        if gain > 12 or fits[0].spec.weak != found.fits[0].spec.weak or fits[0].spec.shape == "none":
            continue
        weight = float(np.exp(-0.5 * max(gain, 0.0)))
        total += weight * (float(np.median([quantity(fit) for fit in fits])) - best) ** 2
        weights += weight
    return float(np.sqrt(total / weights))


def _u_of_drive(found: DirectionFits) -> float:
    """What the drive's own noise adds to a delay behind it."""
    return float(np.median([fit.window.u_drive_delay_s for fit in found.fits]) / np.sqrt(len(found.fits)))


def report_direction(found: DirectionFits) -> BenchDirection:
    """Return the response of one direction as estimates with statuses."""
    slow = _time_constant(found)
    smoothing = _smoothing(found, slow)
    dead = _dead_time(found)
    area = _area(found)
    extra = {} if area is None else {"area_delay": area}
    extra |= _second_order_extra(found) | _level_extra(found)
    return BenchDirection(
        time_constant=slow,
        poles=_poles(found, slow),
        transition_10_90=_transition(found),
        step_transition_10_90=_step_transition(found, slow),
        dead_time=dead,
        smoothing_delay=smoothing,
        mean_delay=_mean_delay(found, smoothing, dead, area),
        settled_fraction=_settled(found),
        saturated=any(fit.spec.clip_high or fit.spec.clip_low for fit in found.fits),
        n_edges=found.n_edges,
        model=found.shape if found.fits_well else "unexplained",
        extra=MappingProxyType(extra),
    )


def _refused(quantity: str, found: DirectionFits) -> Estimate:
    return Estimate.not_resolved(quantity, unit="s", n=len(found.fits), caveats=(DECAYS,))


def _time_constant(found: DirectionFits) -> Estimate:
    name, n = "time_constant", len(found.fits)
    if not found.fits_well:
        return _refused(name, found)
    if found.fits[0].spec.weak:
        text = "The output discharges through a weak sink: a straight line or a cut exponential has no time constant."
        weak = Caveat(code="weak_sink", text=text, advice="Compare mean delays, with the swing they were taken at.")
        return Estimate.not_resolved(name, unit="s", n=n, caveats=(weak,))
    if found.shape == "second_order":
        return Estimate.not_resolved(name, unit="s", n=n, caveats=(RINGS,))
    return _slowest(found)


def _slowest(found: DirectionFits) -> Estimate:
    """The slowest pole's time constant, or the decay of a ring's envelope."""
    name, n = "time_constant", len(found.fits)
    if found.shape == "none":
        return Estimate.at_most(name, largest_pole_s(found.fits), unit="s", n=n)
    logs = [float(np.log(fit.poles_s[0])) for fit in found.fits]
    mean, u = _pool(logs, [_u_slowest(fit) for fit in found.fits])
    tau = float(np.exp(mean))
    spread = _model_spread(found, lambda fit: (fit.poles_s or (0.0,))[0])
    u = float(np.hypot(np.hypot(u * tau, spread), _u_of_drive(found)))
    if not np.isfinite(u) or tau - 1.96 * u <= 0 or _at_fast_bound(found):
        return _bounded(found, tau, u)
    if _between_samples(found, tau):
        bound = max(tau + 1.96 * u, found.fits[0].window.interval_s)
        return Estimate.at_most(name, bound, unit="s", n=n)
    if u > 0.5 * tau or _hardly_bent(found, tau):
        return Estimate.at_least(name, tau * float(np.exp(-1.96 * u / tau)), unit="s", n=n)
    return Estimate.measured(name, tau, u=u, unit="s", n=n, dof=_dof(found))


def _between_samples(found: DirectionFits, tau: float) -> bool:
    """Whether a change without a resolved drive is over within a sample: its onset could be anywhere in that gap."""
    window = found.fits[0].window
    return window.drive_duration_s < 3 * window.interval_s and tau < 0.5 * window.interval_s


def _hardly_bent(found: DirectionFits, tau: float) -> bool:
    """Whether an edge without a drive shows less than the first 40 % of its way: a ramp would look like that."""
    window = found.fits[0].window
    return not window.driven and tau > 2 * window.span_s


def _bounded(found: DirectionFits, tau: float, u: float) -> Estimate:
    """A time constant whose interval reaches 0 is an upper bound, one without an upper end a lower bound."""
    span = found.fits[0].window.span_s
    if tau > 0.3 * span:
        floor = max(0.5 * span, tau * float(np.exp(-1.96 * min(u / tau, 50.0))))
        return Estimate.at_least("time_constant", floor, unit="s", n=len(found.fits))
    return Estimate.at_most("time_constant", largest_pole_s(found.fits), unit="s", n=len(found.fits))


def _at_fast_bound(found: DirectionFits) -> bool:
    return all(any(fit.fit.at_bound[: fit.spec.n_shape]) for fit in found.fits)


def _u_slowest(fit: ModelFit) -> float:
    if fit.spec.shape == "second_order":
        n = 2
        slope = np.array([1.0, -1.0])
        return float(np.sqrt(max(slope @ fit.fit.covariance[:n, :n] @ slope, 0.0) * fit.correlation))
    return float(fit.u_log[int(np.argmax(fit.fit.theta[: fit.spec.n_shape]))])


def _dof(found: DirectionFits) -> float:
    samples = sum(fit.fit.dof / fit.correlation for fit in found.fits)
    return max(samples if len(found.fits) < 3 else max(samples / len(found.fits), len(found.fits) - 1.0), 1.0)


def _poles(found: DirectionFits, slow: Estimate) -> tuple[Estimate, ...]:
    if found.shape != "two_pole" or not slow.is_ok:
        return (slow.renamed("pole"),) if slow.is_ok and found.shape == "one_pole" else ()
    logs = [float(np.log(fit.poles_s[-1])) for fit in found.fits]
    us = [float(fit.u_log[int(np.argmin(fit.fit.theta[:2]))]) for fit in found.fits]
    mean, u = _pool(logs, us)
    fast = float(np.exp(mean))
    if u > 0.5:
        return slow.renamed("pole"), Estimate.at_most("pole", fast * float(np.exp(1.96 * min(u, 5))), unit="s")
    return slow.renamed("pole"), Estimate.measured("pole", fast, u=u * fast, unit="s", n=len(found.fits))


def _smoothing(found: DirectionFits, slow: Estimate) -> Estimate:
    name, n = "smoothing_delay", len(found.fits)
    if not found.fits_well:
        return _refused(name, found)
    if found.shape in ("one_pole", "none"):
        return slow.renamed(name)
    if found.shape.endswith("_open"):
        floor = 0.5 * float(np.median([reading.longest_s for reading in found.readings]))
        return Estimate.at_least(name, floor, unit="s", n=n)
    value, u = _pool([fit.smoothing_s for fit in found.fits], [fit.u_smoothing_s for fit in found.fits])
    u = float(np.hypot(np.hypot(u, _model_spread(found, lambda fit: fit.smoothing_s)), _u_of_drive(found)))
    if not np.isfinite(u):
        return Estimate.not_resolved(name, unit="s", n=n)
    return Estimate.measured(name, value, u=u, unit="s", n=n, dof=_dof(found))


def _dead_time(found: DirectionFits) -> Estimate:
    name, n, window = "dead_time", len(found.fits), found.fits[0].window
    if not window.driven or not found.fits_well:
        return Estimate.not_resolved(name, unit="s", n=n)
    resolution = window.interval_s / np.sqrt(12)
    if not found.fits[0].spec.dead:
        tried = [fits for _, fits in found.choice.rivals if fits[0].spec == replace(found.fits[0].spec, dead=True)]
        reach = [fit.dead_s + 1.96 * fit.u_dead_s for fits in tried for fit in fits]
        bound = max([*reach, 2 * resolution]) if reach else window.interval_s
        return (
            Estimate.at_most(name, bound, unit="s", n=n)
            if np.isfinite(bound)
            else Estimate.not_resolved(name, unit="s")
        )
    value, u = _pool([fit.dead_s for fit in found.fits], [fit.u_dead_s for fit in found.fits])
    if window.drive_duration_s < 3 * window.interval_s:
        u = float(np.hypot(u, 2 * resolution))
    if not np.isfinite(u):
        return Estimate.not_resolved(name, unit="s", n=n)
    if value - 1.96 * u <= 0:
        return Estimate.at_most(name, max(value + 1.96 * u, resolution), unit="s", n=n)
    return Estimate.measured(name, value, u=u, unit="s", n=n, dof=_dof(found))


def _area(found: DirectionFits) -> Estimate | None:
    if not found.fits[0].window.driven or found.settled_fraction < 0.99 or not found.fits[0].window.settled_start:
        return None
    value, u = _pool(*zip(*(area_delay(fit) for fit in found.fits), strict=True))
    return Estimate.measured("area_delay", value, u=u, unit="s", n=len(found.fits))


def _mean_delay(found: DirectionFits, smoothing: Estimate, dead: Estimate, area: Estimate | None) -> Estimate:
    """Dead time plus smoothing where a model explains the edge, the area where none does."""
    if not found.fits_well or not smoothing.is_ok:
        return _by_area(found, smoothing, area)
    late = dead if dead.is_ok else None
    if late is None or late.value is None or late.u is None or smoothing.value is None or smoothing.u is None:
        return smoothing.renamed("mean_delay")
    both = [fit.dead_s + fit.smoothing_s for fit in found.fits]
    value, u = _pool(both, [_u_sum(fit) for fit in found.fits])
    return Estimate.measured("mean_delay", value, u=u, unit="s", n=smoothing.n, dof=smoothing.dof)


def _by_area(found: DirectionFits, smoothing: Estimate, area: Estimate | None) -> Estimate:
    if area is None or area.value is None or area.u is None:
        return smoothing.renamed("mean_delay")
    if found.fits_well and area.value - 1.96 * area.u <= 0:
        bound = max(area.value + 1.96 * area.u, smoothing.bound or 0.0)
        return Estimate.at_most("mean_delay", bound, unit="s", n=area.n)
    return area.renamed("mean_delay")


def _u_sum(fit: ModelFit) -> float:
    """Standard uncertainty of dead time plus smoothing, which are known better together than apart."""
    n = fit.spec.n_shape
    if fit.spec.weak or fit.spec.shape == "second_order":
        return float(np.hypot(fit.u_dead_s, fit.u_smoothing_s))
    slope = np.zeros(fit.fit.theta.size)
    slope[:n] = np.exp(fit.fit.theta[:n])
    slope[n] = fit.scale_s
    c = fit.fit.covariance[: slope.size, : slope.size]
    return float(np.sqrt(max(float(slope @ c @ slope), 0.0) * fit.correlation))


def _transition(found: DirectionFits) -> Estimate:
    name, n = "transition_10_90", len(found.fits)
    complete = [reading for reading in found.readings if reading.transition is not None]
    if len(complete) < 0.5 * len(found.readings) or found.settled_fraction < SETTLED:
        longest = float(np.median([reading.longest_s for reading in found.readings]))
        return Estimate.at_least(name, longest, unit="s", n=n)
    durations = [reading.transition.duration for reading in complete if reading.transition]
    value, u = _pool(durations, [reading.u_duration_s for reading in complete])
    return Estimate.measured(name, value, u=u, unit="s", n=len(complete))


def _step_transition(found: DirectionFits, slow: Estimate) -> Estimate:
    """The 10-90 % duration that an ideal step would give."""
    name, n = "step_transition_10_90", len(found.fits)
    if not found.fits_well:
        return _refused(name, found)
    if found.shape in ("one_pole", "none"):
        return _times(slow, float(np.log(9.0))).renamed(name)
    if found.shape == "two_pole" and slow.is_ok and slow.value and slow.u is not None:
        value = float(np.median([transition_10_90(fit.poles_s) for fit in found.fits]))
        relative = slow.u / slow.value
        return Estimate.measured(name, value, u=value * min(relative, 1.0), unit="s", n=n)
    return Estimate.not_resolved(name, unit="s", n=n)


def _times(estimate: Estimate, factor: float) -> Estimate:
    scaled = {
        key: getattr(estimate, key) * factor for key in ("value", "u", "bound") if getattr(estimate, key) is not None
    }
    return replace(estimate, **scaled)


def _settled(found: DirectionFits) -> Estimate:
    name, n = "settled_fraction", len(found.fits)
    if found.shape == "ramp_open" or not found.fits_well:
        return Estimate.not_resolved(name, unit="fraction", n=n)
    u = float(np.median([reading.u_settled for reading in found.readings]))
    if not np.isfinite(u) or u > 0.25:
        return Estimate.not_resolved(name, unit="fraction", n=n)
    return Estimate.measured(name, found.settled_fraction, u=u, unit="fraction", n=n)


def _second_order_extra(found: DirectionFits) -> dict[str, Estimate]:
    if found.shape != "second_order" or not found.fits_well:
        return {}
    period, u_period = _pool([fit.fit.theta[0] for fit in found.fits], [fit.u_log[0] for fit in found.fits])
    damping, u_damping = _pool([fit.fit.theta[1] for fit in found.fits], [fit.u_log[1] for fit in found.fits])
    f, z = float(np.exp(-period) / (2 * np.pi)), float(np.exp(damping))
    return {
        "natural_frequency": Estimate.measured("natural_frequency", f, u=f * u_period, unit="Hz", n=len(found.fits)),
        "envelope_decay": _slowest(found).renamed("envelope_decay"),
        "damping_ratio": Estimate.measured("damping_ratio", z, u=z * u_damping, unit="1", n=len(found.fits)),
    }


def _level_extra(found: DirectionFits) -> dict[str, Estimate]:
    """State levels before and after, and for a weak sink the shape's own numbers."""
    firsts, lasts = zip(*(fit.levels for fit in found.fits), strict=True)
    extra = {"level_before": _level("level_before", firsts, found)}
    if found.settled_fraction > SETTLED or found.fits_well:
        extra["level_after"] = _level("level_after", lasts, found)
    fit = found.fits[0]
    if fit.spec.weak and found.shape != "ramp_open" and fit.window.swing:
        length = float(np.median([np.exp(one.fit.theta[0]) for one in found.fits]))
        u = length * float(np.median([one.u_log[0] for one in found.fits]))
        name = "sink_time_constant" if found.shape.startswith("to_ground") else "ramp_duration"
        extra[name] = Estimate.measured(name, length, u=u, unit="s", n=len(found.fits))
    return extra


def _level(name: str, values: Sequence[float], found: DirectionFits) -> Estimate:
    u = float(np.median([fit.u_last for fit in found.fits])) / np.sqrt(len(values))
    if not np.isfinite(u):
        return Estimate.not_resolved(name, unit="V")
    return Estimate.measured(name, float(np.median(values)), u=u, unit="V", n=len(values))
