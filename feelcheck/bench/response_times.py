"""Time constants of one direction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.bench.bounds import largest_pole_s
from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.fit import ModelFit
from feelcheck.bench.nuisance import bent_spread, nuisance_spread
from feelcheck.bench.numbers import (
    ALIKE_MISFIT,
    BENT,
    CURVED,
    GAP_SHARE,
    LONG_FOR_WINDOW,
    RESOLUTION,
    SAME_DECAY,
    SETTLED,
    TOO_VAGUE,
    VAGUE,
)
from feelcheck.bench.pooling import (
    NOISE_OVER_EDGES,
    OTHER_MODELS,
    degrees_of_freedom,
    model_spread,
    over_clips,
    pool,
    start_terms,
)
from feelcheck.model import Caveat, Estimate, FloatArray
from feelcheck.numerics.one_pole import LN9
from feelcheck.numerics.uncertainty import NORMAL_95, combined

__all__ = ["part_at_once", "pole_estimates", "refused", "second_order_extra", "time_constant"]

LIKE_DRIVE = Caveat(
    code="like_drive",
    text="The pole is as slow as the drive: either the sensor saturates early, or a quicker pole follows the drive. The"
    " time constant is an upper limit.",
    advice="Step the field by less, or more quickly, and see which of the two changes.",
)
RINGS = Caveat(
    code="ringing",
    text="The output rings: no single time constant describes it; natural frequency, damping and envelope are given.",
    advice="Look for an inductance, a long probe ground lead, or a control loop.",
)
AVERAGES = Caveat(
    code="moving_average",
    text="The output follows the drive as a moving average does, in a straight line over twice its smoothing delay: no"
    " time constant describes it.",
    advice="Compare smoothing delays.",
)
POLE_AND_AVERAGE = Caveat(
    code="pole_and_average",
    text="The output follows the drive through a pole and a moving average: the time constant is the pole's alone, the"
    " smoothing delay that of both.",
    advice="Look for averaging, oversampling or a digital filter among the sensor's and the scope's settings.",
)
WITHOUT_POLE = {"second_order": RINGS, "average": AVERAGES}
WEAK = Caveat(
    code="weak_sink",
    text="The output discharges through a weak sink: a straight line or a cut exponential has no time constant.",
    advice="Compare mean delays, with the swing they were taken at.",
)
LINE = Caveat(
    code="straight_line",
    text="The output runs along a straight line or a cut exponential, which has no time constant: a weak output does"
    " that, and so does a drive that was not recorded.",
    advice="Record the drive on a second channel.",
)
UNFINISHED = Caveat(
    code="unfinished_edge",
    text="The edge ends too early to tell a slow pole from the discharge through a weak output.",
    advice="Record a longer half-period, so that the output arrives.",
)
DRIFT = Caveat(
    code="levels_drift",
    text="The output drifts along a straight line beside the edge; the line was fitted with the edge and left out.",
    advice="Look for warming up, a drifting supply or a slow second stage, whose line would be bent.",
)
HUM = Caveat(
    code="mains_hum",
    text="The output carries mains hum; it was fitted with the edge and left out.",
    advice="Shorten the ground lead, keep the bench away from transformers, or average with the trigger on the drive.",
)
CAPPED = Caveat(
    code="flat_top",
    text="The output stops at a flat level before it arrives (a rail, or the range of converter or scope): only the"
    " part before it was fitted.",
    advice="Give the channel more range, or lower the drive.",
)
TAIL = Caveat(
    code="slow_tail",
    text="A small part of the edge goes on far slower than the rest; the time constant is that of the main part.",
    advice="Look for a capacitor that soaks (electrolytic), warming up, or a second, loosely tied stage.",
)
AT_ONCE = Caveat(
    code="part_at_once",
    text="A part of the output follows the drive at once, beside the pole; the time constant is the pole's own.",
    advice="Look for a resistance in series with the capacitor, a wire that picks up the coil, or a slow drive probe.",
)
AC_COUPLED = Caveat(
    code="ac_coupled",
    text="The output sags back after the edge as behind a coupling capacitor; the sag was fitted with the edge and left"
    " out.",
    advice="Set the scope's input to DC coupling: levels and swing are not the sensor's own behind a capacitor.",
)
TWO_WAYS = Caveat(
    code="two_ways",
    text="The output follows along two poles side by side; the time constant is that of the slower one that carries a"
    " fifth of the edge or more.",
    advice="Look for eddy currents in core or housing, or a second stage that is loosely tied.",
)
DECAYS = Caveat(
    code="does_not_fit",
    text="No pole, pair of poles, ring or weak-sink shape explains this edge.",
    advice="Look at the capture: hum, a second edge, a limited probe or an over-range channel bend the curve.",
)


def refused(quantity: str, found: DirectionFits) -> Estimate:
    """Return a time that no model gives, in s, with the reason.

    Parameters
    ----------
    quantity : str
        Name of the quantity.
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    return Estimate.not_resolved(quantity, unit="s", n=len(found.fits), caveats=(DECAYS,))


