"""What results have to say of themselves, by the page's section, each remark once with the specimens it is about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from feelcheck.model import BenchResult, Caveat, FeelResult, HandResult, Report
from feelcheck.model.quantities import words_of
from feelcheck.renderers._format import format_brief
from feelcheck.renderers.feel_text import STUDIES
from feelcheck.renderers.report.glance import label_of

__all__ = ["by_section"]

Said = tuple[str, Caveat, str]
"""A specimen, its remark, and the quantity that the remark is about (empty: all)."""


def by_section(report: Report) -> dict[str, list[str]]:
    """Return the remarks of ``bench``, ``hand``, ``comparison`` and ``use``, with what captures suggest.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    bench = [said for result in report.bench for said in _of_capture(result)]
    hand = [said for result in report.hand for said in _of_recording(result)]
    compared = [] if report.comparison is None else [("", caveat, "") for caveat in report.comparison.caveats]
    suggested = [
        f"{label_of(result.capture.provenance, 'the capture')}: {' '.join(result.explanation)}"
        for result in report.bench
        if result.explanation
    ]
    return {
        "bench": [*suggested, *_once(bench)],
        "hand": _once(hand),
        "comparison": _once(compared),
        "use": [*_largest(report.feel), *_once(said for result in report.feel for said in _of_use(result))],
    }


def _of_capture(result: BenchResult) -> Iterator[Said]:
    name = label_of(result.capture.provenance, "the capture")
    yield from ((name, caveat, "") for caveat in result.caveats)
    for word, side in result.sides.items():
        yield from ((name, caveat, f"{word} edge") for caveat in side.smoothing_delay.caveats)
    yield from ((name, caveat, "steps inside the sensor") for caveat in result.update_interval.caveats)


def _of_recording(result: HandResult) -> Iterator[Said]:
    """Its remarks; one that the flicks of some axes brought about stands with those axes."""
    name = label_of(result.recording.provenance, "the recording")
    of_axes = [
        (axis.name, caveat)
        for axis in result.axes.values()
        for side in axis.sides.values()
        for caveat in side.smoothing_delay.caveats
    ]
    yield from ((name, caveat, axis) for axis, caveat in of_axes)
    known = [caveat for _, caveat in of_axes]
    yield from ((name, caveat, "") for caveat in result.caveats if caveat not in known)


def _of_use(result: FeelResult) -> Iterator[Said]:
    yield from ((result.specimen, caveat, "") for caveat in result.caveats)
    for axis in result.axes:
        yield from ((result.specimen, caveat, "") for caveat in axis.caveats)
        for name, estimate in axis.estimates.items():
            about = words_of(name, "feel")
            yield from ((result.specimen, caveat, about) for caveat in estimate.caveats)


def _largest(results: Sequence[FeelResult]) -> list[str]:
    """The difference of each specimen to the first one that is set beside published results."""
    found = [
        f"{result.specimen}: set beside published results is the largest difference of delay to the first specimen, "
        f"{format_brief(result.difference)}, {result.difference_at}."
        for result in results
        if result.difference is not None
    ]
    return [*found, STUDIES] if found else []


def _once(said: Iterable[Said]) -> list[str]:
    found: dict[str, tuple[list[str], list[str]]] = {}
    for name, caveat, about in said:
        names, topics = found.setdefault(f"{caveat.text} {caveat.advice}".strip(), ([], []))
        names.append(name)
        topics.append(about)
    return [_joined(text, names, topics) for text, (names, topics) in found.items()]


def _joined(text: str, names: Sequence[str], topics: Sequence[str]) -> str:
    who = ", ".join(filter(None, dict.fromkeys(names)))
    about = "; ".join(filter(None, dict.fromkeys(topics)))
    return ": ".join(filter(None, (who, text))) + (f" (About: {about}.)" if about else "")
