"""From a scope capture to the response on the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from feelcheck.bench import measure_repeats, measure_typed, setting_caveats
from feelcheck.errors import FormatError
from feelcheck.formats.readings import is_readings, read_readings
from feelcheck.formats.scope import SETTING_NAMES, interval_seconds, read_captures
from feelcheck.model import BenchResult, Capture

__all__ = ["bench", "draw_bench"]


def bench(
    paths: Path | str | Sequence[Path | str],
    *,
    drive: str | None = None,
    output: str | None = None,
    time: str | None = None,
    time_unit: str | None = None,
    interval: str | float | None = None,
    settings: Mapping[str, str] | None = None,
) -> BenchResult:
    """Measure one scope capture, several that belong together, or cursor readings typed in by hand.

    Parameters
    ----------
    paths : path or sequence of paths
        Files that share one time axis are the channels of one capture; otherwise they are repeats of one capture.
    drive, output : str, optional
        Column names (``#2`` means the second channel), where the reader's own choice is wrong.
    time, time_unit : str, optional
        Name of the time column, and its unit (``"us"``), where the file does not tell.
    interval : str or float, optional
        The sample interval (``"4us"``, ``"250 kHz"``, or a number in seconds), where the file does not tell.
    settings : mapping of str to str, optional
        Scope settings that the file does not tell (`scope.SETTING_NAMES`), such as ``{"supply": "1.8 V"}``.

    Returns
    -------
    BenchResult
        Of the capture, or pooled over its repeats.

    Raises
    ------
    FormatError
        If a file cannot be read as a capture.
    NotEnoughDataError
        If there is no edge to measure.
    """
    _check_settings(settings or {})
    interval_s = interval_seconds(interval) if isinstance(interval, str) else interval
    several = [paths] if isinstance(paths, str | Path) else list(paths)
    typed = [path for path in several if is_readings(path)]
    if typed:
        return _with_settings(_typed(several, typed), settings or {})
    captures = read_captures(several, drive=drive, output=output, time=time, time_unit=time_unit, interval_s=interval_s)
    _check_copies(captures)
    if all(channel.role == "drive" for channel in captures[0].channels):
        facts = {"file": captures[0].provenance.path, "columns": ", ".join(c.name for c in captures[0].channels)}
        raise FormatError("The capture holds only a drive.", facts, "Add the output, or name it with --output.")
    return _with_settings(measure_repeats(captures), settings or {})


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


def _typed(paths: Sequence[Path | str], typed: Sequence[Path | str]) -> BenchResult:
    if len(typed) < len(paths):
        facts = {"readings": ", ".join(map(str, typed)), "files": len(paths)}
        raise FormatError("Typed readings and captures do not make one result.", facts, "Measure them one by one.")
    return measure_typed([read_readings(path) for path in typed])


def draw_bench(result: BenchResult, path: Path) -> None:
    """Draw the edges with their fits, the drive underneath."""
    from feelcheck.renderers._saving import save_figure
    from feelcheck.renderers.bench_figures import bench_figure

    save_figure(bench_figure(result), path)
