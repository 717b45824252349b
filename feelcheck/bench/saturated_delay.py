"""A dead time behind a sensor that saturates: told by both directions, since either alone takes it for other levels."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.fit import ModelFit
from feelcheck.bench.numbers import CLIPS_NEAR, LATE_BY
from feelcheck.model import BenchDirection, Estimate, Term
from feelcheck.numerics.uncertainty import NORMAL_95, combined

__all__ = ["Lateness", "lateness_of", "with_lateness"]


"""Of the drive's way, about a level: where its pace is read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lateness:
    """How late a saturating sensor is, and its standard uncertainty, s."""

    value_s: float
    u_s: float


def lateness_of(rising: DirectionFits | None, falling: DirectionFits | None) -> Lateness | None:
    """Return by how much the output of a saturating sensor is late; None where both directions do not tell.

    Parameters
    ----------
    rising, falling : DirectionFits or None
        Both directions.

    Notes
    -----
    A sensor saturates at the same levels of the drive whichever way this goes. Behind a dead time d an edge begins when
    the drive has gone on for d, so each direction's fit has the levels shifted along its own way: apart by what the
    drive goes in d on both ways together. A hold commutes with saturation, but where a pole rounds both it is not found
    as a hold: its delay is.
    """
    if rising is None or falling is None:
        return None
    told = [late for fits in zip(rising.fits, falling.fits, strict=False) for late in _of_pair(*fits)]
    if not told:
        return None
    weights = np.array([1.0 / late.u_s**2 for late in told])
    value = float(weights @ [late.value_s for late in told] / np.sum(weights))
    scatter = float(np.sqrt(weights @ [(late.value_s - value) ** 2 for late in told] / np.sum(weights)))
    return Lateness(value_s=value, u_s=math.hypot(1.0 / math.sqrt(float(np.sum(weights))), scatter))


def _of_pair(up: ModelFit, down: ModelFit) -> Iterator[Lateness]:
    """What one edge up and one down tell at each level that both of them reach, the fits' own dead times counted in."""
    for here, there in ((0, 1), (1, 0)):
        places = _place(up, here), _place(down, there)
        if places[0] is None or places[1] is None:
            continue
        levels = up.clips[here], 1 - down.clips[there]
        paces = _pace(up, levels), _pace(down, (1 - levels[0], 1 - levels[1]))
        whole = sum(paces)
        if not whole > 0:
            continue
        value = levels[0] - levels[1] + sum(pace * fit.dead_s for pace, fit in zip(paces, (up, down), strict=True))
        u = [_u_late(fit, place, pace) for fit, place, pace in zip((up, down), places, paces, strict=True) if place]
        if 0 < math.hypot(*u) < math.inf:
            yield Lateness(value_s=value / whole, u_s=math.hypot(*u) / whole)


def _place(fit: ModelFit, which: int) -> int | None:
    """Where the lower (0) or upper (1) level in the drive's way stands among the parameters; None without a cut."""
    spec = fit.spec
    if not (spec.clip_high if which else spec.clip_low) or not fit.window.driven:
        return None
    return spec.n_shape + spec.dead + (which and spec.clip_low)


def _u_late(fit: ModelFit, place: int, pace: float) -> float:
    """Standard uncertainty of a level and of what the drive goes in the fit's dead time, which stand in for another."""
    slope = np.zeros(fit.n_parameters)
    slope[place] = 1.0
    return fit.u_along(slope + pace * fit.dead_slope) if fit.spec.dead else fit.u_along(slope)


def _pace(fit: ModelFit, levels: tuple[float, float]) -> float:
    """How fast the drive goes its way from one level to the other, or about both where they are one, 1/s."""
    stimulus = fit.window.stimulus
    assert stimulus is not None
    ends = min(levels) - CLIPS_NEAR, max(levels) + CLIPS_NEAR
    begin, end = np.interp(ends, np.maximum.accumulate(stimulus.u), stimulus.t_s)
    return float((ends[1] - ends[0]) / (end - begin)) if end > begin else 0.0


def with_lateness(direction: BenchDirection, late: Lateness | None) -> BenchDirection:
    """Return a response with the dead time that both directions tell together.

    Parameters
    ----------
    direction : BenchDirection
        The response of one direction, its dead time unseen.
    late : Lateness or None
        From `lateness_of`.
    """
    dead, whole = direction.dead_time, direction.mean_delay
    if late is None:
        return direction
    seen, most = late.value_s > LATE_BY * late.u_s, max(late.value_s, 0.0) + NORMAL_95 * late.u_s
    if not seen and (dead.is_ok or most < (dead.bound or 0.0)):
        return direction
    plain = seen and direction.model in ("one_pole", "none")  # a second pole may hold a part of it
    u, terms = combined({LATE_BY.sets: late.u_s if plain else max(late.value_s, 0.0) + late.u_s})
    added = late.value_s - (dead.value or 0.0) if plain else 0.0
    if whole.value is not None and whole.u is not None:
        own = whole.terms or (Term("the delay without it", whole.u),)
        whole = replace(whole, value=whole.value + added, u=math.hypot(whole.u, u), terms=(*own, *terms))
    told = (
        Estimate.measured("dead_time", late.value_s, u=u, unit="s", n=dead.n, terms=terms)
        if plain
        else Estimate.at_most("dead_time", max(most, dead.bound or 0.0), unit="s", n=dead.n)
    )
    return replace(direction, dead_time=replace(told, caveats=dead.caveats), mean_delay=whole)
