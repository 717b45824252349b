"""From the joint fit to what is said about one axis in one direction, with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.hand.gate_stop.agreement import disagreement_u, joined
from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.doubts import rim_terms, softness_u
from feelcheck.hand.gate_stop.joint_fit import shared_covariances
from feelcheck.hand.gate_stop.numbers import (
    CREEP_TAIL_S,
    LARGEST_NEAR_U,
    LARGEST_RELATIVE_U,
    LEAST_BOUND_INTERVALS,
    MEMORY_U,
    MIN_TO_NAME,
    NEAR_INTERVALS,
    OK_FROM_INTERVALS,
    OPEN_SPREAD,
    SHORT_U_S,
    SILLY,
    SILLY_S,
    SOFT_U,
    SPLIT,
    STOP_SHOWS_S,
    SYSTEMATIC,
)
from feelcheck.hand.gate_stop.recursive import (
    recursive_caveat,
    recursive_delay_s,
    recursive_order,
    undecided_u_s,
)
from feelcheck.hand.gate_stop.released import NOTHING_RELEASED, Released
from feelcheck.hand.gate_stop.remarks import (
    AMBIGUOUS,
    BELOW,
    BETWEEN,
    KEPT_WITH_A_LIMIT,
    ONE_AXIS,
    SOFT,
    THROUGH_RIM,
    UNDECIDED,
    UNSURE,
)
from feelcheck.hand.gate_stop.residual_structure import residual_terms
from feelcheck.hand.gate_stop.rest_memory import is_white, longer_than
from feelcheck.hand.gate_stop.rim_check import Wall
from feelcheck.hand.gate_stop.search import Found
from feelcheck.hand.gate_stop.speed import DEPENDS_ON_SPEED, SpeedLaw, creeps_on, speed_law
from feelcheck.model import Caveat, Estimate, Finding, FloatArray
from feelcheck.model.quantities import Direction
from feelcheck.numerics.one_pole import LN9, transition_10_90
from feelcheck.numerics.uncertainty import combined, coverage_factor

__all__ = ["DirectionFindings", "pool_direction", "unresolved"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectionFindings:
    """What is said about one axis in one direction."""

    findings: tuple[Finding, ...]
    smoothing_delay: Estimate
    poles: tuple[Estimate, ...]
    model: str
    own_relative_u: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pool:
    """The fit of one group: logs of its poles with covariance, and what goes with them."""

    tau_s: FloatArray
    covariances: Mapping[str, FloatArray]
    average_s: float
    between_s: float
    interval_s: float
    n: int
    tau_spread: float
    delay_spread: float
    u_steps_s: float
    bound_s: float
    confirmed: bool
    longest_s: float
    caveats: tuple[Caveat, ...]

    @property
    def covariance(self) -> FloatArray:
        return np.asarray(sum(self.covariances.values()))

    @property
    def delay_s(self) -> float:
        return float(self.tau_s.sum()) + self.average_s + self.between_s

    @property
    def dof(self) -> float:
        return float(max(self.n - 1, 1))


def unresolved(name: str, direction: Direction, why: Caveat, n: int) -> DirectionFindings:
    """Return not_resolved for everything, with the reason.

    Parameters
    ----------
    name : str
        Name of the axis.
    direction : Direction
        Which way the code goes.
    why : Caveat
        The reason.
    n : int
        How many flicks there were.
    """
    delay = Estimate.not_resolved("smoothing_delay", unit="s", n=n, caveats=(why,))
    others = [delay.renamed(key) for key in ("time_constant", "transition_10_90", "mean_delay")]
    return DirectionFindings(
        findings=_placed([*others, delay], name, direction), smoothing_delay=delay, poles=(), model="none"
    )


def _placed(estimates: list[Estimate], name: str, direction: Direction) -> tuple[Finding, ...]:
    return tuple(Finding(estimate=e, axis=name, direction=direction, group="response") for e in estimates)


def pool_direction(
    chosen: Chosen,
    g: int,
    name: str,
    direction: Direction,
    wall: Wall,
    *,
    both: bool,
    memory_s: float = math.nan,
    scatter_s: float = 0.0,
    returns: Released = NOTHING_RELEASED,
) -> DirectionFindings:
    """Return what the flicks of one group say.

    Parameters
    ----------
    chosen : Chosen
        The chosen fit of the stick.
    g : int
        The group.
    name, direction : str
        Axis and electrical direction.
    wall : Wall
        What the rim says; a value outside is none.
    both : bool
        Whether both axes of the stick were logged.
    memory_s : float, s
        How long the noise at rest remembers itself; NaN where it cannot be told.
    scatter_s : float, s
        Standard deviation of the time stamps about a report clock that could not be recovered.
    returns : Released
        What the ways back say.

    Notes
    -----
    Standard uncertainty: the spread of the flicks' scores about the joint fit (a sandwich estimate, flicks as
    clusters) or the fit's own curvature, whichever is larger; the difference between candidates that fit about as well;
    and a part for motion at the rim. Where the stick rings on its way back, that is weighed in. Degrees of freedom:
    flicks - 1.
    """
    law, trails = speed_law(chosen, g), bool(wall.brackets.trails[g])
    pool = _pooled(chosen, g, scatter_s, wall, returns, both=both)
    if longer_than(memory_s, float(chosen.delay_s[g]), pool.interval_s):
        return _changing(pool, name, direction, memory_s)
    quick = float(chosen.delay_s[g]) < CREEP_TAIL_S
    if quick and not scatter_s and trails and creeps_on(chosen.best) and not is_white(memory_s, pool.interval_s):
        return _changing(pool, name, direction)
    if law.slow is not None and trails:
        return _over_speed(pool, name, direction, law)
    why = _against_rim(pool, g, wall)
    if why:
        decided: tuple[str, ...] = ("STOP_SHOWS_S",) if why is SOFT else ()
        return _limited(pool, name, direction, _longest_s(pool, wall, g), why, decided)
    if _below(pool):
        short = pool.delay_s < NEAR_INTERVALS * pool.interval_s
        bound_s = min(_longest_s(pool, wall, g), pool.bound_s if short and wall.stops[g] else math.inf)
        decided = _why_too_short(pool)
        return _limited(pool, name, direction, bound_s, BELOW if short else AMBIGUOUS, decided)
    return _told(pool, name, direction, _model_name(chosen))


def _told(pool: _Pool, name: str, direction: Direction, model: str) -> DirectionFindings:
    """Return what is told where the flicks tell a value."""
    delay = _of_poles(
        pool, "smoothing_delay", lambda tau: float(tau.sum()) + pool.average_s + pool.between_s, pool.delay_spread
    )
    poles = tuple(_pole(pool, i) for i in np.argsort(-pool.tau_s).tolist())
    length_s = 2 * pool.average_s + pool.interval_s if pool.average_s > 0 else 0.0
    transition = _of_poles(
        pool,
        "transition_10_90",
        lambda tau: transition_10_90([float(v) for v in tau], length_s),
        0.5 * pool.delay_spread,
    )
    time_constant = _time_constant(pool, poles[0], delay)
    delay = delay.with_caveats(*_of_models(pool, told=time_constant.value is not None))
    estimates = [
        time_constant,
        transition,
        delay,
        delay.renamed("mean_delay"),
    ]
    return DirectionFindings(
        findings=_placed(estimates, name, direction),
        smoothing_delay=delay,
        poles=poles,
        model=model,
        own_relative_u=_own_relative_u(pool, delay),
    )


def _of_models(pool: _Pool, *, told: bool) -> tuple[Caveat, ...]:
    """Return what the candidates leave open of the delay beside a time constant that is told or limited."""
    if pool.delay_spread > OPEN_SPREAD:
        return (AMBIGUOUS if told else UNDECIDED,)
    return (BETWEEN,) if pool.between_s else ()


def _own_relative_u(pool: _Pool, delay: Estimate) -> float:
    """Return the relative uncertainty of the delay without what both directions have in common."""
    assert delay.value is not None
    assert delay.u is not None
    return math.sqrt(max((delay.u / delay.value) ** 2 - pool.delay_spread**2, 1e-8))


def _longest_s(pool: _Pool, wall: Wall, g: int) -> float:
    """Return the longest delay that neither the rim nor the way back forbids, s."""
    return min(float(wall.longest_s[g]), pool.longest_s)


def _against_rim(pool: _Pool, g: int, wall: Wall) -> Caveat | None:
    """Return what at the rim speaks against a value, if anything does."""
    if not wall.brackets.holds(g, pool.delay_s):
        return THROUGH_RIM
    return SOFT if pool.delay_s > STOP_SHOWS_S and not wall.stops[g] and not pool.confirmed else None


def _pole(pool: _Pool, i: int) -> Estimate:
    """Return one pole; how the delay is shared out between poles and average is less sure than their sum."""
    split = SPLIT * max(1.0 - float(pool.tau_s.max()) / pool.delay_s, 0.0)
    return _of_poles(pool, "pole", lambda tau: float(tau[i]), math.hypot(pool.tau_spread, split))


def _time_constant(pool: _Pool, pole: Estimate, delay: Estimate) -> Estimate:
    """Return the slowest pole as the time constant, or a limit where a firmware average hides it.

    No pole is longer than the whole smoothing delay.
    """
    assert pole.value is not None
    assert pole.u is not None
    relative = pole.u / pole.value
    if not _too_short(pole.value, relative, pool.interval_s):
        return pole.renamed("time_constant")
    why = Caveat(
        code="mostly_average",
        text="The response is nearly that of a moving average in the firmware; its pole can only be limited.",
        advice="Look at the smoothing delay instead.",
    )
    bound_s = min(max(_at_most(pole), LEAST_BOUND_INTERVALS * pool.interval_s), _at_most(delay))
    return Estimate.at_most("time_constant", bound_s, unit="s", n=pool.n, caveats=(why, *pool.caveats))


def _at_most(estimate: Estimate) -> float:
    """Return the upper end of a value's interval."""
    assert estimate.value is not None
    assert estimate.u is not None
    return estimate.value * math.exp(min(coverage_factor(estimate.dof) * estimate.u / estimate.value, 3.0))


