"""One link of the chain: a predicted delay held against a measured one, and what to look at when they disagree."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from feelcheck.comparison.numbers import HIDDEN_FILTER, WEAKLY_SUNK, WIDEST_BAND_RATIO
from feelcheck.model import ChainLink, Estimate, Status
from feelcheck.numerics.uncertainty import coverage_factor, coverage_interval, difference_of, effective_dof

__all__ = ["Circumstances", "joined_direction", "judge_link"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What is known beside the two numbers of a link.

    Parameters
    ----------
    band_s : float, s
        Half-width of what the parts' tolerance and derating allow; widens the margin of a parts link.
    class_2_capacitor : bool
        Whether a capacitor of a class-2 dielectric (or of unknown class) sets the delay.
    saturated : bool
        Whether the bench saw the output saturate.
    other_direction_ratio : float or None
        This direction's measured delay over the other direction's.
    parts_known : bool
        False where a part's value was assumed.
    report_interval_s : float, s
        The slowest report interval of a hand link's recordings: a quick filter of the firmware hides within it.
    """

    band_s: float = 0.0
    class_2_capacitor: bool = False
    saturated: bool = False
    other_direction_ratio: float | None = None
    parts_known: bool = True
    report_interval_s: float = 0.0


def joined_direction(direction: str, polarity: int | None) -> str | None:
    """Return the bench direction (volts) behind a hand direction (codes); None where the polarity is unknown.

    Parameters
    ----------
    direction : str
        ``rising`` or ``falling`` codes.
    polarity : int or None
        1 where codes rise with the volts, -1 against them.

    Examples
    --------
    >>> joined_direction("rising", -1), joined_direction("rising", None)
    ('falling', None)
    """
    if polarity not in (1, -1):
        return None
    if polarity == 1:
        return direction
    return "falling" if direction == "rising" else "rising"


def judge_link(
    predicted: Estimate,
    measured: Estimate,
    *,
    specimen: str,
    axis: str,
    state: str,
    direction: str,
    link: str,
    margin_s: float,
    circumstances: Circumstances | None = None,
) -> ChainLink:
    """Hold a prediction against a measurement.

    Parameters
    ----------
    predicted, measured : Estimate, s
        Smoothing delays from independent sources.
    specimen, axis, state, direction : str
        Where the link belongs.
    link : {"parts-bench", "bench-hand", "parts-hand"}
        Which link.
    margin_s : float, s
        What is called agreement; a parts link is given the parts' own band where that is wider.
    circumstances : Circumstances, optional
        What decides the hints.

    Notes
    -----
    Agree: the 90 % interval of the difference lies inside the margin. Disagree: the 95 % interval lies wholly outside
    it. Else it cannot be told. Bounds count by their worst case. Parts whose band spans more than a factor of four
    predict nothing that could be agreed with. What a quick filter may hide from the hand is an allowance of this
    judgement and shared by every session: the link shows the measurement with its own interval, as it is everywhere.
    """
    known = circumstances or Circumstances()
    margin = max(margin_s, known.band_s)
    judged = _with_hidden_filter(measured, HIDDEN_FILTER * known.report_interval_s)
    difference = difference_of(judged, predicted, quantity="difference")
    verdict = _verdict(predicted, judged, difference, margin)
    if verdict == "agree" and _band_too_wide(predicted, known.band_s, margin_s):
        verdict = "cannot_tell"
    hints = _hints(predicted, judged, link, known) if verdict == "disagree" else ()
    return ChainLink(
        specimen=specimen,
        axis=axis,
        state=state,
        direction=direction,
        link=link,  # type: ignore[arg-type]
        predicted=predicted,
        measured=measured,
        difference=difference,
        margin=margin,
        verdict=verdict,  # type: ignore[arg-type]
        look_at=hints,
    )


def _with_hidden_filter(measured: Estimate, u_hidden_s: float) -> Estimate:
    if measured.u is None or not u_hidden_s:
        return measured
    shares = (measured.u**2, u_hidden_s**2)
    return replace(measured, u=math.sqrt(sum(shares)), dof=effective_dof(shares, (measured.dof, math.inf)))


def _band_too_wide(predicted: Estimate, band_s: float, margin_s: float) -> bool:
    if predicted.value is None or band_s <= margin_s:
        return False
    low, high = predicted.value - band_s, predicted.value + band_s
    return low <= 0 or high / low > WIDEST_BAND_RATIO


def _verdict(predicted: Estimate, measured: Estimate, difference: Estimate, margin: float) -> str:
    if difference.value is not None and difference.u is not None:
        size = abs(difference.value)
        if size + coverage_factor(difference.dof, 0.90) * difference.u < margin:
            return "agree"
        return "disagree" if size - coverage_factor(difference.dof, 0.95) * difference.u > margin else "cannot_tell"
    return _bounded_verdict(_range(predicted), _range(measured), margin)


def _range(estimate: Estimate) -> tuple[float, float] | None:
    """Worst-case range of a delay, which is never negative; None where nothing is known."""
    if estimate.status in (Status.NOT_RESOLVED, Status.NOT_PRESENT):
        return (0.0, 0.0) if estimate.status is Status.NOT_PRESENT else None
    low, high = coverage_interval(estimate)
    return max(0.0, low or 0.0), math.inf if high is None else high


def _bounded_verdict(predicted: tuple[float, float] | None, measured: tuple[float, float] | None, margin: float) -> str:
    if predicted is None or measured is None:
        return "cannot_tell"
    if max(measured[1] - predicted[0], predicted[1] - measured[0]) < margin:
        return "agree"
    apart = measured[0] > predicted[1] + margin or measured[1] < predicted[0] - margin
    return "disagree" if apart else "cannot_tell"


def _hints(predicted: Estimate, measured: Estimate, link: str, known: Circumstances) -> tuple[str, ...]:
    """What to look at, most likely first."""
    p_range, m_range = _range(predicted), _range(measured)
    slower = p_range is not None and m_range is not None and m_range[0] > p_range[0]
    return tuple(_parts_hints(slower, known) if link != "bench-hand" else _hand_hints(slower))


def _parts_hints(slower: bool, known: Circumstances) -> list[str]:
    hints = []
    if slower:
        if known.other_direction_ratio is not None and known.other_direction_ratio > WEAKLY_SUNK:
            hints.append("an output that sinks weakly into a capacitor at its pin")
        hints.append("a part in the path that is not in the record, or a part read too small")
    else:
        if known.class_2_capacitor:
            hints.append(
                "the capacitor: a class-2 part loses capacitance under voltage; measure it at its working voltage"
            )
        if known.saturated:
            hints.append("clipping behind the filter, which makes the edge look faster than its network")
        hints.append("a load across the capacitor, or a part read too large")
    if not known.parts_known:
        hints.append("the parts whose values were assumed")
    return hints


def _hand_hints(slower: bool) -> list[str]:
    if slower:
        return [
            "a filter in the pad's firmware: the hand sees it, the bench does not",
            "whether the bench measured the same state and axis",
        ]
    return [
        "whether the bench measured the same state and axis",
        "a clipped or loaded bench output (probe, supply), which changes the response",
        "the polarity noted for the axis",
    ]
