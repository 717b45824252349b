"""Rise against fall, and what makes them differ."""

from __future__ import annotations

from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.numbers import ALIKE_DELAYS
from feelcheck.model import BenchDirection, Caveat, Estimate, Status
from feelcheck.numerics.uncertainty import NORMAL_95, combined, effective_dof

__all__ = ["ONE_DIRECTION", "asymmetry", "fall_over_rise"]

ONE_DIRECTION = Caveat(
    code="one_direction_only",
    text="The capture shows edges of one direction only: rise and fall cannot be compared.",
    advice="Record an edge each way, with the same drive and settings.",
)


def asymmetry(
    rising: BenchDirection | None,
    falling: BenchDirection | None,
    fits: tuple[DirectionFits | None, DirectionFits | None],
) -> Estimate:
    """Return smoothing delay falling over rising, with its cause among the caveats.

    Parameters
    ----------
    rising, falling : BenchDirection or None
        Both responses.
    fits : (DirectionFits or None, DirectionFits or None)
        The fits behind them.

    Notes
    -----
    A passive network of resistors and capacitors is linear: it cannot fall slower than it rises. A capacitor straight
    on an output that sources well and sinks weakly can. An asymmetric drive can, too; it is already removed from the
    smoothing delays, so a difference that is left is not the drive's.
    """
    name = "asymmetry"
    if rising is None or falling is None:
        return Estimate.not_resolved(name, unit="ratio", caveats=(ONE_DIRECTION,))
    up, down = rising.smoothing_delay, falling.smoothing_delay
    known = _ratio(up, down)
    if known is None:
        return _one_sided(up, down, fits)
    ratio, parts = known
    u, terms = combined(parts)
    alike = abs(ratio - 1) < max(ALIKE_DELAYS, 2 * u)
    caveats = () if alike else (_cause(fits, ratio),)
    return Estimate.measured(name, ratio, u=u, unit="ratio", n=min(up.n, down.n), caveats=caveats, terms=terms)


def _ratio(up: Estimate, down: Estimate) -> tuple[float, dict[str, float]] | None:
    """Falling over rising, and what either adds to its standard uncertainty; None without two values."""
    if not (up.value and down.value and up.u is not None and down.u is not None):
        return None
    ratio = down.value / up.value
    return ratio, {"rising": ratio * up.u / up.value, "falling": ratio * down.u / down.value}


def fall_over_rise(
    rising: BenchDirection | None, falling: BenchDirection | None, caveats: tuple[Caveat, ...] = ()
) -> Estimate:
    """Return smoothing delay falling over rising of readings, whose degrees of freedom are few.

    What both directions have from one drive counts twice: the cautious side.

    Parameters
    ----------
    rising, falling : BenchDirection or None
        Both responses.
    caveats : tuple of Caveat
        What is said where there is no ratio.
    """
    known = _ratio(rising.smoothing_delay, falling.smoothing_delay) if rising and falling else None
    if known is None or rising is None or falling is None:
        return Estimate.not_resolved("asymmetry", unit="ratio", caveats=caveats)
    ratio, parts = known
    up, down = rising.smoothing_delay, falling.smoothing_delay
    u, terms = combined(parts)
    dof, n = effective_dof([part**2 for part in parts.values()], [up.dof, down.dof]), min(up.n, down.n)
    return Estimate.measured("asymmetry", ratio, u=u, unit="ratio", n=n, dof=dof, scale="log", terms=terms)


def _one_sided(up: Estimate, down: Estimate, fits: tuple[DirectionFits | None, DirectionFits | None]) -> Estimate:
    name = "asymmetry"
    top, bottom = _least(down), _most(up)
    if top is not None and bottom and top > bottom:
        return Estimate.at_least(name, top / bottom, unit="ratio", caveats=(_cause(fits, top / bottom),))
    top, bottom = _most(down), _least(up)
    if top is not None and bottom and top < bottom:
        return Estimate.at_most(name, top / bottom, unit="ratio", caveats=(_cause(fits, top / bottom),))
    return Estimate.not_resolved(name, unit="ratio")


def _least(estimate: Estimate) -> float | None:
    if estimate.is_ok and estimate.value is not None and estimate.u is not None:
        return estimate.value - NORMAL_95 * estimate.u
    return estimate.bound if estimate.status is Status.AT_LEAST else None


def _most(estimate: Estimate) -> float | None:
    if estimate.is_ok and estimate.value is not None and estimate.u is not None:
        return estimate.value + NORMAL_95 * estimate.u
    return estimate.bound if estimate.status is Status.AT_MOST else None


def _cause(fits: tuple[DirectionFits | None, DirectionFits | None], ratio: float) -> Caveat:
    slow = fits[1] if ratio > 1 else fits[0]
    verb, side = ("falls", "sinks") if ratio > 1 else ("rises", "sources")
    assert slow is not None
    if not slow.fits[0].window.driven:
        text = f"The output {verb} slower, but without a drive column the drive cannot be ruled out."
        return Caveat(code="asymmetry_cannot_tell", text=text, advice="Record the drive on a second channel.")
    if slow.fits[0].spec.weak:
        text = (
            f"The output {verb} along a shape no pole has: a capacitor straight on an output that {side} weakly."
            " A passive network cannot fall slower than it rises."
        )
        return Caveat(code="asymmetry_weak_sink", text=text, advice="Look for a capacitor on the sensor's output pin.")
    if slow.fits_well and slow.shape == "one_pole":
        text = (
            f"The output {verb} slower after the drive is removed, as one pole: a capacitor on the output pin, charged"
            f" through different resistances each way (the output {side} weakly)."
        )
        return Caveat(code="asymmetry_capacitor_on_pin", text=text, advice="Look for a capacitor on the output pin.")
    text = f"The output {verb} slower, and nothing in the capture says why."
    return Caveat(code="asymmetry_cannot_tell", text=text, advice="Lift the capacitors one at a time and record again.")
