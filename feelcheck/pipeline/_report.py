"""One self-contained page about one or several specimens."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from importlib import metadata
from pathlib import Path

from feelcheck import __version__
from feelcheck.errors import FormatError
from feelcheck.model import BenchResult, Comparison, HandResult, Play, Report
from feelcheck.pipeline._bench import bench
from feelcheck.pipeline._compare import compare
from feelcheck.pipeline._feel import feel
from feelcheck.pipeline._hand import analyze
from feelcheck.pipeline._specimens import Specimen, specimen_of
from feelcheck.renderers.report import report_html

__all__ = ["gather_report", "report"]

LIBRARIES = ("numpy", "scipy", "pandas", "matplotlib", "pygame")


def report(references: Sequence[str], out: Path, *, margin_ms: float = 1.0, play: Play | None = None) -> Path:
    """Write the page and return its path.

    Raises
    ------
    FormatError
        If the page cannot be written there.
    """
    gathered = gather_report(references, margin_ms=margin_ms, play=play or Play())
    try:
        out.write_text(report_html(gathered), encoding="utf-8")
    except OSError as error:
        facts = {"file": out, "got": error.strerror}
        raise FormatError("The page needs a file that can be written.", facts, "Name another with --out.") from error
    return out


def gather_report(references: Sequence[str], *, margin_ms: float, play: Play) -> Report:
    """Gather everything the page shows: raw data that is at hand is measured anew, the rest comes from the records."""
    specimens = [specimen_of(reference) for reference in references]
    labels = ", ".join(specimen.label for specimen in specimens)
    return Report(
        title=f"feelcheck: {labels}",
        profiles=tuple(specimen.profile for specimen in specimens),
        bench=tuple(result for specimen in specimens for result in _captures(specimen)),
        hand=tuple(result for specimen in specimens for result in _sessions(specimen)),
        comparison=_comparison(references, specimens, margin_ms),
        feel=tuple(
            feel([s for s, specimen in zip(references, specimens, strict=True) if _has_response(specimen)], play)
        ),
        provenance=_versions(),
    )


def _has_response(specimen: Specimen) -> bool:
    return bool(specimen.hand or specimen.bench)


def _comparison(references: Sequence[str], specimens: Sequence[Specimen], margin_ms: float) -> Comparison | None:
    measured = [reference for reference, specimen in zip(references, specimens, strict=True) if specimen.hand]
    return compare(measured[0], measured[1:], margin_ms=margin_ms) if len(measured) > 1 else None


def _sessions(specimen: Specimen) -> list[HandResult]:
    """The latest session of each specimen whose recording is still there."""
    for record in reversed(specimen.hand):
        path = _found(record.path, specimen)
        if path is not None:
            return [analyze(path)]
    return []


def _captures(specimen: Specimen) -> list[BenchResult]:
    found = []
    for record in specimen.bench:
        path = _found(record.path, specimen)
        if path is not None:
            found += bench([path])
    return found


def _found(path: str, specimen: Specimen) -> Path | None:
    """The file as recorded, or beside the specimen's record; None if it is gone."""
    places = [Path(path), Path(specimen.profile.path).parent.parent / path] if path else []
    return next((place for place in places if place.exists()), None)


def _versions() -> dict[str, str]:
    versions = {f"{name} version": metadata.version(name) for name in LIBRARIES}
    return {"made on": date.today().isoformat(), "feelcheck version": __version__, **versions}
