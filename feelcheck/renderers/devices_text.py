"""The pads that are plugged in, in words and as JSON."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from feelcheck.model import AxisReport, DeviceReport, Estimate
from feelcheck.renderers._format import format_estimate
from feelcheck.renderers._json import dump, picked
from feelcheck.renderers._table import text_table

__all__ = ["DEVICES_SCHEMA", "devices_json", "devices_text"]

DEVICES_SCHEMA = "feelcheck.devices/1"
_WIDTH = 100
_NONE = """No pad was found.
  Check that it is plugged in and switched on, and try another cable: some only charge.
  A wireless pad must be paired first.
  On Linux: ls -l /dev/input/event* shows who may read it; in a container or over remote desktop there may be none.
  Without a pad: feelcheck log --source virtual records a simulated one."""


def devices_text(reports: Sequence[DeviceReport]) -> str:
    """Return every pad in words; without one, what to check.

    Parameters
    ----------
    reports : sequence of DeviceReport
        One report a pad.

    Examples
    --------
    >>> print(devices_text([]).splitlines()[0])
    No pad was found.
    """
    if not reports:
        return _NONE
    return "\n\n".join(_pad(k, report) for k, report in enumerate(reports))


def _pad(number: int, report: DeviceReport) -> str:
    facts = {
        "read by": f"--source {report.source} (seen by {' and '.join(report.backends)})",
        "path": report.path,
        "buttons": f"{len(report.buttons)}",
        "clock": report.clock,
        "report interval": _told(report.report_interval),
    }
    lines = [f"{number}  {report.name}"]
    lines += [f"  {key:<15}  {value}" for key, value in facts.items() if value]
    if report.axes:
        header = ["axis", "range", "changes", "seen", "native step"]
        lines += ["", text_table(header, [_axis(axis) for axis in report.axes])]
    if report.limits:
        lines += ["", "  What would limit a recording"]
        for limit in report.limits:
            text = f"{limit.text} {limit.advice}".strip()
            lines.append(textwrap.fill(text, _WIDTH, initial_indent="  - ", subsequent_indent="    "))
    return "\n".join(lines)


def _axis(axis: AxisReport) -> list[str]:
    seen = "" if axis.lowest is None else f"{axis.lowest} to {axis.highest}"
    step = _told(axis.native_step) if axis.n_changes else ""
    return [axis.name, f"{axis.minimum} to {axis.maximum}", str(axis.n_changes), seen, step]


def _told(estimate: Estimate) -> str:
    why = " ".join(caveat.text for caveat in estimate.caveats)
    return f"{format_estimate(estimate)}{f' ({why.rstrip(chr(46)).lower()})' if why else ''}"


def devices_json(reports: Sequence[DeviceReport]) -> str:
    """Return every pad as one JSON document.

    Parameters
    ----------
    reports : sequence of DeviceReport
        One report a pad.
    """
    return dump({"schema": DEVICES_SCHEMA, "devices": [_object(report) for report in reports]})


def _object(report: DeviceReport) -> dict[str, Any]:
    return {
        **picked(report, "name", "source", "backends", "path", "guid"),
        "axes": [_axis_object(axis) for axis in report.axes],
        **picked(report, "buttons", "report_interval", "clock", "limits", "watched_s"),
    }


def _axis_object(axis: AxisReport) -> dict[str, Any]:
    ranges = {"range": [axis.minimum, axis.maximum], "n_changes": axis.n_changes, "seen": [axis.lowest, axis.highest]}
    return {"name": axis.name, **ranges, **picked(axis, "native_step")}
