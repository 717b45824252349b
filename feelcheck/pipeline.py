"""Each command's whole flow, readable on one screen.

Every command of the command line has one function of the same name here; it returns the frozen result.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from feelcheck import plugins
from feelcheck.errors import FormatError
from feelcheck.hand import analyse, prepare
from feelcheck.model import HandResult, Recording
from feelcheck.renderers import save_figure

__all__ = ["analyze", "analyze_many", "analyze_recording", "draw_hand", "read_log"]


def read_log(path: Path | str, **options: Any) -> Recording:
    """Read an in-hand log with the reader that is surest the path is its own.

    Parameters
    ----------
    path : Path or str
        A session folder or a delimited axis log.
    **options
        ``time``, ``time_unit``, ``rate_hz``, ``axes``, ``full_scale``: what the file does not say by itself.

    Raises
    ------
    FormatError
        If no reader takes the path, or the one that does cannot make sense of it.
    """
    target = Path(path)
    if not target.exists():
        raise FormatError("There is no such file or folder.", {"path": target}, "Check the path.")
    readers = plugins.load("feelcheck.formats")
    surest = max(readers.values(), key=lambda reader: reader.claims(target))
    recording: Recording = surest.read(target, **options)
    return recording


def analyze(path: Path | str, **options: Any) -> HandResult:
    """Measure the in-hand response of one recording; see `read_log` for the options."""
    return analyze_recording(read_log(path, **options))


def analyze_recording(recording: Recording) -> HandResult:
    """Measure the in-hand response of a recording in memory."""
    return analyse(prepare(recording), plugins.load("feelcheck.metrics").values())


def analyze_many(paths: Sequence[Path], **options: Any) -> list[HandResult]:
    """Measure several recordings with the same options."""
    return [analyze(path, **options) for path in paths]


def draw_hand(results: Sequence[HandResult], path: Path) -> None:
    """Draw the evidence of the first result, the others beside it as files with a number in their name."""
    from feelcheck.renderers.hand_figures import hand_figure

    for number, result in enumerate(results, start=1):
        target = path if number == 1 else path.with_stem(f"{path.stem}_{number}")
        save_figure(hand_figure(result), target)
