"""From cursor readings typed in by hand to a result: a pole through two or three instants, or through points."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from feelcheck.bench.asymmetry import fall_over_rise
from feelcheck.bench.drive import NO_DRIVE
from feelcheck.bench.numbers import UNLIKELY
from feelcheck.counted import counted
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchDirection, BenchResult, Capture, Caveat, Channel, Estimate, FloatArray
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.numerics.one_pole import LN9
from feelcheck.numerics.uncertainty import NORMAL_95, combined, effective_dof, scaled_estimate

__all__ = ["measure_typed"]

REACHED = {"t10_s": -math.log(0.9), "t50_s": math.log(2.0), "t90_s": math.log(10.0)}
"""When a single pole has done 10, 50 and 90 % of a step, in time constants (closed form)."""

NOT_ONE_POLE = Caveat(
    code="not_one_pole",
    text="No single pole passes through the readings within their reading error.",
    advice="Take more cursor readings along the edge, or export the capture.",
)
NO_DEAD_TIME = Caveat(
    code="assumes_no_dead_time",
    text="Only one instant of the edge was read: a single pole that starts with the drive was assumed.",
    advice="Read 10 and 90 % with the cursors.",
)
TOO_FEW = Caveat(
    code="too_few_readings",
    text="The readings do not hold what this number needs.",
    advice="Read t10, t50, t90 and the drive's half-way instant with the cursors.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Value:
    """A number with its standard uncertainty (s)."""

    value: float
    u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _EdgeFound:
    """What one edge tells, None where it does not; `misfit` where no pole fits."""

    transition: _Value | None
    tau: _Value | None
    dead: _Value | None
    misfit: bool = False
    assumed: bool = False


def measure_typed(readings: Sequence[TypedReadings]) -> BenchResult:
    """Return the result of cursor readings; several files are repeats.

    Parameters
    ----------
    readings : sequence of TypedReadings
        At least one edge in all.

    Raises
    ------
    NotEnoughDataError
        If there is no edge.

    Notes
    -----
    A reading that can be off by e either way has the standard uncertainty e / sqrt(3). A pole through t10, t50 and t90
    is refused where the three cannot lie on one within their errors; edges of one direction are averaged, their scatter
    counts where it is larger. The drive's own transition stays inside every number.
    """
    edges = [edge for part in readings for edge in part.edges]
    if not edges:
        raise NotEnoughDataError("Readings need at least one edge.", {"edges": 0}, "Type in an edge.")
    rising, falling = (_direction([edge for edge in edges if edge.direction == direction]) for direction in DIRECTIONS)
    return BenchResult(
        capture=_capture(readings, edges),
        drive_name=None,
        output_name="output",
        drive_transition=None,
        drive_swing=None,
        drive_kind="none",
        rising=rising,
        falling=falling,
        asymmetry=fall_over_rise(rising, falling, (TOO_FEW,)),
        update_interval=_unknown("update_interval", "s"),
        noise=_unknown("noise", "V"),
        swing=_unknown("swing", "V"),
        caveats=(NO_DRIVE,),
    )


def _capture(readings: Sequence[TypedReadings], edges: Sequence[TypedEdge]) -> Capture:
    """The readings as a table of instants, so that path, settings and notes travel with the result."""
    first = readings[0].provenance
    instants = [t for edge in edges for t in (*_instants(edge).values(), *(point[0] for point in edge.points))]
    t_s = np.unique(np.array(instants, dtype=np.float64))
    errors = sorted({edge.time_error_s for edge in edges})
    told = " to ".join(f"{error * 1e3:.4g}" for error in dict.fromkeys((errors[0], errors[-1])))
    understood = {
        "readings": f"{counted(len(edges), 'edge')} typed in, {counted(len(instants), 'instant')}",
        "reading error": f"{told} ms either way",
    }
    provenance = replace(
        first,
        path=", ".join(part.provenance.path for part in readings),
        sha256=", ".join(part.provenance.sha256 for part in readings),
        remarks=tuple(dict.fromkeys(remark for part in readings for remark in part.provenance.remarks)),
    )
    return Capture(
        t_s=t_s,
        interval_s=None,
        channels=(Channel(name="output", values=np.full(t_s.size, np.nan), unit="V", role="output"),),
        provenance=provenance,
        understood=MappingProxyType(understood),
    )


def _instants(edge: TypedEdge) -> dict[str, float]:
    return {name: value for name in REACHED if (value := getattr(edge, name)) is not None}


def _direction(edges: Sequence[TypedEdge]) -> BenchDirection | None:
    if not edges:
        return None
    found = [_edge(edge) for edge in edges]
    misfit = any(one.misfit for one in found)
    marks = (NO_DRIVE, *((NO_DEAD_TIME,) if any(one.assumed for one in found) else ()))
    tau = _unknown("time_constant", "s", NOT_ONE_POLE) if misfit else _mean("time_constant", found, "tau", marks)
    step = scaled_estimate(tau, LN9, quantity="step_transition_10_90", unit="s")
    dead = _mean("dead_time", found, "dead", (NO_DRIVE,))
    return BenchDirection(
        time_constant=tau,
        transition_10_90=_mean("transition_10_90", found, "transition", (NO_DRIVE,)),
        step_transition_10_90=step,
        dead_time=dead,
        smoothing_delay=tau.renamed("smoothing_delay"),
        mean_delay=_sum(tau, dead),
        settled_fraction=_unknown("settled_fraction", "fraction"),
        poles=(tau,) if tau.is_ok else (),
        n_edges=len(edges),
        model="one_pole" if tau.is_ok or tau.bound is not None else "unclear",
    )


def _unknown(quantity: str, unit: str, *caveats: Caveat) -> Estimate:
    return Estimate.not_resolved(quantity, unit=unit, caveats=caveats or (TOO_FEW,))


def _mean(quantity: str, found: Sequence[_EdgeFound], name: str, marks: tuple[Caveat, ...]) -> Estimate:
    """Return the mean over edges; an upper bound where its interval reaches zero."""
    held: list[_Value] = [value for one in found if (value := getattr(one, name)) is not None]
    if not held:
        return _unknown(quantity, "s")
    n = len(held)
    value = sum(one.value for one in held) / n
    inner = math.sqrt(sum(one.u**2 for one in held)) / n
    scatter = float(np.std([one.value for one in held], ddof=1)) / math.sqrt(n) if n > 1 else 0.0
    u, dof = (scatter, float(n - 1)) if scatter > inner else (inner, math.inf)
    if value - NORMAL_95 * u <= 0:
        return Estimate.at_most(quantity, max(value, 0.0) + NORMAL_95 * u, unit="s", n=n, caveats=marks)
    terms = combined({"scatter of the readings" if scatter > inner else "reading error of the cursors": u})[1]
    return Estimate.measured(quantity, value, u=u, unit="s", n=n, dof=dof, caveats=marks, terms=terms)


def _sum(tau: Estimate, dead: Estimate) -> Estimate:
    """The mean delay: pole and dead time, or the pole alone where the drive was not read."""
    if tau.value is None or tau.u is None or dead.value is None or dead.u is None:
        return tau.renamed("mean_delay")
    u = math.hypot(tau.u, dead.u)
    dof = effective_dof([tau.u**2, dead.u**2], [tau.dof, dead.dof])
    terms = combined({"time constant": tau.u, "dead time": dead.u})[1]
    return replace(tau, quantity="mean_delay", value=tau.value + dead.value, u=u, dof=dof, terms=terms)


def _edge(edge: TypedEdge) -> _EdgeFound:
    u = edge.time_error_s / math.sqrt(3.0)
    instants = _instants(edge)
    read = edge.transition_10_90_s
    transition = None if read is None else _Value(value=read, u=u * math.sqrt(2.0))
    if len(instants) >= 2:
        tau, start, misfit = _through_instants(instants, u, edge.time_error_s)
        dead = None
        if edge.drive_s is not None and not misfit:
            dead = _Value(value=start.value - edge.drive_s, u=math.hypot(start.u, u))
        return _EdgeFound(transition=transition, tau=tau, dead=dead, misfit=misfit)
    if len(edge.points) >= 3:
        tau_points, misfit = _through_points(edge)
        return _EdgeFound(transition=transition, tau=tau_points, dead=None, misfit=misfit)
    if edge.drive_s is None:
        return _EdgeFound(transition=transition, tau=None, dead=None)
    name, instant = next(iter(instants.items()))
    alone = _Value(value=(instant - edge.drive_s) / REACHED[name], u=u * math.sqrt(2.0) / REACHED[name])
    return _EdgeFound(transition=transition, tau=alone, dead=None, assumed=True)


def _through_instants(instants: dict[str, float], u: float, error: float) -> tuple[_Value, _Value, bool]:
    """Return time constant and start of the pole through the instants, and whether none can pass within the errors."""
    from scipy import optimize

    design = np.array([[REACHED[name], 1.0] for name in instants])
    t = np.array(list(instants.values()))
    (tau, start), *_ = np.linalg.lstsq(design, t, rcond=None)
    cov = np.linalg.inv(design.T @ design) * u**2
    # Whether any line lies within +- error of every instant: a small linear programme for the least largest miss.
    ones = np.ones((t.size, 1))
    limits = np.vstack([np.hstack([design, -ones]), np.hstack([-design, -ones])])
    miss = optimize.linprog(
        [0, 0, 1], A_ub=limits, b_ub=np.concatenate([t, -t]), bounds=[(0, None), (None, None), (0, None)]
    )
    return (
        _Value(value=float(tau), u=float(np.sqrt(cov[0, 0]))),
        _Value(value=float(start), u=float(np.sqrt(cov[1, 1]))),
        bool(float(miss.fun or 0.0) > error * (1 + 1e-9)),
    )


def _through_points(edge: TypedEdge) -> tuple[_Value | None, bool]:
    """Return the time constant of the exponential through the points, and whether none fits."""
    from scipy import optimize, special

    t, v = (np.array(column, dtype=np.float64) for column in zip(*edge.points, strict=True))
    span, reach = float(np.ptp(t)), float(np.ptp(v))
    if reach == 0.0 or np.any(np.sign(np.diff(v)) == -np.sign(v[-1] - v[0])):
        return None, True
    slope = np.abs(np.gradient(v, t))
    sigma = np.hypot(edge.value_error_v, slope * edge.time_error_s) / math.sqrt(3.0)
    sigma = np.maximum(sigma, 1e-6 * reach)

    def curve(x: FloatArray, a: float, b: float, log_tau: float) -> FloatArray:
        return np.asarray(a + b * np.exp(-(x - t[0]) / np.exp(log_tau)))

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", optimize.OptimizeWarning)
            best, cov = optimize.curve_fit(
                curve, t, v, p0=(v[-1], v[0] - v[-1], math.log(span / 2)), sigma=sigma, absolute_sigma=True, maxfev=5000
            )
    except (RuntimeError, optimize.OptimizeWarning, ValueError):
        return None, False
    tau, u_log = float(np.exp(best[2])), float(np.sqrt(cov[2, 2]))
    if not math.isfinite(u_log) or u_log > 1.0 or tau > 100 * span:
        return None, False
    excess = float(np.sum(((v - curve(t, *best)) / sigma) ** 2))
    misfit = t.size > 3 and float(special.chdtrc(t.size - 3, excess)) < UNLIKELY
    return _Value(value=tau, u=tau * u_log), misfit
