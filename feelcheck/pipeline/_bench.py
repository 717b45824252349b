"""From a scope capture to the response on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from feelcheck.bench import measure_repeats
from feelcheck.formats.scope import read_captures
from feelcheck.model import BenchResult

__all__ = ["bench", "draw_bench"]


def bench(paths: Sequence[Path], *, drive: str | None = None, output: str | None = None) -> list[BenchResult]:
    """Measure scope captures.

    Parameters
    ----------
    paths : sequence of Path
        Files that share one time axis are the channels of one capture; otherwise they are repeats of one capture.
    drive, output : str, optional
        Column names, where the reader's own choice is wrong.

    Returns
    -------
    list of BenchResult
        One result: of the capture, or pooled over its repeats.

    Raises
    ------
    FormatError
        If a file cannot be read as a capture.
    NotEnoughDataError
        If there is no edge to measure.
    """
    captures = read_captures(paths, drive=drive, output=output)
    return [measure_repeats(captures, drive=drive, output=output)]


def draw_bench(results: Sequence[BenchResult], path: Path) -> None:
    """Draw the edges with their fits, the drive underneath."""
    from feelcheck.renderers._saving import save_figure
    from feelcheck.renderers.bench_figures import bench_figure

    save_figure(bench_figure(results[0]), path)
