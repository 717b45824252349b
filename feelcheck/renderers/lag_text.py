"""The lag in words: two tables, each only where there is something to say."""

from __future__ import annotations

from feelcheck.model import CoupledLag, Estimate, LagResult, MarkerLag, Status
from feelcheck.model.quantities import listed
from feelcheck.renderers._format import format_estimate
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table

__all__ = ["lag_text", "swapped_text"]


def lag_text(lag: LagResult, remarks: Remarks) -> str:
    """Return the tables of what a marker and a tied stick tell; empty where there was neither.

    Parameters
    ----------
    lag : LagResult
        Both ways.
    remarks : Remarks
        Gathers the caveats.
    """
    return "\n\n".join(part for part in (_marker(lag.marker, remarks), _coupled(lag.coupled, remarks)) if part)


def _row(name: str, estimate: Estimate, remarks: Remarks) -> tuple[str, str, str, str]:
    value, _, interval = format_estimate(estimate).partition(" (")
    return name, value, interval.rstrip(")"), remarks.of(estimate)


def _table(title: str, rows: list[tuple[str, str, str, str]]) -> str:
    return f"{title}\n" + text_table(("", "value", "95 % interval", "remark"), rows)


def _marker(marker: MarkerLag, remarks: Remarks) -> str:
    if marker.delay.status is Status.NOT_PRESENT:
        return ""
    rows = [_row(of.words, getattr(marker, of.name), remarks) for of in listed("hand lag marker")]
    rows += [_row(f"{axis}, code {way}", estimate, remarks) for (axis, way), estimate in marker.directions.items()]
    events = f", {marker.delay.n} events" if marker.delay.n else ""
    title = f"Delay behind the button {marker.button}" if marker.button else "Delay behind a button"
    return _table(f"{title}{events}", rows)


def _coupled(coupled: CoupledLag, remarks: Remarks) -> str:
    if coupled.delay.status is Status.NOT_PRESENT:
        return ""
    rows = [] if coupled.axes else [_row("delay", coupled.delay, remarks)]
    for letter, axis in coupled.axes.items():
        rows += [_row(f"{letter}: {of.words}", getattr(axis, of.name), remarks) for of in listed("hand lag coupled")]
    return _table(f"Tied sticks: {coupled.second} behind {coupled.first}", rows)


def swapped_text(sensors: Estimate, ports: Estimate) -> str:
    """Return the table of two recordings with ports swapped."""
    remarks = Remarks()
    rows = [
        _row("second sensor behind the first", sensors, remarks),
        _row("second port behind the first", ports, remarks),
    ]
    return _table("Both recordings together: ports swapped, scan order taken off", rows)
