"""All that one page shows, gathered from the files it is asked for; the same way for a report, the demo and a proof."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from importlib import metadata
from pathlib import Path
from typing import Any

from feelcheck import __version__
from feelcheck.model import BenchResult, ChainLink, Comparison, Evidence, HandResult, Making, Provenance, Report
from feelcheck.pipeline._bench import bench_as_told
from feelcheck.pipeline._chain import chain_of
from feelcheck.pipeline._compare import compare_specimens
from feelcheck.pipeline._contradictions import contradictions
from feelcheck.pipeline._evidence import hashes_of
from feelcheck.pipeline._feel import feel_specimens
from feelcheck.pipeline._hand import analyze
from feelcheck.pipeline._parts import axes_with_parts
from feelcheck.pipeline._prediction import file_at_hand, predictions_of
from feelcheck.pipeline._references import reference_parts
from feelcheck.pipeline._specimens import Specimen, is_unfinished, specimen_of

__all__ = ["Measured", "concluded", "gathered", "measured", "versions"]

LIBRARIES = ("numpy", "scipy", "pandas", "matplotlib", "pygame")
Measured = BenchResult | HandResult
Find = Callable[[str, Specimen], Path | None]


def gathered(making: Making, *, find: Find = file_at_hand, say: Callable[[str], None] = lambda _: None) -> Report:
    """Measure anew what is at hand and return everything that the page shows.

    Parameters
    ----------
    making : Making
        What is asked for; which files there are is found out.
    find : callable
        Returns where a file lies that a specimen's record names, None if it is gone.
    say : callable
        Called with one line before each step that takes time.

    Raises
    ------
    FeelcheckError
        If a reference cannot be read or shows nothing.
    """
    making = replace(making, references=_finished(making.references, say))
    specimens = []
    for reference in making.references:
        say(f"reading {Path(reference).name}")
        specimens.append(specimen_of(reference))
    named = (
        _evidence("reference", k, specimens[k], reference_parts(text)[0]) for k, text in enumerate(making.references)
    )
    made = replace(making, files=(*named, *_at_hand(specimens, find)))
    results = [
        (one, _known(one, specimens[one.reference]) or measured(one, Path(one.path), say=say))
        for one in made.files
        if one.kind != "reference"
    ]
    return concluded(made, specimens, results, say=say)


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


def measured(one: Evidence, place: Path, *, say: Callable[[str], None] = lambda _: None) -> Measured:
    """Return what a capture or a recording says, under the name and path of the evidence.

    Parameters
    ----------
    one : Evidence
        What it is called on the page.
    place : Path
        Where it lies.
    say : callable
        Called with one line before it is measured.
    """
    named = f"{one.specimen}, {place.name}"
    if one.kind == "capture":
        say(f"measuring the capture of {named}")
        result = bench_as_told(place, one.told)
        return replace(result, capture=replace(result.capture, provenance=_as(one, result.capture.provenance)))
    say(f"measuring the recording of {named}")
    found = analyze(place)
    return replace(found, recording=replace(found.recording, provenance=_as(one, found.recording.provenance)))


def _known(one: Evidence, specimen: Specimen) -> Measured | None:
    """What was measured of a file already, to know what it is."""
    for capture in specimen.captures:
        if capture.capture.provenance.path == one.path:
            return replace(capture, capture=replace(capture.capture, provenance=_as(one, capture.capture.provenance)))
    for found in specimen.recordings:
        own = found.recording.provenance
        if own.path == one.path:
            return replace(found, recording=replace(found.recording, provenance=_as(one, own)))
    return None


def _as(one: Evidence, provenance: Provenance) -> Provenance:
    return replace(provenance, specimen=one.specimen, state=one.state, path=one.path)


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