def time_constant(found: DirectionFits) -> Estimate:
    """Return the slowest pole's time constant, s; refused where no single one describes the edges.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    name, n = "time_constant", len(found.fits)
    if not found.fits_well:
        return _within_samples(found) or refused(name, found)
    if found.fits[0].spec.weak:
        return Estimate.not_resolved(name, unit="s", n=n, caveats=(WEAK if found.fits[0].window.driven else LINE,))
    if found.shape in WITHOUT_POLE:
        return Estimate.not_resolved(name, unit="s", n=n, caveats=(WITHOUT_POLE[found.shape],))
    return _slowest(found)


def _within_samples(found: DirectionFits) -> Estimate | None:
    """Return an upper limit for an edge without a drive that takes too few samples to have a shape."""
    window = found.fits[0].window
    if window.driven or window.duration_s > 4 * window.interval_s or found.settled_fraction < SETTLED:
        return None
    bound = (window.duration_s + 2 * window.interval_s) / LN9
    return Estimate.at_most("time_constant", bound, unit="s", n=len(found.fits)).because("SETTLED")


def _slowest(found: DirectionFits) -> Estimate:
    """The slowest pole's time constant, or the decay of a ring's envelope."""
    name, n = "time_constant", len(found.fits)
    if found.shape == "none":
        return Estimate.at_most(name, largest_pole_s(found.fits), unit="s", n=n).because("CHI2")
    mean, u = _pooled_log(found.fits)
    if np.isfinite(u):
        mean, u = over_clips(found, mean, u, _pooled_log)
    tau = float(np.exp(mean))
    spread = model_spread(found, lambda fit: fit.main_pole_s)
    u, terms = combined(
        {
            NOISE_OVER_EDGES: u * tau,
            OTHER_MODELS: spread,
            **start_terms(found),
            "drift and other effects beside the edge": tau * nuisance_spread(found.fits, _main_slope),
            CURVED.sets: tau * bent_spread(found.fits, _main_slope),
            GAP_SHARE.sets: _u_between_samples(found, tau),
        }
    )
    if not np.isfinite(u) or tau - NORMAL_95 * u <= 0 or _at_fast_bound(found):
        return _bounded(found, tau, u)
    like_drive = _may_be_drive(found, tau)
    if like_drive or _between_samples(found, tau) or (u > TOO_VAGUE * tau and found.settled_fraction > SETTLED):
        bound = max(tau + NORMAL_95 * u, found.fits[0].window.interval_s)
        why = "SAME_DECAY" if like_drive else "RESOLUTION" if _between_samples(found, tau) else "TOO_VAGUE"
        return Estimate.at_most(name, bound, unit="s", n=n, caveats=(LIKE_DRIVE,) * like_drive).because(why)
    if found.shape_unclear:
        floor = 0.5 * float(np.median([reading.longest_s for reading in found.readings]))
        return Estimate.at_least(name, min(floor, tau), unit="s", n=n, caveats=(UNFINISHED,)).because("SETTLED")
    if (u > VAGUE * tau and found.settled_fraction < SETTLED) or _hardly_bent(found):
        why = "BENT" if _hardly_bent(found) else "VAGUE"
        return Estimate.at_least(name, tau * float(np.exp(-NORMAL_95 * u / tau)), unit="s", n=n).because(why)
    spec = found.fits[0].spec
    # A remark times a truth value is there or is not.
    besides = (DRIFT,) * spec.drift + (HUM,) * (spec.hum_hz > 0) + (TAIL,) * found.fits[0].has_tail
    besides += (AC_COUPLED,) * spec.coupled
    besides += (TWO_WAYS if spec.n_shape == 2 else AT_ONCE,) * (spec.zero and not found.fits[0].has_tail)
    besides += (POLE_AND_AVERAGE,) * (spec.shape == "pole_and_average")
    besides += (CAPPED,) * found.fits[0].window.is_capped
    dof = degrees_of_freedom(found)
    return Estimate.measured(name, tau, u=u, unit="s", n=n, dof=dof, caveats=besides, terms=terms)


def _main_slope(fit: ModelFit) -> FloatArray:
    """Slope of the main time constant's logarithm by all parameters."""
    slope = np.zeros(fit.n_parameters)
    slope[fit.main] = 1.0
    return slope


def _pooled_log(fits: Sequence[ModelFit]) -> tuple[float, float]:
    """Logarithm of the main time constant over all edges, and its standard uncertainty."""
    return pool([float(np.log(fit.main_pole_s)) for fit in fits], [_u_slowest(fit) for fit in fits])


def _u_between_samples(found: DirectionFits, tau: float) -> float:
    """What a drive of fewer than three samples may do between them, s: it adds to the spread of the response, not to
    its end, and the less the longer that takes.
    """
    window = found.fits[0].window
    return 0.0 if window.drive_is_resolved or not window.driven else GAP_SHARE * window.interval_s**2 / tau


