"""What a colleague would say first about a recording: how slow, which way, how sure, what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feelcheck.model import Estimate, HandResult, Status
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers._format import format_bound, format_brief

__all__ = ["Way", "hand_answer", "ways_of"]

Way = tuple[str, str, Estimate]
"""Axis, ``"rising"`` or ``"falling"``, and the smoothing delay of that way."""
SMALLEST_ASYMMETRY = 0.05
"""A ratio of falling to rising whose whole interval lies within 5 % of one is not worth a sentence: nothing follows."""


def ways_of(result: HandResult) -> list[Way]:
    """Return the smoothing delay of each axis and direction that a stick's motion can have, in the log's order.

    Parameters
    ----------
    result : HandResult
        The result.
    """
    return [
        (name, way, response.smoothing_delay)
        for name, axis in result.axes.items()
        for way, response in axis.sides.items()
    ]


def hand_answer(result: HandResult) -> list[str]:
    """Return one to three sentences: value and direction, what differs, what is missing and how to get it.

    Parameters
    ----------
    result : HandResult
        One recording's result.
    """
    ways = ways_of(result)
    told = [way for way in ways if way[2].status is Status.OK]
    bounds = [way for way in ways if way[2].status is Status.AT_MOST]
    if not told and not bounds:
        return [_nothing(result)]
    said = [_slowest(told, bounds), _asymmetry(result), _left_open(ways)]
    return [sentence for sentence in said if sentence]


def _words(way: Way) -> str:
    return f"{way[0]} with its code {way[1]}"


def _slowest(told: Sequence[Way], bounds: Sequence[Way]) -> str:
    if not told:
        largest = max(bounds, key=lambda way: way[2].bound or 0.0)
        first = f"Any smoothing is shorter than {format_bound(largest[2])}"
        return f"{first}, on each of {len(bounds)} ways." if len(bounds) > 1 else f"{first} on {_words(largest)}."
    slowest = max(told, key=lambda way: way[2].value or 0.0)
    quickest = min(told, key=lambda way: way[2].value or 0.0)
    sentence = f"The reading trails the thumb by {format_brief(slowest[2])} on {_words(slowest)}"
    if len(told) > 1:
        sentence += f", the slowest of {len(told)} ways"
        sentence += f"; by {format_brief(quickest[2])} on {_words(quickest)}, the quickest"
    if bounds:
        largest = max(bounds, key=lambda way: way[2].bound or 0.0)
        sentence += f"; by less than {format_bound(largest[2])} on {_several(_words(way) for way in bounds)}"
    return sentence + "."


def _several(names: Iterable[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _asymmetry(result: HandResult) -> str:
    slower, quicker = [], []
    for name, axis in result.axes.items():
        low, high = coverage_interval(axis.asymmetry)
        if axis.asymmetry.is_ok and low is not None and high is not None:
            # Surely apart, and perhaps by as much as matters.
            if low > 1 and high > 1 + SMALLEST_ASYMMETRY:
                slower.append(f"{format_brief(axis.asymmetry)} times on {name}")
            elif high < 1 and low < 1 - SMALLEST_ASYMMETRY:
                quicker.append(f"{format_brief(axis.asymmetry)} times on {name}")
    if not slower and not quicker:
        return ""
    word = "longer than" if slower and not quicker else "less long than" if quicker and not slower else "unlike"
    return f"Falling takes {word} rising: {_several([*slower, *quicker])}."


def _left_open(ways: Sequence[Way]) -> str:
    """Return which ways are not told, and what would tell them; axes of a stick that nobody flicked are no news."""
    tried = {axis for axis, _, estimate in ways if estimate.status is not Status.NOT_RESOLVED}
    open_ways = [way for way in ways if way[0] in tried and way[2].status is Status.NOT_RESOLVED]
    if not open_ways:
        return ""
    advice = next((c.advice for way in open_ways for c in way[2].caveats if c.advice), "")
    return f"Not told: {_several(_words(way) for way in open_ways)}. {advice}".strip()


def _nothing(result: HandResult) -> str:
    causes = [caveat for _, _, estimate in ways_of(result) for caveat in estimate.caveats]
    causes = causes or list(result.caveats)
    if not causes:
        return "This log does not tell how much the stick's electronics smooth."
    return f"No value from this log. {causes[0].text} {causes[0].advice}".strip()
