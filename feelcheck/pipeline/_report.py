"""One self-contained page about one or several specimens."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from importlib import metadata
from pathlib import Path

from feelcheck import __version__
from feelcheck.model import BenchResult, ChainLink, Comparison, FeelResult, HandResult, Play, Provenance, Report
from feelcheck.outputs import REPORT_PAGE, output, voucher
from feelcheck.pipeline._bench import bench
from feelcheck.pipeline._chain import chain_of
from feelcheck.pipeline._compare import compare_specimens
from feelcheck.pipeline._feel import feel_specimens
from feelcheck.pipeline._parts import axes_with_parts
from feelcheck.pipeline._prediction import file_at_hand, latest_session, predictions_of
from feelcheck.pipeline._specimens import Specimen, specimen_of
from feelcheck.renderers.report import report_html

__all__ = ["captured_of", "page_of", "report", "report_of", "write_report"]

LIBRARIES = ("numpy", "scipy", "pandas", "matplotlib", "pygame")


def report(
    references: str | Path | Sequence[str | Path],
    out: Path | str = "feelcheck_report.html",
    *,
    margin_ms: float = 1.0,
    play: Play | None = None,
) -> Path:
    """Measure anew what is at hand, write the page and return its path.

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

    Raises
    ------
    OutputError
        If the page may not go there or cannot be written.
    """
    return write_report(report_of(references, margin_ms=margin_ms, play=play), Path(out))


def report_of(
    references: str | Path | Sequence[str | Path], *, margin_ms: float = 1.0, play: Play | None = None
) -> Report:
    """Measure anew what is at hand and return what the page shows; parameters as those of `report`."""
    several = [references] if isinstance(references, str | Path) else references
    specimens = [specimen_of(str(reference)) for reference in several]
    bench_results = [result for specimen in specimens for result in _captures(specimen)]
    sessions = [(specimen, result) for specimen in specimens if (result := latest_session(specimen)) is not None]
    measured = [specimen for specimen in specimens if specimen.hand]
    comparison = compare_specimens(measured[0], measured[1:], margin_ms=margin_ms) if len(measured) > 1 else None
    if comparison is not None:
        tails = tuple(trace for specimen, result in sessions for trace in predictions_of(specimen, result))
        comparison = replace(comparison, traces=tails)
    answering = [s for s in specimens if s.hand or s.bench or axes_with_parts(s)]
    in_use = feel_specimens(answering, play or Play()) if answering else []
    chain = tuple(link for s in specimens for link in chain_of(s, margin_s=margin_ms / 1e3)) if not comparison else ()
    return page_of(specimens, bench_results, [recorded_of(s, r) for s, r in sessions], comparison, in_use, chain=chain)


def page_of(
    specimens: Sequence[Specimen],
    bench_results: Sequence[BenchResult],
    hand_results: Sequence[HandResult],
    comparison: Comparison | None,
    in_use: Sequence[FeelResult],
    *,
    chain: tuple[ChainLink, ...] = (),
) -> Report:
    """Return the page about results that are there already."""
    return Report(
        title=f"feelcheck: {', '.join(specimen.label for specimen in specimens)}",
        profiles=tuple(specimen.profile for specimen in specimens),
        bench=tuple(bench_results),
        hand=tuple(hand_results),
        comparison=comparison,
        chain=chain,
        feel=tuple(in_use),
        provenance=_versions(),
    )


def captured_of(specimen: Specimen, result: BenchResult) -> BenchResult:
    """Return a capture's result under the name of the specimen that it was taken of."""
    return replace(result, capture=replace(result.capture, provenance=_named(specimen, result.capture.provenance)))


def recorded_of(specimen: Specimen, result: HandResult) -> HandResult:
    """Return a session's result under the name of the specimen that it is shown as."""
    named = _named(specimen, result.recording.provenance)
    return replace(result, recording=replace(result.recording, provenance=named))


def _named(specimen: Specimen, provenance: Provenance) -> Provenance:
    return replace(provenance, specimen=specimen.profile.specimen, state=specimen.state)


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


def _captures(specimen: Specimen) -> list[BenchResult]:
    found = []
    for record in specimen.bench:
        path = file_at_hand(record.path, specimen)
        if path is not None:
            found.append(captured_of(specimen, bench(path)))
    return found


def _versions() -> dict[str, str]:
    versions = {f"{name} version": metadata.version(name) for name in LIBRARIES}
    return {"made on": date.today().isoformat(), "feelcheck version": __version__, **versions}
