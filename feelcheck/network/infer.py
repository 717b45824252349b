"""From a measured time constant and one known part to the other."""

from __future__ import annotations

import math

from feelcheck.model import Caveat, Estimate, Status
from feelcheck.model.parts import Inference, PreferredValue
from feelcheck.network.derating import class_2_factors, tolerance_factors
from feelcheck.network.preferred import preferred_between
from feelcheck.numerics.uncertainty import WIDTH_95, coverage_interval

__all__ = ["infer_capacitance", "infer_resistance"]

CLASS_2 = Caveat(
    code="class_2",
    text="The capacitance is that under the working voltage; a class-2 part's mark is higher.",
    advice="Lift the part and measure it, or look up its curve.",
)


def infer_capacitance(
    tau: Estimate, resistance_ohm: float, *, tolerance: float = 0.01, class_2: bool = True, bias_v: float = 1.8
) -> Inference:
    """Return the capacitance behind a measured time constant, and the marked values that could hold it.

    Parameters
    ----------
    tau : Estimate, s
        Measured on the bench or in the hand.
    resistance_ohm : float, ohm
        Known resistance that charges it.
    tolerance : float
        Half-width of the resistance's tolerance.
    class_2 : bool
        Whether the capacitor loses capacitance under voltage.
    bias_v : float, V
        Voltage across it.

    Examples
    --------
    >>> tau = Estimate.measured("time_constant", 0.0047, u=0.00005, unit="s")
    >>> found = infer_capacitance(tau, 4700.0, class_2=False)
    >>> [p.value for p in found.preferred if p.nearest]
    [1e-06]
    """
    capacitance = _quotient("capacitance", tau, resistance_ohm, tolerance, "F")
    if not capacitance.is_ok:
        return Inference(capacitance=capacitance)
    low, high = class_2_factors(bias_v) if class_2 else (1.0, 1.0)
    return Inference(
        capacitance=capacitance.with_caveats(CLASS_2) if class_2 else capacitance,
        preferred=_marks(capacitance, low, high, part_tolerance=0.10, series="E12"),
    )


def infer_resistance(tau: Estimate, capacitance_f: float, *, tolerance: float = 0.10) -> Inference:
    """Return the resistance behind a measured time constant, and the marked values that could be it.

    Parameters
    ----------
    tau : Estimate
        The measured time constant, s.
    capacitance_f : float
        Marked capacitance, F.
    tolerance : float, optional
        Its tolerance as a fraction.

    Examples
    --------
    >>> tau = Estimate.measured("time_constant", 0.0047, u=0.00005, unit="s")
    >>> [p.value for p in infer_resistance(tau, 1e-6).preferred if p.nearest]
    [4700.0]
    """
    resistance = _quotient("resistance", tau, capacitance_f, tolerance, "ohm")
    if not resistance.is_ok:
        return Inference(resistance=resistance)
    return Inference(resistance=resistance, preferred=_marks(resistance, 1.0, 1.0, part_tolerance=0.05, series="E24"))


def _quotient(quantity: str, tau: Estimate, known: float, tolerance: float, unit: str) -> Estimate:
    if tau.status is Status.AT_MOST and tau.bound is not None:
        return Estimate.at_most(quantity, tau.bound / known / (1.0 - tolerance), unit=unit)
    if tau.status is Status.AT_LEAST and tau.bound is not None:
        return Estimate.at_least(quantity, tau.bound / known / (1.0 + tolerance), unit=unit)
    if tau.value is None or tau.u is None:
        return Estimate.not_resolved(quantity, unit=unit, caveats=tau.caveats)
    value = tau.value / known
    u = value * math.hypot(tau.u / tau.value, 2 * tolerance / WIDTH_95)
    return Estimate.measured(quantity, value, u=u, unit=unit, n=tau.n, dof=tau.dof, scale="log")


def _marks(
    found: Estimate, low: float, high: float, *, part_tolerance: float, series: str
) -> tuple[PreferredValue, ...]:
    """Marks whose value on the board could lie in the interval: mark x [low, high] x tolerance overlaps it."""
    ends = coverage_interval(found)
    bottom, top = tolerance_factors(part_tolerance)
    least, most = (ends[0] or 0.0) / (high * top), (ends[1] or 0.0) / (low * bottom)
    return preferred_between(least, most, found.value or 0.0, series)