def _pooled(chosen: Chosen, g: int, scatter_s: float, wall: Wall, returns: Released, *, both: bool) -> _Pool:
    found = chosen.best
    fit, m = found.fit, chosen.shape.n_poles
    interval_s = found.batch.interval_s
    n = found.batch.used_rows(g).size
    own = slice(g * m, (g + 1) * m)
    inverse, sandwich = shared_covariances(fit, n)
    covariance = max(inverse[own, own], sandwich[own, own], key=np.trace)
    covariances = {"scatter of the flicks": covariance, **_from_motion(chosen, g, scatter_s, wall)}
    bound_s = _bound_s(chosen, g, 1.0, covariances)
    least_u = SHORT_U_S / max(float(fit.tau_s[g].sum()), 1e-9)
    covariances[SHORT_U_S.sets] = least_u**2 * np.ones((m, m))
    both_ways = joined(fit.tau_s[g], float(chosen.delay_s[g]), covariances, returns, g)
    bound_s = max(bound_s, _bound_s(chosen, g, both_ways.scale, both_ways.covariances))
    tau_s, covariance = both_ways.scale * fit.tau_s[g], np.asarray(sum(both_ways.covariances.values()))
    of_poles = _relative_u(tau_s, covariance) * float(fit.tau_s[g].sum() / chosen.delay_s[g])
    whole_u = math.hypot(of_poles, chosen.delay_spread(g))
    kept = min(1.0, wall.relative_u(g, chosen.longest_other_s(g)) / max(whole_u, 1e-9))
    order = _recursive_order(chosen)
    less_s, u_steps_s = recursive_delay_s(order, interval_s) if order else (0.0, 0.0)
    if not order and chosen.shape.n_average == 1:
        us = np.sqrt(np.diag(covariance)).tolist()
        alone = zip((tau_s / interval_s).tolist(), us, strict=True)
        u_steps_s = max(undecided_u_s([tau], [u], interval_s) for tau, u in alone)
    caveats = (
        ((recursive_caveat(order, behind_pole=m == 2),) if order else ())
        + (() if both else (ONE_AXIS,))
        + ((SOFT,) if _soft_u(found, g, wall) > SYSTEMATIC else ())
    )
    return _Pool(
        tau_s=tau_s,
        covariances={words: kept**2 * own for words, own in both_ways.covariances.items()},
        average_s=0.5 * (chosen.shape.n_average - 1) * interval_s * both_ways.scale - less_s,
        between_s=0.0 if order else math.expm1(chosen.between) * float(tau_s.sum()),
        u_steps_s=u_steps_s,
        interval_s=max(interval_s, wall.held_s),
        n=n,
        tau_spread=chosen.spread(chosen.tau_ratios, g),
        delay_spread=kept * chosen.delay_spread(g),
        bound_s=bound_s,
        confirmed=both_ways.confirmed,
        longest_s=both_ways.longest_s,
        caveats=caveats,
    )