def _may_be_drive(found: DirectionFits, tau: float) -> bool:
    """Whether the pole found may be the drive's own exponential: a sensor that saturates early takes the drive for a
    step, so that drive and pole change places.
    """
    best = found.choice.best[0]
    own = best.window.drive_duration_s / LN9
    if not best.spec.clip_high or not own > 0 or abs(np.log(tau / own)) > SAME_DECAY:
        return False
    plain = [fits[0] for _, fits in found.choice.rivals if not fits[0].spec.clip_high and fits[0].spec.n_shape == 1]
    return any(fit.misfit < ALIKE_MISFIT and fit.main_pole_s < tau * np.exp(-SAME_DECAY) for fit in plain)


def _between_samples(found: DirectionFits, tau: float) -> bool:
    """Whether a change without a resolved drive is over within a sample: its onset could be anywhere in that gap."""
    window = found.fits[0].window
    return not window.drive_is_resolved and tau < RESOLUTION * window.interval_s


def _hardly_bent(found: DirectionFits) -> bool:
    """Whether an edge without a drive shows less than the first 40 % of its way: a ramp would look like that."""
    return not found.fits[0].window.driven and found.settled_fraction < BENT


def _bounded(found: DirectionFits, tau: float, u: float) -> Estimate:
    """A time constant whose interval reaches 0 is an upper bound, one without an upper end a lower bound."""
    span = found.fits[0].window.span_s
    if tau > LONG_FOR_WINDOW * span:
        floor = max(0.5 * span, tau * float(np.exp(-NORMAL_95 * min(u / tau, 50.0))))
        return Estimate.at_least("time_constant", floor, unit="s", n=len(found.fits)).because("LONG_FOR_WINDOW")
    unseen = float(np.hypot(_u_between_samples(found, tau), tau * bent_spread(found.fits, _main_slope)))
    bound = max(largest_pole_s(found.fits), tau + NORMAL_95 * unseen)
    return Estimate.at_most("time_constant", bound, unit="s", n=len(found.fits)).because("CHI2")


def _at_fast_bound(found: DirectionFits) -> bool:
    return all(any(fit.fit.at_bound[: fit.spec.n_shape]) for fit in found.fits)


def _u_slowest(fit: ModelFit) -> float:
    if fit.spec.shape == "second_order":
        n = 2
        slope = np.array([1.0, -1.0])
        return float(np.sqrt(max(slope @ fit.fit.covariance[:n, :n] @ slope, 0.0) * fit.correlation))
    return float(fit.u_log[fit.main])


def pole_estimates(found: DirectionFits, slow: Estimate) -> tuple[Estimate, ...]:
    """Return all time constants, slowest first, s.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    slow : Estimate
        The slowest pole's time constant.
    """
    if found.shape != "two_pole" or not slow.is_ok:
        return (slow.renamed("pole"),) if slow.is_ok and found.shape == "one_pole" else ()
    if any(fit.has_tail for fit in found.fits):
        return (slow.renamed("pole"),)
    logs = [float(np.log(fit.poles_s[-1])) for fit in found.fits]
    us = [float(fit.u_log[int(np.argmin(fit.fit.theta[:2]))]) for fit in found.fits]
    mean, u = pool(logs, us)
    fast = float(np.exp(mean))
    if u > 0.5:
        return slow.renamed("pole"), Estimate.at_most("pole", fast * float(np.exp(NORMAL_95 * min(u, 5))), unit="s")
    return slow.renamed("pole"), _over_edges("pole", fast, u * fast, "s", found)


def _over_edges(name: str, value: float, u: float, unit: str, found: DirectionFits) -> Estimate:
    """A quantity whose uncertainty is what noise makes of it over all edges."""
    u, terms = combined({NOISE_OVER_EDGES: u})
    return Estimate.measured(name, value, u=u, unit=unit, n=len(found.fits), terms=terms)


def part_at_once(found: DirectionFits) -> dict[str, Estimate]:
    """Return the share of the edge that follows the drive at once; nothing where none was seen.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    if not (found.has_zero and found.shape == "one_pole" and found.fits_well):
        return {}
    share, u = pool([fit.beside_share for fit in found.fits], [fit.u_beside_share for fit in found.fits])
    if not np.isfinite(u):
        return {}
    return {"part_at_once": _over_edges("part_at_once", share, u, "fraction", found)}


def second_order_extra(found: DirectionFits) -> dict[str, Estimate]:
    """Return frequency in Hz, damping ratio and envelope decay in s of a ring; nothing for other shapes.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    if found.shape != "second_order" or not found.fits_well:
        return {}
    period, u_period = pool([fit.fit.theta[0] for fit in found.fits], [fit.u_log[0] for fit in found.fits])
    damping, u_damping = pool([fit.fit.theta[1] for fit in found.fits], [fit.u_log[1] for fit in found.fits])
    f, z = float(np.exp(-period) / (2 * np.pi)), float(np.exp(damping))
    return {
        "natural_frequency": _over_edges("natural_frequency", f, f * u_period, "Hz", found),
        "envelope_decay": _slowest(found).renamed("envelope_decay"),
        "damping_ratio": _over_edges("damping_ratio", z, z * u_damping, "1", found),
    }
