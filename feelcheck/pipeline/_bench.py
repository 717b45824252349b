"""From a scope capture to the response on the bench."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from feelcheck.bench import behind_known_drive, measure_response, measure_typed, pool_repeats, setting_caveats
from feelcheck.errors import FormatError, NotComparableError
from feelcheck.formats.reading_lines import parse_readings, time_in_words
from feelcheck.formats.readings import is_readings, read_readings
from feelcheck.formats.scope import SETTING_NAMES, interval_seconds
from feelcheck.model import BenchResult, Capture, Caveat, Results, TypedReadings
from feelcheck.phases import phase
from feelcheck.pipeline._captures import captures_of
from feelcheck.pipeline._references import listed
from feelcheck.plain_text import told_apart

if TYPE_CHECKING:
    import pandas as pd

    from feelcheck.comparison import Disagreement


__all__ = ["bench", "bench_many"]

Paths = str | os.PathLike[str] | Sequence[str | os.PathLike[str]]


def bench(paths: Paths | pd.DataFrame, **options: Any) -> BenchResult:
    """Measure one scope capture, repeats of one, or cursor readings typed in by hand; options as in `bench_many`.

    Returns
    -------
    BenchResult
        Of the capture, or pooled over its repeats.

    Raises
    ------
    FormatError
        If a file cannot be read as a capture.
    NotComparableError
        If several files are no repeats of one another.
    NotEnoughDataError
        If there is no edge to measure.
    """
    results = bench_many(paths, **options)
    if len(results) > 1:
        facts = {"files": ", ".join(_files(results))}
        facts |= {"unlike in": ", ".join(dict.fromkeys(map(_named, _unlike(results))))}
        raise NotComparableError("Only repeats make one result, and these captures are unlike.", facts, COMPARE)
    return results[0]


def bench_many(
    paths: Paths | pd.DataFrame,
    *,
    drive: str | None = None,
    output: str | None = None,
    time: str | None = None,
    time_unit: str | None = None,
    interval: str | float | None = None,
    settings: Mapping[str, str] | None = None,
    readings: Sequence[str] = (),
    drive_rise: str | None = None,
) -> Results[BenchResult]:
    """Measure captures: one result where they are channels or repeats of one, else one a capture.

    Parameters
    ----------
    paths : path, sequence of paths or DataFrame
        Files that share one time axis are the channels of one capture; others are repeats where they agree. A table in
        hand holds a time (column or index), the drive and the output.
    drive, output : str, optional
        Column names (``#2`` means the second channel), where the reader's own choice is wrong.
    time, time_unit : str, optional
        Name of the time column, and its unit (``"us"``), where the file does not tell.
    interval : str or float, optional
        The sample interval (``"4us"``, ``"250 kHz"``, or a number in seconds), where the file does not tell.
    settings : mapping of str to str, optional
        Scope settings that the file does not tell (`scope.SETTING_NAMES`), such as ``{"supply": "1.8 V"}``.
    readings : sequence of str
        Cursor readings in words (`parse_readings`) in place of files.
    drive_rise : str, optional
        10-90 % of a drive that was not captured, with its unit (``"2.5ms"``).

    Raises
    ------
    FormatError
        If a file cannot be read as a capture, or the drive is told though it was captured.
    NotEnoughDataError
        If there is no edge to measure.

    Notes
    -----
    Captures that disagree (`disagreements`) are never averaged: each is a result of its own that says so.
    """
    _check_settings(settings or {})
    interval_s = interval_seconds(interval) if isinstance(interval, str) else interval
    stated: dict[str, Any] = {
        "drive": drive,
        "output": output,
        "time": time,
        "time_unit": time_unit,
        "interval_s": interval_s,
    }
    drive_s = None if drive_rise is None else time_in_words(drive_rise)
    if readings:
        results = [_without_drive(parse_readings(readings), drive_s)]
    elif not isinstance(paths, str | os.PathLike | Sequence):
        from feelcheck.formats.frame import capture_of_frame

        results = _measured([capture_of_frame(paths, **stated)], drive_s)
    else:
        several = listed(paths)
        phase(f"reading {', '.join(Path(path).name for path in several[:3])}")
        typed = [path for path in several if is_readings(path)]
        results = [_typed(several, typed, drive_s)] if typed else _measured(captures_of(several, **stated), drive_s)
    return Results(_with_settings(result, settings or {}) for result in results)


def _measured(captures: Sequence[Capture], drive_s: float | None) -> list[BenchResult]:
    _check_copies(captures)
    _check_outputs(captures)
    results = [_measured_one(capture) for capture in captures]
    return _together(results if drive_s is None else [_known_drive(result, drive_s) for result in results])


def _measured_one(capture: Capture) -> BenchResult:
    phase(f"fitting the edges of {Path(capture.provenance.path).name or 'the capture'}")
    return measure_response(capture)


def _known_drive(result: BenchResult, drive_s: float) -> BenchResult:
    if result.drive_name is not None:
        facts = {"file": result.capture.provenance.path, "drive": result.drive_name}
        raise FormatError(
            "The drive was captured: its own rise is measured, not told.", facts, "Leave out --drive-rise."
        )
    return behind_known_drive(result, drive_s)


def _without_drive(readings: TypedReadings, drive_s: float | None) -> BenchResult:
    """The result of readings in hand, with the drive that was told taken off."""
    result = measure_typed([readings])
    told = drive_s if drive_s is not None else readings.drive_transition_s
    return result if told is None else behind_known_drive(result, told)


def _check_outputs(captures: Sequence[Capture]) -> None:
    for capture in captures:
        if all(channel.role == "drive" for channel in capture.channels):
            facts = {"file": capture.provenance.path, "columns": ", ".join(c.name for c in capture.channels)}
            raise FormatError("The capture holds only a drive.", facts, "Add the output, or name it with --output.")


def _together(results: Sequence[BenchResult]) -> list[BenchResult]:
    """Pool what agrees; leave apart what does not, and say in what."""
    unlike = _unlike(results) if len(results) > 1 else ()
    if not unlike:
        return [pool_repeats(results)]
    said = Caveat(code="not_repeats", text=f"These captures are no repeats: {_said(unlike, results)}.", advice=COMPARE)
    return [replace(result, caveats=(*result.caveats, said)) for result in results]


def _unlike(results: Sequence[BenchResult]) -> tuple[Disagreement, ...]:
    from feelcheck.comparison import disagreements  # it loads what one capture does not need

    return disagreements(results)


COMPARE = "Hold them against each other with: feelcheck compare BEFORE AFTER"


def _said(unlike: Sequence[Disagreement], results: Sequence[BenchResult]) -> str:
    """The first disagreement of every quantity in words."""
    first: dict[str, Disagreement] = {}
    for one in unlike:
        first.setdefault(_named(one), one)
    files = _files(results)
    pairs = dict.fromkeys(f"{files[one.first]} and {files[one.second]} differ" for one in first.values())
    return f"{'; '.join(list(pairs)[:2])} in {', '.join(first)}"


def _files(results: Sequence[BenchResult]) -> list[str]:
    return told_apart([result.capture.provenance.path for result in results])


def _named(one: Disagreement) -> str:
    return f"{one.quantity.replace('_', ' ')} {one.direction}".strip()


def _check_settings(settings: Mapping[str, str]) -> None:
    unknown = [name for name, value in settings.items() if name not in SETTING_NAMES or not value.strip()]
    if unknown:
        facts = {"got": ", ".join(unknown), "allowed": ", ".join(SETTING_NAMES)}
        raise FormatError(
            "A scope setting needs a known name and a value.", facts, "Write it like --scope averaging=16."
        )


def _check_copies(captures: Sequence[Capture]) -> None:
    hashes = [one for capture in captures for one in capture.provenance.sha256.split(", ") if one]
    if len(set(hashes)) < len(hashes):
        facts = {"files": ", ".join(capture.provenance.path for capture in captures)}
        raise FormatError("The same capture counts once: a copy would look like agreement.", facts, "Name it once.")


def _with_settings(result: BenchResult, settings: Mapping[str, str]) -> BenchResult:
    """The result with the user's scope settings recorded, and remarks on those that bear on it."""
    provenance = result.capture.provenance
    provenance = replace(provenance, facts=MappingProxyType({**provenance.facts, **settings}))
    told = replace(result, capture=replace(result.capture, provenance=provenance))
    return replace(told, caveats=(*told.caveats, *setting_caveats(told)))


def _typed(paths: Sequence[Path | str], typed: Sequence[Path | str], drive_s: float | None) -> BenchResult:
    if len(typed) < len(paths):
        facts = {"readings": ", ".join(map(str, typed)), "files": len(paths)}
        raise FormatError("Typed readings and captures do not make one result.", facts, "Measure them one by one.")
    files = [read_readings(path) for path in typed]
    rises = [drive_s, *(one.drive_transition_s for one in files)]
    told = {rise for rise in rises if rise is not None}
    if len(told) > 1:
        facts = {"got": ", ".join(f"{1e3 * one:g} ms" for one in sorted(told))}
        raise FormatError("Repeats have one drive, and several rises are told.", facts, "Give --drive-rise once.")
    result = measure_typed(files)
    return behind_known_drive(result, told.pop()) if told else result
