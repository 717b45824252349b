"""A drive that was not captured but whose own transition is known: taken off in front of one pole."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from feelcheck.bench.asymmetry import fall_over_rise
from feelcheck.bench.drive import NO_DRIVE
from feelcheck.bench.numbers import DRIVE_FRACTION
from feelcheck.model import BenchDirection, BenchResult, Caveat, Estimate
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.one_pole import LN9, ramp_transition_10_90, transition_10_90
from feelcheck.numerics.uncertainty import combined, coverage_factor, effective_dof, scaled_estimate

__all__ = ["behind_known_drive"]

RAMP_SHARE = 0.8
"""Share of a linear ramp between its 10 and 90 %."""


def behind_known_drive(result: BenchResult, drive_s: float) -> BenchResult:
    """Return the result with the drive's own transition taken off both directions.

    Parameters
    ----------
    result : BenchResult
        Measured without a drive: its transitions as read include the drive's.
    drive_s : float, s
        10-90 % of the drive.

    Returns
    -------
    BenchResult
        Time constant and smoothing delay of one pole behind that drive; at_most where the drive alone may explain what
        was read. A direction without a transition stays as it is.

    Notes
    -----
    The transition of a ramp, and of an exponential, of that 10-90 % behind one pole is known in closed form; the time
    constant lies between those that the two shapes give. Its uncertainty adds in squares that of the reading, 5 % of
    the drive's transition either way, and half the distance between the shapes over the root of three.
    """
    directions = {way: _without(getattr(result, way), drive_s) for way in DIRECTIONS}
    u, terms = combined({DRIVE_FRACTION.sets: DRIVE_FRACTION * drive_s / math.sqrt(3)})
    told = Estimate.measured("transition_10_90", drive_s, u=u, unit="s", terms=terms)
    return replace(
        result,
        rising=directions["rising"],
        falling=directions["falling"],
        asymmetry=fall_over_rise(directions["rising"], directions["falling"]),
        drive_transition=told,
        drive_kind="told",
        caveats=(*(caveat for caveat in result.caveats if caveat.code != NO_DRIVE.code), _told(drive_s)),
    )


def _told(drive_s: float) -> Caveat:
    return Caveat(
        code="drive_told",
        text=f"The drive's own 10 to 90 % of {1e3 * drive_s:.3g} ms was told, not captured: it is taken off as a ramp "
        "or an exponential in front of one pole.",
        advice="Record the coil current or a field reference where that is not good enough.",
    )


def _without(side: BenchDirection | None, drive_s: float) -> BenchDirection | None:
    if side is None or side.transition_10_90.value is None or side.transition_10_90.u is None:
        return side
    tau = _pole_behind(side.transition_10_90, drive_s)
    return replace(
        side,
        time_constant=tau,
        poles=(tau,) if tau.is_ok else (),
        step_transition_10_90=scaled_estimate(tau, LN9, quantity="step_transition_10_90", unit="s"),
        smoothing_delay=tau.renamed("smoothing_delay"),
        mean_delay=tau.renamed("mean_delay"),
        dead_time=Estimate.not_resolved("dead_time", unit="s", caveats=(_told(drive_s),)),
        model="one_pole",
        extra={},
    )


def _pole_behind(read: Estimate, drive_s: float) -> Estimate:
    """The pole that makes a drive's transition into the one that was read."""
    value, u_read = read.value or 0.0, read.u or 0.0
    found = [_solved(shape, value, drive_s) for shape in (_ramp, _exponential)]
    tau = sum(found) / 2
    slope = _slope(tau, drive_s)
    u_drive = DRIVE_FRACTION * drive_s / math.sqrt(3) * _drive_share(tau, drive_s)
    own = (u_read / slope) ** 2
    u_shape = abs(found[0] - found[1]) / 2 / math.sqrt(3)
    rest = (u_drive / slope) ** 2 + u_shape**2
    dof = effective_dof((own, rest), (read.dof, math.inf)) if own + rest > 0 else math.inf
    caveats = tuple(caveat for caveat in read.caveats if caveat.code != NO_DRIVE.code)
    if _least(read, drive_s) <= 0 or tau - coverage_factor(dof) * math.sqrt(own + rest) <= 0:
        return Estimate.at_most("time_constant", _most(read, drive_s), unit="s", n=read.n, caveats=caveats)
    u, terms = combined(
        {"transition as read": u_read / slope, DRIVE_FRACTION.sets: u_drive / slope, "shape of the drive": u_shape}
    )
    return Estimate.measured("time_constant", tau, u=u, unit="s", n=read.n, dof=dof, caveats=caveats, terms=terms)


def _least(read: Estimate, drive_s: float) -> float:
    """The shortest pole that the reading's lower end allows behind the slowest drive that may be meant."""
    low = (read.value or 0.0) - coverage_factor(read.dof) * (read.u or 0.0)
    return min(_solved(shape, low, (1 + DRIVE_FRACTION) * drive_s) for shape in (_ramp, _exponential))


def _most(read: Estimate, drive_s: float) -> float:
    """The longest pole that the reading's upper end allows behind the quickest drive that may be meant."""
    high = (read.value or 0.0) + coverage_factor(read.dof) * (read.u or 0.0)
    quick = (1 - DRIVE_FRACTION) * drive_s
    longest = max(_solved(shape, high, quick) for shape in (_ramp, _exponential))
    return longest or high / LN9


def _ramp(tau_s: float, drive_s: float) -> float:
    return ramp_transition_10_90(drive_s / RAMP_SHARE, tau_s)


def _exponential(tau_s: float, drive_s: float) -> float:
    return transition_10_90((tau_s, drive_s / LN9))


def _solved(shape: Callable[[float, float], float], wanted_s: float, drive_s: float) -> float:
    """The pole behind a drive of that shape, s; 0 where the drive alone takes as long."""
    shortest = 1e-6 * drive_s
    if shape(shortest, drive_s) >= wanted_s:
        return 0.0
    from scipy import optimize

    return float(optimize.brentq(lambda tau: shape(tau, drive_s) - wanted_s, shortest, wanted_s, xtol=1e-12))


def _slope(tau_s: float, drive_s: float) -> float:
    """How fast what is read grows with the pole; the smaller one of both shapes."""
    step = max(1e-3 * tau_s, 1e-6 * drive_s)
    near = max(tau_s, 2 * step)
    return max(
        min((s(near + step, drive_s) - s(near - step, drive_s)) / (2 * step) for s in (_ramp, _exponential)), 1e-3
    )


def _drive_share(tau_s: float, drive_s: float) -> float:
    """How fast what is read grows with the drive's transition; the larger one of both shapes."""
    step, near = 1e-3 * drive_s, max(tau_s, 1e-6 * drive_s)
    return max((s(near, drive_s + step) - s(near, drive_s - step)) / (2 * step) for s in (_ramp, _exponential))
