"""Which part a change between two captures fits: lifted, fitted, or exchanged for another value."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

from scipy import optimize

from feelcheck.model import Estimate
from feelcheck.model.parts import BoardNetwork, PartChange
from feelcheck.network.circuit import edge
from feelcheck.network.numbers import CALIBRATED, FARTHEST, OWN_FRACTION, OWN_S, SAME_FRACTION
from feelcheck.network.preferred import nearest_preferred
from feelcheck.network.what_if import CHANGEABLE, changed_network
from feelcheck.numerics.si_values import format_si
from feelcheck.numerics.uncertainty import coverage_interval

__all__ = ["change_from", "changes_that_fit", "fitted", "single_filter"]

Delays = Mapping[str, Estimate]
"""Smoothing delay by direction, s."""

MARK_FRACTION = {"F": 0.2, "ohm": 0.05}
"""How near a standard value must lie to be named instead of the number (tolerance; common practice, no source)."""
WHOLE_FILTER = "the filter (its capacitor, say) lifted"
SERIES = {"F": "E12", "ohm": "E24"}


def single_filter(delays: Delays, *, resistor_ohm: float | None, capacitor_f: float | None) -> BoardNetwork | None:
    """Return the one resistor with one capacitor behind it that a slow response stands for.

    Parameters
    ----------
    delays : Mapping[str, Estimate], s
        Of the slower capture, by direction.
    resistor_ohm, capacitor_f : float or None
        What is known of it; the other part follows. With neither, only their product has a meaning.

    Returns
    -------
    BoardNetwork or None
        None where no direction has a value, or the directions are too unlike for one pole.
    """
    values = [own.value for own in delays.values() if own.value]
    if not values or max(values) > (1 + 4 * OWN_FRACTION) * min(values):
        return None
    tau_s = sum(values) / len(values)
    ohm = resistor_ohm or (tau_s / capacitor_f if capacitor_f else 1e3)
    return BoardNetwork(series_ohm=ohm, behind_f=capacitor_f or tau_s / ohm)


def change_from(
    network: BoardNetwork, after: BoardNetwork, words: str, before_s: Delays, measured_s: Delays
) -> PartChange | None:
    """Return whether a known change of parts explains a measured change; None where nothing was measured of it.

    Parameters
    ----------
    network, after : BoardNetwork
        Parts before and after.
    words : str
        The change in words.
    before_s, measured_s : Mapping[str, Estimate], s
        Smoothing delay before and after, by direction.
    """
    scale = _scales(network, before_s)
    return _held_against(after, words, scale, before_s, measured_s) if scale else None


def changes_that_fit(
    network: BoardNetwork,
    before_s: Delays,
    measured_s: Delays,
    *,
    names: Mapping[str, str] | None = None,
    by_value: bool = True,
    inferred: str = "",
) -> tuple[PartChange, ...]:
    """Return the changes of one part that explain a change of response: lifted ones, else exchanged values.

    Parameters
    ----------
    network : BoardNetwork
        Parts before; the measured delays before calibrate it, so its tolerances do not matter.
    before_s, measured_s : Mapping[str, Estimate], s
        Smoothing delay before and after, by direction.
    names : Mapping[str, str], optional
        What a part is called, such as ``{"behind_f": "c3"}``.
    by_value : bool
        Whether values of parts have a meaning; if not, only the filter as a whole is told of.
    inferred : str
        Part whose value is not known but follows from the delay before: it is told as the standard value near it.

    Returns
    -------
    tuple of PartChange
        Capacitors first. Empty where nothing changed, or nothing fits.

    Notes
    -----
    A change fits where in every direction the measured delay lies within its own interval, 5 % of the change and
    0.05 ms of the predicted one. Exchanged values are solved for on the sum over directions; each direction decides.
    """
    scale = _scales(network, before_s)
    if not scale or not _changed(before_s, measured_s):
        return ()
    told = names or {}
    lifted = [
        _held_against(changed_network(network, place, None),
                      _lifted_words(network, place, told, inferred) if by_value else WHOLE_FILTER,
                      scale, before_s, measured_s)
        for place in _places(network)
    ]  # fmt: skip
    fitting = tuple(found for found in lifted if found is not None and found.fits)
    if fitting:
        return fitting[: None if by_value else 1]
    exchanged = [_exchanged(network, place, scale, before_s, measured_s, told) for place in _places(network)]
    return tuple(found for found in exchanged if by_value and found is not None and found.fits)


def _places(network: BoardNetwork) -> Iterator[str]:
    for place in ("behind_f", "pin_f", "series_ohm"):
        if getattr(network, place):
            yield place


def _scales(network: BoardNetwork, before_s: Delays) -> dict[str, float]:
    """Measured over predicted delay before, by direction; empty where the network cannot be that board's."""
    found = {}
    for direction, own in before_s.items():
        predicted = edge(network, rising=direction == "rising").area_s()
        if own.value and predicted > 0:
            found[direction] = own.value / predicted
    return found if all(1 / CALIBRATED < ratio < CALIBRATED for ratio in found.values()) else {}