def _from_motion(chosen: Chosen, g: int, scatter_s: float, wall: Wall) -> dict[str, FloatArray]:
    """Return covariances of the logarithms of the poles from motion that the fit cannot tell, by words."""
    m = chosen.shape.n_poles
    each_pole = {**rim_terms(chosen, g, scatter_s), SOFT_U.sets: _soft_u(chosen.best, g, wall)}
    all_poles = {
        "other motions at the rim": chosen.rim_spread(g),
        "flicks that disagree by half": disagreement_u(chosen, g),
        **residual_terms(chosen.best, g),
    }
    alone = {words: u**2 * np.eye(m) for words, u in each_pole.items()}
    return alone | {words: u**2 * np.ones((m, m)) for words, u in all_poles.items()}


def _soft_u(found: Found, g: int, wall: Wall) -> float:
    """Return what a stop without an edge leaves in doubt, relative; nothing where the rim stopped the stick."""
    return 0.0 if wall.stops[g] else softness_u(found, g)


def _model_name(chosen: Chosen) -> str:
    if not _recursive_order(chosen):
        return chosen.shape.name
    return "recursive" if chosen.shape.n_poles == 1 else "pole_recursive"


def _recursive_order(chosen: Chosen) -> int | None:
    """Return k where the one pole, or one of two, is that of a filter y += (x - y) / 2^k in all directions."""
    found = chosen.best
    if chosen.shape.n_average > 1:
        return None
    told = [g for g in range(N_GROUPS) if found.batch.used_rows(g).size >= MIN_TO_NAME]
    variance = np.diag(shared_covariances(found.fit, found.batch.n_flicks)[1]).reshape(found.fit.tau_s.shape)
    by_size = np.argsort(found.fit.tau_s, axis=1)
    taus, variances = (np.take_along_axis(each, by_size, axis=1)[told] for each in (found.fit.tau_s, variance))
    reports, us = taus / found.batch.interval_s, np.sqrt(variances + SYSTEMATIC**2)
    orders = (recursive_order(own.tolist(), own_u.tolist()) for own, own_u in zip(reports.T, us.T, strict=True))
    return next((order for order in orders if order), None)


