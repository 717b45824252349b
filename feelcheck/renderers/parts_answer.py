"""The first sentences of `feelcheck parts`: what the parts do, or which part a measurement fits."""

from __future__ import annotations

from feelcheck.model import Estimate
from feelcheck.model.parts import Inference, PartsDirection, PartsResult, WhatIf
from feelcheck.numerics.si_values import format_si
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers._format import format_brief, format_estimate
from feelcheck.renderers._table import wrapped

__all__ = ["parts_answer", "si_with_ends", "what_if_answer"]

QUICK_S = 1e-6
"""Delay below which parts let everything through."""


def parts_answer(result: PartsResult) -> str:
    """Return one to three sentences on what the parts do.

    Parameters
    ----------
    result : PartsResult
        What the command gives.
    """
    if result.inferred is not None:
        against = [caveat.text for caveat in result.caveats if caveat.code == "other_edge_contradicts"]
        return _wrapped([_inferred(result.inferred, result), *against])
    if result.rising is None or result.falling is None:
        return ""
    return _wrapped([_delays(result.rising, result.falling, result.corner_frequency), _derated(result)])


def _delays(rising: PartsDirection, falling: PartsDirection, corner: Estimate) -> str:
    up, down = rising.mean_delay, falling.mean_delay
    slowest = max(up.value or 0.0, down.value or 0.0)
    if slowest < QUICK_S:
        return "These parts delay nothing: the output is seen as the sensor gives it."
    if abs((up.value or 0.0) - (down.value or 0.0)) < 1e-3 * slowest:
        pole = f", one pole with its corner at {format_brief(corner)}" if corner.is_ok else ""
        return f"These parts delay by {format_brief(up)} both ways{pole}."
    ratio = (down.value or 0.0) / (up.value or 1.0)
    slower = f"{ratio:.3g} times as slowly" if ratio > 1 else f"{ratio:.2g} of that"
    return f"These parts delay a rise by {format_brief(up)} and a fall by {format_brief(down)}, {slower}."


def _derated(result: PartsResult) -> str:
    delay = result.derated.get("mean_delay")
    if delay is None:
        return ""
    low, high = coverage_interval(delay)
    if low is None or high is None:
        return ""
    return (
        f"A class-2 capacitor that has lost capacitance under voltage makes it anything from {1e3 * low:.2g} to "
        f"{1e3 * high:.2g} ms: measure it, or say --dielectric C0G."
    )


def _inferred(found: Inference, result: PartsResult) -> str:
    unit, estimate = ("ohm", found.resistance) if found.resistance is not None else ("F", found.capacitance)
    if estimate is None:
        return ""
    word = "resistor" if unit == "ohm" else "capacitor"
    tau = format_brief(result.time_constant)
    if not estimate.is_ok:
        return f"The capture's time constant, {tau}, tells no {word}: {format_estimate(estimate)}."
    marks = [mark for mark in found.preferred if mark.nearest]
    nearest = f"; the nearest standard value is {format_si(marks[0].value, unit)}" if marks else ""
    return f"A time constant of {tau} fits a {word} of {si_with_ends(estimate, unit)}{nearest}."


def si_with_ends(estimate: Estimate, unit: str) -> str:
    """Return a part's value with its interval, in the prefixes that parts carry.

    Parameters
    ----------
    estimate : Estimate
        The estimate.
    unit : str
        Unit of the number.
    """
    low, high = coverage_interval(estimate)
    if not estimate.value or low is None or high is None:
        return format_estimate(estimate)
    return f"{format_si(estimate.value, unit)} ({format_si(low, unit)} to {format_si(high, unit)})"


def what_if_answer(change: WhatIf) -> str:
    """Return one sentence on what a change of parts would do.

    Parameters
    ----------
    change : WhatIf
        Parts before and after, with what they do.
    """
    before, after = change.before, change.after
    if before.rising is None or after.rising is None or before.falling is None or after.falling is None:
        return ""
    sides = {"rising": (before.rising, after.rising), "falling": (before.falling, after.falling)}
    said = {
        way: f"{format_brief(then.mean_delay)} instead of {format_brief(now.mean_delay)}"
        for way, (now, then) in sides.items()
    }
    alike = said["rising"] == said["falling"]
    told = said["rising"] if alike else "; ".join(f"{way} {words}" for way, words in said.items())
    return _wrapped([f"If {change.change}, the parts' delay is {told}."])


def _wrapped(sentences: list[str]) -> str:
    return wrapped(" ".join(filter(None, sentences)))
