"""What `feelcheck bench --watch` says: a line a capture, and the table of the sitting."""

from __future__ import annotations

import shlex
from typing import Any

from feelcheck.counted import counted
from feelcheck.model import BenchDirection, BenchResult, Estimate, MetricComparison
from feelcheck.model.quantities import DELAY
from feelcheck.model.sitting import Landed, Sitting
from feelcheck.renderers._format import format_difference, format_estimate
from feelcheck.renderers._json import dump
from feelcheck.renderers._table import text_table
from feelcheck.renderers.bench_json import BENCH_SCHEMA, bench_document

__all__ = ["landed_line", "sitting_json", "sitting_text"]

NOTHING = "nothing landed that could be measured"


def landed_line(landed: Landed, reference: str = "") -> str:
    """Return what one file says, on one line.

    Parameters
    ----------
    landed : Landed
        The file.
    reference : str
        Name of the capture that it is held against.
    """
    head = f"{landed.at}  {landed.path.name}"
    if landed.result is None:
        return f"{head}: {'not measured' if landed.problem else 'nothing'}: {landed.problem}"
    said = ", ".join(f"{way} {_delay(landed.result, way)}" for way in landed.result.sides) or "no edge"
    by = _differences(landed.beside)
    against = f"; {by} against {reference}" if by else ""
    odd = "; went on, measured again" if landed.again else ""
    return f"{head}: {said}{against}{odd}{f'; {landed.problem}' if landed.problem else ''}"


def _delay(result: BenchResult, way: str) -> str:
    side: BenchDirection | None = getattr(result, way)
    return "" if side is None else format_estimate(side.smoothing_delay, interval=False)


def _differences(rows: tuple[MetricComparison, ...]) -> str:
    told = [f"{row.direction} {_signed(row)}" for row in rows if row.name == DELAY]
    return ", ".join(told)


def _signed(row: MetricComparison) -> str:
    words = format_difference(row.difference, row.margin).partition(" (")[0]
    return words if words.startswith("-") or row.difference.value is None else f"+{words}"


def sitting_text(sitting: Sitting) -> str:
    """Return the table of a sitting, and the command that keeps its captures in a record.

    Parameters
    ----------
    sitting : Sitting
        The captures of a sitting.
    """
    results = sitting.results
    if not results:
        return "\n".join(["The sitting: " + NOTHING, *_left_out(sitting)])
    against = f", differences to {sitting.reference}" if sitting.reference else ""
    header = ("capture", "rising", "falling", "difference rising", "difference falling", "swing", "held for")
    rows = [_row(one, one.result) for one in sitting.landed if one.result is not None]
    title = f"The sitting: {counted(len(results), 'capture')} (smoothing delay{against})"
    return "\n".join([title, text_table(header, rows), *_left_out(sitting), "", *_keep(sitting)])


def _row(landed: Landed, result: BenchResult) -> tuple[str, ...]:
    differences = {row.direction: _signed(row) for row in landed.beside if row.name == DELAY}
    held: Estimate = result.update_interval
    return (
        landed.path.name,
        _delay(result, "rising"),
        _delay(result, "falling"),
        differences.get("rising", ""),
        differences.get("falling", ""),
        format_estimate(result.swing, interval=False),
        format_estimate(held, interval=False) if held.is_ok else "",
    )


def _left_out(sitting: Sitting) -> list[str]:
    return [f"  left out: {one.path.name}: {one.problem}" for one in sitting.landed if one.result is None]


def _keep(sitting: Sitting) -> list[str]:
    kept = next(one for one in reversed(sitting.landed) if one.result is not None)
    path = shlex.quote(str(kept.path))
    keep = f"Keep one: feelcheck profile add profiles/NAME.toml {path} --axis left_x --polarity 1"
    first = next((one for one in sitting.landed if one.result is not None and one.path != kept.path), None)
    change = f"Look closer: feelcheck compare {shlex.quote(str(first.path))} {path}" if first is not None else ""
    return [f"{keep} (several repeats: name them all)", *([change] if change else [])]


def sitting_json(sitting: Sitting) -> str:
    """Return the sitting as one JSON document: the results as of `feelcheck bench`, and what was left out.

    Parameters
    ----------
    sitting : Sitting
        The captures of a sitting.
    """
    document: dict[str, Any] = {
        "schema": BENCH_SCHEMA,
        "folder": str(sitting.folder),
        "reference": sitting.reference or None,
        "results": [bench_document(result) for result in sitting.results],
        "left_out": [{"path": str(one.path), "reason": one.problem} for one in sitting.landed if one.result is None],
    }
    return dump(document)