def _relative_u(tau_s: FloatArray, covariance: FloatArray) -> float:
    """Return the relative standard uncertainty of the sum of the poles from the covariance of their logarithms."""
    share = tau_s / tau_s.sum()
    return math.sqrt(max(float(share @ covariance @ share), 0.0))


def _bound_s(chosen: Chosen, g: int, scale: float, covariances: Mapping[str, FloatArray]) -> float:
    """Return the 97.5 % upper limit of the smoothing delay, s, with all times of the fit multiplied.

    A thumb that yields is added to it, not a part of its factor.
    """
    delay_s, tau_s = scale * float(chosen.delay_s[g]), scale * chosen.best.fit.tau_s[g]
    of_poles = _relative_u(tau_s, np.asarray(sum(own for by, own in covariances.items() if by != SHORT_U_S.sets)))
    relative = min(math.hypot(of_poles, chosen.delay_spread(g)), 1.5)
    factor = coverage_factor(max(chosen.best.batch.used_rows(g).size - 1, 1))
    stretched = delay_s + math.hypot(delay_s * math.expm1(min(factor * relative, 3.0)), factor * SHORT_U_S)
    return max(stretched, LEAST_BOUND_INTERVALS * chosen.best.batch.interval_s)


def _below(pool: _Pool) -> bool:
    """Whether only an upper limit can be given."""
    relative = _relative_u(pool.tau_s, pool.covariance) * float(pool.tau_s.sum()) / pool.delay_s
    return _too_short(pool.delay_s, math.hypot(relative, pool.delay_spread), pool.interval_s)


def _why_too_short(pool: _Pool) -> tuple[str, ...]:
    """Return the names of the numbers by which only a limit can be given."""
    if pool.delay_s < OK_FROM_INTERVALS * pool.interval_s:
        return ("OK_FROM_INTERVALS",)
    near = pool.delay_s < NEAR_INTERVALS * pool.interval_s
    return ("NEAR_INTERVALS", "LARGEST_NEAR_U") if near else ("LARGEST_RELATIVE_U",)


