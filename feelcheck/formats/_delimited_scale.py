"""Which codes are full throw: deduced from the numbers an axis was seen to take."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.formats.numbers import (
    HARDLY_MOVED,
    HARDLY_OUT,
    OVERSHOOT,
    PULSES_BEYOND,
    PULSES_OFF,
    REST_LOW,
    REST_OFF,
    TOUCHED,
    WELL_SEEN,
)
from feelcheck.model import AxisScale

__all__ = ["Deduction", "deduce_scales", "stated_scale"]


_DECIMAL_TOPS = (100, 1000)
_SIGNED_TOPS = (100, 127, 511, 1000, 2047, 8191, 32767)
_UNSIGNED_TOPS = (100, 127, 255, 511, 1000, 1023, 2047, 4095, 8191, 16383, 65535)
_PULSES = AxisScale(centre=1500.0, reach=500.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deduction:
    """The scale of one axis.

    Parameters
    ----------
    scale : AxisScale
        How codes become fractions of full throw.
    certain : bool
        False where the scale was taken from the seen range, for want of a nominal one that fits.
    n_beyond : int
        How many values lie beyond nominal full scale.
    """

    scale: AxisScale
    certain: bool
    n_beyond: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    low: float
    high: float
    rest: float
    whole: bool

    @property
    def unit(self) -> Any:
        return "counts" if self.whole else "fraction"


def _seen(codes: NDArray[Any], spare: int) -> _Seen:
    """Return the range of codes without the `spare` farthest ones at either end, and their median (of some 20 000)."""
    low, high = codes.min(), codes.max()
    if spare:
        order = np.partition(codes, (spare, codes.size - 1 - spare))
        low, high = order[spare], order[codes.size - 1 - spare]
    return _Seen(
        low=float(low),
        high=float(high),
        rest=float(np.median(codes[:: max(1, codes.size // 20_000)])),
        whole=bool(np.issubdtype(codes.dtype, np.integer)),
    )


def _nominal(seen: _Seen, trigger: bool) -> AxisScale | None:
    """Return the nominal scale that the seen range fits well, or None."""
    out = max(_PULSES.centre - seen.low, seen.high - _PULSES.centre) / _PULSES.reach
    off = abs(seen.rest - _PULSES.centre) / _PULSES.reach
    if seen.whole and out <= 1 + PULSES_BEYOND and off <= PULSES_OFF:
        return _PULSES if seen.high - seen.low > _PULSES.reach else None
    signed = seen.low < 0
    peak = max(-seen.low - (1.0 if seen.whole else 1e-4), seen.high) if signed else seen.high
    tops: tuple[float, ...] = _SIGNED_TOPS if signed else _UNSIGNED_TOPS
    tops = tops if seen.whole else (1.0, 100.0, *(top for top in tops if top not in _DECIMAL_TOPS))
    fits = []
    for top in tops:
        least = TOUCHED if seen.whole and top in _DECIMAL_TOPS else WELL_SEEN
        if not least * top <= peak <= top * (1 + 1e-4):
            continue
        if signed or trigger or seen.rest <= REST_LOW * top:
            fits.append(AxisScale(centre=0.0, reach=float(top), unit=seen.unit))
        elif abs(seen.rest - top / 2) <= REST_OFF * top / 2:
            fits.append(_centred(top, seen))
    return min(fits, key=lambda scale: abs(scale.centre - seen.rest)) if fits else None


def _centred(top: float, seen: _Seen) -> AxisScale:
    extra = 1.0 if top >= 127 and math.log2(top + 1).is_integer() else 0.0
    return AxisScale(centre=(top + extra) / 2, reach=(top - extra) / 2, unit=seen.unit)


def _from_data(seen: _Seen, trigger: bool) -> AxisScale:
    if trigger:
        return AxisScale(centre=min(seen.low, 0.0), reach=seen.high - min(seen.low, 0.0) or 1.0, unit=seen.unit)
    centre = 0.0 if seen.low < 0 else seen.rest
    return AxisScale(centre=centre, reach=max(centre - seen.low, seen.high - centre) or 1.0, unit=seen.unit)


def _beyond(codes: NDArray[Any], scale: AxisScale) -> int:
    margin = 1.5 if scale.unit == "counts" else 1e-3 * scale.reach
    low, high = scale.centre - scale.reach - margin, scale.centre + scale.reach + margin
    return int(np.count_nonzero(codes > high) + np.count_nonzero(codes < low))


def _deduce(codes: NDArray[Any], trigger: bool) -> Deduction:
    spare = min(max(1, codes.size // 1000), (codes.size - 1) // 2)
    for n in (0, spare):
        seen = _seen(codes, n)
        nominal = _nominal(seen, trigger)
        if nominal is not None:
            return Deduction(scale=nominal, certain=True, n_beyond=_beyond(codes, nominal))
    overshooting = _overshooting(codes)
    if overshooting is not None:
        n_beyond = _beyond(codes, overshooting)
        return Deduction(scale=overshooting, certain=n_beyond > 0, n_beyond=n_beyond)
    return Deduction(scale=_from_data(seen, trigger), certain=False)


def _overshooting(codes: NDArray[Any]) -> AxisScale | None:
    """Return -1 to 1 for fractions that go a little beyond (a calibration that overshoots), else None."""
    peak = float(np.abs(codes).max())
    fits = codes.dtype.kind == "f" and float(codes.min()) < 0 and HARDLY_OUT < peak < 1 + OVERSHOOT
    return AxisScale(centre=0.0, reach=1.0, unit="fraction") if fits else None


def deduce_scales(codes: dict[str, NDArray[Any]], triggers: frozenset[str]) -> dict[str, Deduction]:
    """Return the scale of each axis.

    Parameters
    ----------
    codes : dict of ndarray, shape (n,)
        The axes' codes: integers in counts, floats in fractions.
    triggers : frozenset of str
        Names of axes that rest at an end.

    Notes
    -----
    A nominal scale (-1 to 1, 0 to 1, per cent, 7 to 16 bits signed or unsigned, 1000 to 2000 pulses) is believed when
    the seen range fits inside and reaches 0.55 of it (a decimal one: 0.97), and the median fits a stick (near the
    middle) or a trigger (near zero); if none fits, once more without the 0.1 % farthest values, which then lie beyond
    full scale. An axis that moved too little takes the scale of one that moved well; else its own range stands in, and
    `certain` is False. One that hardly moved beside another (`HARDLY_MOVED`), and rests elsewhere, has the reach of
    that one about its own rest: it shows noise, no travel. The list of nominal scales is common practice, no source.
    """
    found = {name: _deduce(values, name in triggers) for name, values in codes.items()}
    sure = [d.scale for name, d in found.items() if d.certain and name not in triggers]
    for name, deduction in found.items():
        if deduction.certain or name in triggers:
            continue
        for scale in sure:
            rest = float(np.median(codes[name]))
            if not _beyond(codes[name], scale) and abs(rest - scale.centre) < REST_OFF * scale.reach:
                found[name] = Deduction(scale=scale, certain=True)
                break
        else:
            found[name] = _beside(found[name], sure)
    return found


def _beside(own: Deduction, sure: Sequence[AxisScale]) -> Deduction:
    """Return the scale of an axis that may have hardly moved beside others, whose scales are sure."""
    reach = min((scale.reach for scale in sure if scale.unit == own.scale.unit), default=0.0)
    if own.scale.reach >= HARDLY_MOVED * reach:
        return own
    return Deduction(scale=AxisScale(centre=own.scale.centre, reach=reach, unit=own.scale.unit), certain=False)


def stated_scale(codes: NDArray[Any], full_scale: float, trigger: bool) -> Deduction:
    """Return the scale for a stated full scale.

    With negative codes the centre is 0 and `full_scale` the code at full throw; without, `full_scale` is the top code
    and the centre half of it (a trigger: 0; a converter's top code 2**b - 1: 2**(b-1)).
    """
    seen = _seen(codes, 0)
    if seen.low < 0 or trigger or seen.rest <= REST_LOW * full_scale:
        scale = AxisScale(centre=0.0, reach=full_scale, unit=seen.unit)
    else:
        scale = _centred(full_scale, seen)
    return Deduction(scale=scale, certain=True, n_beyond=_beyond(codes, scale))