def _changed(before_s: Delays, measured_s: Delays) -> bool:
    for direction, own in before_s.items():
        (low, high), (low_now, high_now) = _ends(own), _ends(measured_s.get(direction))
        gap = max(low - high_now, low_now - high)
        if gap > max(SAME_FRACTION * (own.value or 0.0), OWN_S):
            return True
    return False


def _ends(estimate: Estimate | None) -> tuple[float, float]:
    low, high = (None, None) if estimate is None else coverage_interval(estimate)
    return 0.0 if low is None else low, math.inf if high is None else high


def _held_against(
    after: BoardNetwork, words: str, scale: Mapping[str, float], before_s: Delays, measured_s: Delays
) -> PartChange | None:
    predicted = {
        direction: ratio * edge(after, rising=direction == "rising").area_s()
        for direction, ratio in scale.items()
        if direction in measured_s
    }
    if not predicted:
        return None
    fits = all(
        _near(value, measured_s[direction], before_s[direction].value or 0.0) for direction, value in predicted.items()
    )
    return PartChange(
        change=words,
        network=after,
        predicted={d: Estimate.measured("smoothing_delay", v, u=0.0, unit="s") for d, v in predicted.items()},
        measured={direction: measured_s[direction] for direction in predicted},
        fits=fits,
    )


def _near(predicted_s: float, measured: Estimate, before_s: float) -> bool:
    low, high = _ends(measured)
    room = max(OWN_S, OWN_FRACTION * abs(before_s - predicted_s))
    return low - room <= predicted_s <= high + room


def _exchanged(
    network: BoardNetwork,
    place: str,
    scale: Mapping[str, float],
    before_s: Delays,
    measured_s: Delays,
    names: Mapping[str, str],
) -> PartChange | None:
    """The part's other value that gives the measured delays, at its standard value where one lies near."""
    wanted = {direction: measured_s[direction].value for direction in scale if direction in measured_s}
    if not wanted or not all(wanted.values()):
        return None
    total = sum(value or 0.0 for value in wanted.values())
    own = float(getattr(network, place))

    def beyond(log_ratio: float) -> float:
        moved = changed_network(network, place, own * math.exp(log_ratio))
        return sum(scale[d] * edge(moved, rising=d == "rising").area_s() for d in wanted) - total

    limit = math.log(FARTHEST)
    if beyond(-limit) >= 0 or beyond(limit) <= 0:
        return None
    value = own * math.exp(float(optimize.brentq(beyond, -limit, limit, xtol=1e-4)))
    unit = CHANGEABLE[place][1]
    words = f"{_named(names, place)}{format_si(own, unit)} exchanged for {format_si(_standard(value, unit), unit)}"
    return _held_against(changed_network(network, place, value), words, scale, before_s, measured_s)


def _lifted_words(network: BoardNetwork, place: str, names: Mapping[str, str], inferred: str) -> str:
    value, unit = float(getattr(network, place)), CHANGEABLE[place][1]
    told = _standard(value, unit) if place == inferred else value
    done = "bridged" if place == "series_ohm" else "lifted"
    return f"{_named(names, place)}{format_si(told, unit)} {done}"


def _standard(value: float, unit: str) -> float:
    """The standard value a part of this size carries, or the value itself where none lies near."""
    mark = nearest_preferred(value, SERIES[unit])
    return mark if abs(mark / value - 1) < MARK_FRACTION[unit] else value


def _named(names: Mapping[str, str], place: str) -> str:
    return f"{names[place]}, " if place in names else ""


def fitted(change: PartChange, network: BoardNetwork) -> PartChange:
    """Return the same change told the other way round: what would be lifted was fitted.

    Nothing is predicted of it: the part's value comes from the slower response itself.

    Parameters
    ----------
    change : PartChange
        A part that is lifted.
    network : BoardNetwork
        The board without it.
    """
    words = change.change.replace("lifted", "fitted").replace("bridged", "put in series")
    return replace(change, change=words, network=network, predicted={}, measured={})
