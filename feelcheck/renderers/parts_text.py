"""The text and JSON of `feelcheck parts` (schema feelcheck.parts/1)."""

from __future__ import annotations

from typing import Any

from feelcheck.model.parts import Inference, PartsResult, WhatIf
from feelcheck.model.quantities import DIRECTIONS, listed, words_of
from feelcheck.numerics.si_values import format_si
from feelcheck.renderers._format import format_estimate
from feelcheck.renderers._json import dump, picked
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table
from feelcheck.renderers.parts_answer import parts_answer, si_with_ends, what_if_answer

__all__ = ["PARTS_SCHEMA", "parts_document", "parts_json", "parts_text", "what_if_text"]

PARTS_SCHEMA = "feelcheck.parts/1"
SHAPE_WORDS = {
    "step": "follows at once",
    "pole": "one exponential",
    "ramp": "straight ramp: the sink's current is spent on the capacitor",
    "exponential_to_ground": "exponential towards ground, cut at the target",
}


def parts_text(result: PartsResult) -> str:
    """Return a prediction, and what a measurement says of a part, in words and tables.

    Parameters
    ----------
    result : PartsResult
        The prediction.
    """
    remarks = Remarks()
    sections = [
        parts_answer(result),
        _prediction(result, remarks),
        _derated(result),
        _inferred(result.inferred, remarks),
        _network(result),
    ]
    remarks.marks(result.caveats)
    sections.append(remarks.section())
    return "\n\n".join(section for section in sections if section)


def _network(result: PartsResult) -> str:
    network = result.network
    if network is None:
        return ""
    stage = network.stage
    weak = {"resistance": stage.sink_ohm, "pull_down": stage.sink_ohm, "current": stage.sink_a}.get(stage.sink)
    rows = [
        ("output sources through", format_si(stage.source_ohm, "ohm") if stage.source_ohm else ""),
        ("output sinks by", f"{stage.sink.replace('_', ' ')} {_sink(stage.sink, weak)}".strip() if weak else ""),
        ("capacitor at the pin", format_si(network.pin_f, "F") if network.pin_f else ""),
        ("series resistor", format_si(network.series_ohm, "ohm") if network.series_ohm else ""),
        ("capacitor behind it", format_si(network.behind_f, "F") if network.behind_f else ""),
        ("load", format_si(network.load_ohm, "ohm") if network.load_ohm else ""),
    ]
    return "Parts\n" + text_table(("", "value"), [row for row in rows if row[1]])


def _sink(kind: str, value: float | None) -> str:
    return format_si(value or 0.0, "A" if kind == "current" else "ohm")


def _prediction(result: PartsResult, remarks: Remarks) -> str:
    if result.network is None or result.rising is None or result.falling is None:
        return ""
    sides = (result.rising, result.falling)
    rows = [
        (
            quantity.words,
            *(format_estimate(getattr(side, quantity.name)) for side in sides),
            remarks.of(*(getattr(side, quantity.name) for side in sides)),
        )
        for quantity in listed("parts direction")
    ]
    rows.append(("edge", *(SHAPE_WORDS[side.shape] for side in sides), ""))
    corner = format_estimate(result.corner_frequency)
    alike = result.falling.time_constant.value == result.rising.time_constant.value
    rows.append(("corner frequency", corner, corner if alike else "", remarks.of(result.corner_frequency)))
    return "What they do (volts)\n" + text_table(("", "rising", "falling", "remark"), rows)


def _derated(result: PartsResult) -> str:
    if not result.derated:
        return ""
    rows = [(words_of(name, "parts direction"), format_estimate(e)) for name, e in result.derated.items()]
    return "If a class-2 capacitor has lost capacitance under voltage\n" + text_table(("", "value"), rows)


def _inferred(inferred: Inference | None, remarks: Remarks) -> str:
    if inferred is None:
        return ""
    lines = []
    for name, estimate, unit in (
        ("resistance", inferred.resistance, "ohm"),
        ("capacitance", inferred.capacitance, "F"),
    ):
        if estimate is not None:
            lines.append(f"  {name}  {si_with_ends(estimate, unit)}  {remarks.of(estimate)}".rstrip())
            rows = [
                (format_si(p.value, unit), p.series, f"{100 * (p.ratio - 1):+.1f} %", "nearest" if p.nearest else "")
                for p in inferred.preferred
            ]
            lines.append(text_table(("standard value", "series", "off by", ""), rows) if rows else "")
    return "\n".join(["What the measurement says of the unknown part", *filter(None, lines)])


def what_if_text(change: WhatIf) -> str:
    """Return the response before and after a change of parts.

    Parameters
    ----------
    change : WhatIf
        The response before and after.
    """
    rows = []
    for quantity in listed("parts direction"):
        for direction in DIRECTIONS:
            before, after = getattr(change.before, direction), getattr(change.after, direction)
            if before is not None and after is not None:
                rows.append(
                    (
                        f"{quantity.words}, {direction}",
                        format_estimate(getattr(before, quantity.name)),
                        format_estimate(getattr(after, quantity.name)),
                    )
                )
    return f"{what_if_answer(change)}\n" + text_table(("", "now", "then"), rows)


def parts_json(result: PartsResult) -> str:
    """Return the prediction as one JSON document.

    Parameters
    ----------
    result : PartsResult
        The prediction.
    """
    return dump(parts_document(result))


def parts_document(result: PartsResult) -> dict[str, Any]:
    """Return the JSON object of a prediction.

    Parameters
    ----------
    result : PartsResult
        What the command gives.
    """
    names = ("time_constant", "corner_frequency", "transition_10_90", "mean_delay", "rising", "falling")
    return {"schema": PARTS_SCHEMA, **picked(result, *names, "derated", "inferred", "caveats")}