def _too_short(value_s: float, relative_u: float, interval_s: float) -> bool:
    """Tell whether a response is too short, or too unsure near the report interval, for more than a limit."""
    near = value_s < NEAR_INTERVALS * interval_s
    return value_s < OK_FROM_INTERVALS * interval_s or relative_u > (LARGEST_NEAR_U if near else LARGEST_RELATIVE_U)


def _changing(pool: _Pool, name: str, direction: Direction, memory_s: float = math.nan) -> DirectionFindings:
    """Return no single value where the smoothing grows as the stick slows, but what it is at speed and at rest.

    At speed it is at least what was fitted; where the noise at rest is longer remembered, that tells the other end.
    """
    nothing = unresolved(name, direction, DEPENDS_ON_SPEED, pool.n)
    least_s = float(pool.tau_s.max()) * math.exp(-coverage_factor(pool.dof) * _relative_u(pool.tau_s, pool.covariance))
    ends = [Estimate.at_least("time_constant_fast_flicks", least_s, unit="s", n=pool.n, caveats=(DEPENDS_ON_SPEED,))]
    if not math.isnan(memory_s):
        u, by, caveats = MEMORY_U * memory_s, MEMORY_U.sets, (DEPENDS_ON_SPEED,)
        ends.append(Estimate.measured("time_constant_at_rest", memory_s, u=u, unit="s", n=1, caveats=caveats, by=by))
    return replace(nothing, findings=(*nothing.findings, *_placed(ends, name, direction)))


def _over_speed(pool: _Pool, name: str, direction: Direction, law: SpeedLaw) -> DirectionFindings:
    """Return no single value but those at the slow and the fast end of the flicks."""
    nothing = unresolved(name, direction, DEPENDS_ON_SPEED, pool.n)
    return replace(nothing, findings=(*nothing.findings, *_placed(law.estimates(pool.caveats), name, direction)))


def _limited(
    pool: _Pool, name: str, direction: Direction, bound_s: float, why: Caveat, decided_by: tuple[str, ...] = ()
) -> DirectionFindings:
    """Return an upper limit, or nothing where it would limit nothing."""
    bound_s = max(bound_s, LEAST_BOUND_INTERVALS * pool.interval_s)
    if bound_s > min(SILLY * (pool.delay_s + pool.interval_s), SILLY_S):
        return unresolved(name, direction, UNSURE, pool.n)
    caveats = (why, *(c for c in pool.caveats if c.code in KEPT_WITH_A_LIMIT))

    def limit(quantity: str, bound_s: float) -> Estimate:
        estimate = Estimate.at_most(quantity, bound_s, unit="s", n=pool.n, caveats=caveats)
        return estimate.because(*decided_by)

    delay = limit("smoothing_delay", bound_s)
    estimates = [
        limit("time_constant", bound_s),
        limit("transition_10_90", LN9 * bound_s),
        delay,
        delay.renamed("mean_delay"),
    ]
    return DirectionFindings(
        findings=_placed(estimates, name, direction), smoothing_delay=delay, poles=(), model="none"
    )


def _of_poles(pool: _Pool, quantity: str, of: Callable[[FloatArray], float], spread: float) -> Estimate:
    """Return a quantity computed from the poles with its propagated uncertainty; `spread` is that of the candidates."""
    value = of(pool.tau_s)
    slope = np.empty(pool.tau_s.size)
    for i in range(pool.tau_s.size):
        moved = pool.tau_s.copy()
        moved[i] *= 1.001
        slope[i] = (of(moved) - value) / 0.001
    of_average = 0.01 * pool.average_s + 0.02 * pool.interval_s if pool.average_s > 0 else 0.0
    parts = {words: math.sqrt(max(float(slope @ own @ slope), 0.0)) for words, own in pool.covariances.items()}
    parts["other models that fit about as well"] = abs(spread * value)
    u, terms = combined({**parts, "length of the average": of_average, "pole or filter in steps": pool.u_steps_s})
    return Estimate.measured(
        quantity, value, u=u, unit="s", n=pool.n, dof=pool.dof, scale="log", caveats=pool.caveats, terms=terms
    )
