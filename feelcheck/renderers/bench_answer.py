"""The first sentences of `feelcheck bench`: how fast the output is, each way, how sure that is, what to look at."""

from __future__ import annotations

from pathlib import Path

from feelcheck.model import BenchDirection, BenchResult, Estimate, Status
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers._format import format_brief, format_estimate
from feelcheck.renderers._table import wrapped

__all__ = ["bench_answer"]

WAYS = (("rising", "rises"), ("falling", "falls"))
URGENT = (
    "not_repeats",
    "drive_does_not_explain",
    "drive_returns",
    "drive_without_edge",
    "includes_drive",
    "guessed_drive",
    "drive_told",
    "spikes",
)
"""Caveats that change what the numbers mean, the gravest first: the advice of the first that is there is said."""
UNMATCHED = "matches none"
ALIKE_RATIO = 1.02


def bench_answer(result: BenchResult, file: str = "") -> str:
    """Return one to three sentences, the file under a name that tells it from others.

    Parameters
    ----------
    result : BenchResult
        What the command gives.
    file : str
        What the capture is called.
    """
    own = result.capture.provenance
    name = own.specimen or file or Path(own.path).name or "The capture"
    sentences = [*_ways(result, name), _suggested(result), _urgent(result)]
    text = " ".join(sentence for sentence in sentences if sentence)
    return wrapped(text)


def _ways(result: BenchResult, name: str) -> list[str]:
    sides = [(word, side) for way, word in WAYS if (side := getattr(result, way)) is not None]
    if not sides:
        sensitivity = result.extra.get("sensitivity")
        told = f": {format_estimate(sensitivity)}" if sensitivity is not None else ""
        return [f"{name}: a slow sweep gives the transfer curve{told}, and no response time."]
    if len(sides) == 2 and _alike(result.asymmetry) and all(side.time_constant.is_ok for _, side in sides):
        up, down = (format_brief(side.time_constant) for _, side in sides)
        return [f"{name}: the output rises and falls alike, with a time constant of {up} up and {down} down."]
    (first, side), *rest = sides
    said = f"{first} {_speed(side)}"
    for word, other in rest:
        brief = side.time_constant.is_ok and other.time_constant.is_ok
        said += f" and {word} with {format_brief(other.time_constant)}" if brief else f" and {word} {_speed(other)}"
    return [f"{name}: the output {said}{_compared(result.asymmetry) if rest else ''}."]


def _speed(side: BenchDirection) -> str:
    tau = side.time_constant
    if tau.is_ok:
        return f"with a time constant of {format_brief(tau)}"
    if tau.status is Status.AT_MOST:
        return f"with a time constant of {format_brief(tau)}: too quick for this capture to show more"
    if side.smoothing_delay.is_ok:
        return f"without a single pole, {format_brief(side.smoothing_delay)} behind"
    if tau.status is Status.AT_LEAST:
        return f"with a time constant of {format_brief(tau)}: the edge was cut"
    return "in a way that no model here explains"


def _alike(asymmetry: Estimate) -> bool:
    low, high = coverage_interval(asymmetry)
    return low is not None and high is not None and low < ALIKE_RATIO and high > 1 / ALIKE_RATIO


def _compared(asymmetry: Estimate) -> str:
    """How the fall compares with the rise, where that is told."""
    if asymmetry.value is None or asymmetry.value <= 0:
        return ""
    if _alike(asymmetry):
        return ", alike"
    ratio = asymmetry.value
    return f", {ratio:.3g} times as slowly" if ratio > 1 else f", {1 / ratio:.3g} times as quickly"


def _suggested(result: BenchResult) -> str:
    """What the response suggests of the board, in its own first words."""
    first = result.explanation[0] if result.explanation else ""
    return "" if UNMATCHED in first else first


def _urgent(result: BenchResult) -> str:
    known = {caveat.code: caveat for caveat in result.caveats}
    found = next((known[code] for code in URGENT if code in known), None)
    if found is None:
        return ""
    return f"{found.text} {found.advice}".strip()
