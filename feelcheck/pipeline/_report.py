"""One self-contained page about one or several specimens."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from feelcheck.model import Making, Play, Report
from feelcheck.outputs import REPORT_PAGE, output, voucher
from feelcheck.pipeline._gathering import gathered
from feelcheck.pipeline._references import listed
from feelcheck.renderers.report import report_html

__all__ = ["report", "report_of", "write_report"]


def report(
    references: str | Path | Sequence[str | Path],
    out: Path | str = "feelcheck_report.html",
    *,
    margin_ms: float = 1.0,
    play: Play | None = None,
    jobs: int | None = None,
    say: Callable[[str], None] = lambda _: None,
) -> Report:
    """Measure anew what is at hand, write the page and return what it shows.

    Parameters
    ----------
    references : str, Path or sequence of them
        Records, captures or sessions, the baseline first; see `specimen_of`.
    out : Path or str
        The page.
    margin_ms : float, ms
        The largest difference of delay that does not matter.
    play : Play, optional
        How the stick is used.
    jobs : int, optional
        Processes on this machine, where there are many files; as many as it has processors if not given.
    say : callable
        Called with one line before each step that takes time.

    Returns
    -------
    Report
        With the page's path, and itself a path to it.

    Raises
    ------
    OutputError
        If the page may not go there or cannot be written.
    """
    page = report_of(references, margin_ms=margin_ms, play=play, jobs=jobs, say=say)
    return replace(page, page=str(write_report(page, Path(out), say=say)))


def report_of(
    references: str | Path | Sequence[str | Path],
    *,
    margin_ms: float = 1.0,
    play: Play | None = None,
    jobs: int | None = None,
    say: Callable[[str], None] = lambda _: None,
) -> Report:
    """Measure anew what is at hand and return what the page shows; parameters as those of `report`."""
    making = Making(references=tuple(listed(references)), margin_ms=margin_ms, play=play or Play())
    return gathered(making, jobs=jobs, say=say)


def write_report(
    page: Report, out: Path, *, tables: Sequence[Path] = (), say: Callable[[str], None] = lambda _: None
) -> Path:
    """Write a page and return its path; it vouches for tables beside it.

    Raises
    ------
    OutputError
        If it may not go there or cannot be written.
    """
    with output(out, REPORT_PAGE) as stream:
        stream.write(report_html(page, mark=REPORT_PAGE.mark, voucher=voucher(tables), say=say).encode("utf-8"))
    return out
