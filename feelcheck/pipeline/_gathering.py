"""All that one page shows, gathered from the files it is asked for; the same way for a report, the demo and a proof."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from importlib import metadata
from pathlib import Path
from typing import Any

from feelcheck import __version__
from feelcheck.errors import FeelcheckError
from feelcheck.model import BenchResult, ChainLink, Comparison, Evidence, HandResult, Making, Report
from feelcheck.pipeline._chain import chain_of
from feelcheck.pipeline._compare import compare_specimens
from feelcheck.pipeline._contradictions import contradictions
from feelcheck.pipeline._evidence import hashes_of
from feelcheck.pipeline._feel import feel_specimens
from feelcheck.pipeline._measuring import Measured, Measurements, ToMeasure
from feelcheck.pipeline._parts import axes_with_parts
from feelcheck.pipeline._prediction import file_at_hand, predictions_of
from feelcheck.pipeline._references import reference_parts
from feelcheck.pipeline._specimens import Specimen, is_unfinished, specimens_of

__all__ = ["concluded", "gathered", "measured_each", "versions"]

LIBRARIES = ("numpy", "scipy", "pandas", "matplotlib", "pygame")
Find = Callable[[str, Specimen], Path | None]


def gathered(
    making: Making,
    *,
    find: Find = file_at_hand,
    say: Callable[[str], None] = lambda _: None,
    jobs: int | None = None,
) -> Report:
    """Measure anew what is at hand and return everything that the page shows.

    Parameters
    ----------
    making : Making
        What is asked for; which files there are is found out.
    find : callable
        Returns where a file lies that a specimen's record names, None if it is gone.
    say : callable
        Called with one line before each step that takes time.
    jobs : int, optional
        Processes that measure, where there are many files; as many as there are processors if not given.

    Raises
    ------
    FeelcheckError
        If a reference cannot be read or shows nothing.
    """
    making = replace(making, references=_finished(making.references, say))
    measurements = Measurements(say=say, jobs=jobs)
    specimens = specimens_of(making.references, measurements)
    named = (
        _evidence("reference", k, specimens[k], reference_parts(text)[0]) for k, text in enumerate(making.references)
    )
    made = replace(making, files=(*named, *_at_hand(specimens, find)))
    at_hand = [(one, Path(one.path)) for one in made.files if one.kind != "reference"]
    return concluded(made, specimens, list(measured_each(at_hand, measurements)), say=say)


def _finished(references: Sequence[str], say: Callable[[str], None]) -> tuple[str, ...]:
    """Leave unfinished sessions out where something else remains, and say so: half a script is no repeat of a whole."""
    left_out = [reference for reference in references if is_unfinished(Path(reference))]
    kept = [reference for reference in references if reference not in left_out]
    if not kept:
        return tuple(references)
    for reference in left_out:
        say(f"left out, since it is unfinished: {reference}; go on with it: feelcheck log --resume {reference}")
    for folder in map(Path, kept):
        if folder.is_dir() and not is_unfinished(folder):
            for inside in (child for child in sorted(folder.iterdir()) if is_unfinished(child)):
                say(f"left out, since it is unfinished: {inside}")
    return tuple(kept)


def _at_hand(specimens: Sequence[Specimen], find: Find) -> Iterator[Evidence]:
    """Every capture, and of every specimen the latest recording, as far as they are at hand."""
    for k, specimen in enumerate(specimens):
        captures = [(r.told, place) for r in specimen.bench if (place := find(r.path, specimen)) is not None]
        yield from (replace(_evidence("capture", k, specimen, place), told=dict(told)) for told, place in captures)
        places = (find(record.path, specimen) for record in reversed(specimen.hand))
        latest = next((place for place in places if place is not None), None)
        if latest is not None:
            yield _evidence("recording", k, specimen, latest)


def _evidence(kind: Any, reference: int, specimen: Specimen, path: Path) -> Evidence:
    return Evidence(
        kind=kind, reference=reference, specimen=specimen.profile.specimen, state=specimen.state, path=str(path),
        sha256=hashes_of(path),
    )  # fmt: skip


def measured_each(
    files: Iterable[tuple[Evidence, Path]],
    measurements: Measurements,
    failed: Callable[[Path, FeelcheckError], None] | None = None,
) -> Iterator[tuple[Evidence, Measured]]:
    """Yield what each capture or recording says, under the name and path of the evidence.

    Parameters
    ----------
    files : iterable of (Evidence, Path)
        What each is called on the page, and where it lies.
    measurements : Measurements
        What is measured already.
    failed : callable, optional
        Takes a file that cannot be measured, which is left out; without it the error is raised.
    """
    asked = [(one, place, _to_measure(one, place)) for one, place in files]
    measurements.ahead((own for _, _, own in asked), go_on=failed is not None)
    for one, place, own in asked:
        try:
            found = measurements.of(own, f"measuring the {one.kind} of {one.specimen}, {place.name}")
        except FeelcheckError as problem:
            if failed is None:
                raise
            failed(place, problem)
        else:
            yield one, _as(one, found)


def _to_measure(one: Evidence, place: Path) -> ToMeasure:
    return ToMeasure.capture(place, one.told) if one.kind == "capture" else ToMeasure.recording(place)


def _as(one: Evidence, found: Measured) -> Measured:
    """The result under the name and path of the evidence."""
    own: dict[str, Any] = {"specimen": one.specimen, "state": one.state, "path": one.path}
    if isinstance(found, BenchResult):
        return replace(found, capture=replace(found.capture, provenance=replace(found.capture.provenance, **own)))
    return replace(found, recording=replace(found.recording, provenance=replace(found.recording.provenance, **own)))


def concluded(
    making: Making,
    specimens: Sequence[Specimen],
    results: Sequence[tuple[Evidence, Measured]],
    *,
    say: Callable[[str], None] = lambda _: None,
) -> Report:
    """Return everything that follows from specimens and measured files.

    Parameters
    ----------
    making : Making
        What was asked for and read.
    specimens : sequence of Specimen
        One a reference.
    results : sequence of (Evidence, result)
        What was measured anew.
    say : callable
        Called with one line before each step that takes time.
    """
    margin_ms = making.margin_ms
    with_hand = [specimen for specimen in specimens if specimen.hand]
    comparison = None
    if len(with_hand) > 1:
        say("comparing the specimens")
        comparison = compare_specimens(with_hand[0], with_hand[1:], margin_ms=margin_ms)
    hand = [(specimens[one.reference], found) for one, found in results if isinstance(found, HandResult)]
    if comparison is not None:
        say("predicting the tails of flicks")
        tails = tuple(trace for specimen, result in hand for trace in predictions_of(specimen, result))
        comparison = replace(comparison, traces=tails)
    say("working out what it means in use")
    answering = [s for s in specimens if s.hand or s.bench or axes_with_parts(s)]
    in_use = tuple(feel_specimens(answering, making.play)) if answering else ()
    told = contradictions(specimens, [found for _, found in results])
    if comparison is not None:
        comparison = replace(comparison, caveats=(*comparison.caveats, *told))
    elif in_use:
        in_use = (replace(in_use[0], caveats=(*in_use[0].caveats, *told)), *in_use[1:])
    return Report(
        title=f"feelcheck: {', '.join(specimen.label for specimen in specimens)}",
        profiles=tuple(specimen.profile for specimen in specimens),
        bench=tuple(found for _, found in results if isinstance(found, BenchResult)),
        hand=tuple(found for _, found in hand),
        comparison=comparison,
        chain=_chain(specimens, comparison, margin_ms),
        feel=in_use,
        provenance=versions(),
        making=making,
    )


def _chain(specimens: Sequence[Specimen], comparison: Comparison | None, margin_ms: float) -> tuple[ChainLink, ...]:
    """The chain of every specimen, where no comparison holds it."""
    if comparison is not None:
        return ()
    return tuple(link for specimen in specimens for link in chain_of(specimen, margin_s=margin_ms / 1e3))


def versions() -> dict[str, str]:
    """Return today, and the versions of the tool and of the libraries it computes with."""
    libraries = {f"{name} version": metadata.version(name) for name in LIBRARIES}
    return {"made on": date.today().isoformat(), "feelcheck version": __version__, **libraries}
