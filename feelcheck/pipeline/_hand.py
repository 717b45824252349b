"""From a recording to its in-hand result."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from feelcheck import plugins
from feelcheck.errors import FeelcheckError, FormatError
from feelcheck.guarding import GuardedMetric
from feelcheck.hand import analyse, prepare
from feelcheck.model import CoupledLag, Estimate, HandResult, Metric, Recording, Results
from feelcheck.phases import phase
from feelcheck.pipeline._readers import LOGS, Readers

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "analyze",
    "analyze_many",
    "analyze_recording",
    "own_metrics",
    "read_recording",
    "swapped_lag",
]


def read_recording(source: str | os.PathLike[str] | pd.DataFrame, **options: Any) -> Recording:
    """Read an in-hand log with the reader that is surest the path is its own.

    Parameters
    ----------
    source : path or DataFrame
        A session folder, a delimited axis log, or a table in hand: a time (column or index) and the axes.
    **options
        ``time``, ``time_unit``, ``rate_hz``, ``axes``, ``full_scale``: what the log does not say by itself.

    Raises
    ------
    FormatError
        If there is no such path, or the reader cannot make sense of it; its text says what is missing.
    PluginError
        If another package's reader is surest of the path and fails on it.
    """
    if not isinstance(source, str | os.PathLike):
        from feelcheck.formats.frame import recording_of_frame

        return recording_of_frame(source, **options)
    path, readers = Path(source), Readers(LOGS)
    if not path.exists():
        raise FormatError("There is no such file or folder.", {"path": path}, "Check the path.")
    phase(f"reading {path.name}")
    return readers.read(readers.surest(path), path, Recording, **options)


def analyze(source: str | os.PathLike[str] | pd.DataFrame, **options: Any) -> HandResult:
    """Measure the in-hand response of one recording; see `read_recording` for what is taken and for the options."""
    return analyze_recording(read_recording(source, **options))


def analyze_recording(recording: Recording) -> HandResult:
    """Measure the in-hand response of a recording in memory."""
    view = prepare(recording)
    own, others = _metrics()
    # Of two answers to one question the later one stands, so others cannot take the place of a built-in one.
    result = analyse(view, (*others, *own))
    return replace(result, added=_added(result, others))


def _added(result: HandResult, others: Sequence[GuardedMetric]) -> Mapping[str, str]:
    """Return which quantities in a result are other packages', and whose."""
    extras = [result.timing.extra, result.release]
    extras += [part.extra for axis in result.axes.values() for part in (axis, axis.rising, axis.falling)]
    # By identity: another package may find the very number that a built-in metric found.
    standing = {id(estimate) for extra in extras for estimate in extra.values()}
    found = [(finding.estimate, other.package) for other in others for finding in other.findings]
    return MappingProxyType({estimate.quantity: whose for estimate, whose in found if id(estimate) in standing})


def own_metrics() -> list[Metric]:
    """Return the built-in metrics."""
    return _metrics()[0]


def _metrics() -> tuple[list[Metric], list[GuardedMetric]]:
    """Return the built-in metrics, and those of other packages at arm's length."""
    found = plugins.working("feelcheck.metrics")
    own = [metric for plugin, metric in found if plugin.is_own]
    return own, [GuardedMetric(plugin, metric) for plugin, metric in found if not plugin.is_own]


def analyze_many(
    paths: Sequence[Path], *, left_out: Callable[[Path, FeelcheckError], None] | None = None, **options: Any
) -> Results[HandResult]:
    """Measure several recordings with the same options.

    Parameters
    ----------
    paths : sequence of Path
        Session folders or logs.
    left_out : callable, optional
        Takes each one that cannot be measured, with the reason; without it the first of them ends everything.
    **options
        As those of `read_recording`.

    Raises
    ------
    FeelcheckError
        If none can be measured.
    """
    found: list[HandResult] = []
    for number, path in enumerate(paths, start=1):
        try:
            found.append(analyze(path, **options))
        except FeelcheckError as problem:
            if left_out is None or (number == len(paths) and not found):
                raise
            left_out(path, problem)
    return Results(found)


def swapped_lag(results: Sequence[HandResult]) -> tuple[Estimate, Estimate] | None:
    """Return the delay of tied sensors and that of their ports, scan order taken off, from two recordings.

    Parameters
    ----------
    results : sequence of HandResult
        One recording whose state says ``ports_swapped`` and one whose state does not; else there is no answer.
    """
    parted: tuple[list[CoupledLag], list[CoupledLag]] = ([], [])
    for result in results:
        if result.lag is not None and result.lag.coupled.delay.is_ok:
            parted["ports_swapped" in result.recording.provenance.state].append(result.lag.coupled)
    plain, swapped = parted
    if not swapped:
        return None
    from feelcheck.comparison.ports import swapped_average

    return swapped_average(plain[0], swapped[0]) if len(plain) == len(swapped) == 1 else None
