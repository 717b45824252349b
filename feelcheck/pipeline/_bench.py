"""From a scope capture to the response on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from feelcheck.bench import measure_repeats, measure_typed
from feelcheck.errors import FormatError
from feelcheck.formats.readings import is_readings, read_readings
from feelcheck.formats.scope import interval_seconds, read_captures
from feelcheck.model import BenchResult

__all__ = ["bench", "draw_bench"]


def bench(
    paths: Path | str | Sequence[Path | str],
    *,
    drive: str | None = None,
    output: str | None = None,
    time: str | None = None,
    time_unit: str | None = None,
    interval: str | float | None = None,
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
    interval_s = interval_seconds(interval) if isinstance(interval, str) else interval
    several = [paths] if isinstance(paths, str | Path) else list(paths)
    typed = [path for path in several if is_readings(path)]
    if typed:
        return _typed(several, typed)
    captures = read_captures(several, drive=drive, output=output, time=time, time_unit=time_unit, interval_s=interval_s)
    return measure_repeats(captures)


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
