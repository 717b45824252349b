"""What is known of every specimen and axis, gathered from the results of a page: one row each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from feelcheck.model import BenchResult, ChainLink, Estimate, FeelAxis, HandResult, Provenance, Report, Status
from feelcheck.model.labels import base_of, specimen_label
from feelcheck.model.quantities import DELAY, DIRECTIONS
from feelcheck.renderers._format import name_of

__all__ = ["Glance", "bench_by_label", "by_name", "glance_rows", "hand_by_label", "label_of"]

T = TypeVar("T")


@dataclass(slots=True, kw_only=True)
class Glance:
    """One axis of one specimen.

    Parameters
    ----------
    specimen, axis : str
        Label with the state, and the axis.
    parts, bench, hand : dict of Estimate, s
        Smoothing delay by direction, as far as it was predicted from parts or measured.
    used : FeelAxis or None
        What it means in use.
    """

    specimen: str
    axis: str
    parts: dict[str, Estimate] = field(default_factory=dict)
    bench: dict[str, Estimate] = field(default_factory=dict)
    hand: dict[str, Estimate] = field(default_factory=dict)
    used: FeelAxis | None = None

    @property
    def tells(self) -> bool:
        """Whether anything at all is known."""
        delays = [*self.bench.values(), *self.hand.values()]
        return self.used is not None or any(delay.status is not Status.NOT_RESOLVED for delay in delays)


def label_of(provenance: Provenance, otherwise: str) -> str:
    """Return a specimen with its state as comparisons name it: ``cedar@c3_lifted``; as found without a state.

    Parameters
    ----------
    provenance : Provenance
        Where it came from.
    otherwise : str
        What is said where there is no name.
    """
    return specimen_label(name_of(provenance, otherwise), provenance.state)


def by_name(items: Iterable[T], name: Callable[[T], str]) -> dict[str, list[T]]:
    """Return what belongs to each specimen, in order.

    Parameters
    ----------
    items : iterable
        What a page shows.
    name : callable
        The specimen that an item is of.

    Examples
    --------
    >>> by_name(["alder@a", "birch", "alder@b"], base_of)
    {'alder': ['alder@a', 'alder@b'], 'birch': ['birch']}
    """
    found: dict[str, list[T]] = {}
    for item in items:
        found.setdefault(name(item), []).append(item)
    return found


def hand_by_label(report: Report) -> dict[str, list[HandResult]]:
    """Return a page's recordings by the label of their specimen.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    return by_name(report.hand, lambda result: label_of(result.recording.provenance, "the recording"))


def bench_by_label(report: Report) -> dict[str, list[BenchResult]]:
    """Return a page's captures by the label of their specimen.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    return by_name(report.bench, lambda result: label_of(result.capture.provenance, "the capture"))


def glance_rows(report: Report) -> list[Glance]:
    """Return a row for every specimen and axis that a page knows a delay or a meaning of, specimens together.

    Parameters
    ----------
    report : Report
        What the page shows.

    Notes
    -----
    Several sessions of a specimen were pooled by the comparison; its values come before those of a single session.
    Directions are those of the code wherever the bench could be joined to the hand.
    """
    rows: dict[tuple[str, str], Glance] = {}

    def row(specimen: str, axis: str) -> Glance:
        return rows.setdefault((specimen, axis), Glance(specimen=specimen, axis=axis))

    polarity = {(p.specimen, axis): sign for p in report.profiles for axis, sign in p.polarity.items()}
    for link in report.links:
        _add_link(row(link.specimen, link.axis), link, polarity.get((base_of(link.specimen), link.axis), 1))
    # What the comparison pooled stands; single sessions fill what is left.
    for specimen, axis, direction, delay in _compared(report):
        row(specimen, axis).hand.setdefault(direction, delay)
    for specimen, axis, delays in _recorded(report.hand):
        for direction, delay in delays.items():
            row(specimen, axis).hand.setdefault(direction, delay)
    for result in report.feel:
        for used in result.axes:
            row(result.specimen, used.axis).used = used
    for capture in report.bench:
        _add_capture(rows, capture)
    compared = [] if report.comparison is None else [report.comparison.baseline, *report.comparison.candidates]
    order = {name: k for k, name in enumerate(dict.fromkeys([*compared, *(specimen for specimen, _ in rows)]))}
    return sorted((found for found in rows.values() if found.tells), key=lambda found: order[found.specimen])


def _add_link(row: Glance, link: ChainLink, polarity: int) -> None:
    """Take both ends of a link; parts and bench speak of volts, which the polarity turns into the code's direction."""
    if link.link == "parts-hand":
        row.parts[link.direction] = link.predicted
    elif link.link == "parts-bench":
        behind = link.direction if polarity > 0 else DIRECTIONS[1 - DIRECTIONS.index(link.direction)]
        row.parts.setdefault(behind, link.predicted)
        row.bench.setdefault(behind, link.measured)
        return
    row.hand[link.direction] = link.measured
    if link.link == "bench-hand" and link.predicted.status is not Status.NOT_RESOLVED:
        row.bench[link.direction] = link.predicted


def _add_capture(rows: dict[tuple[str, str], Glance], capture: BenchResult) -> None:
    """A capture that no chain holds: beside the only axis of its specimen, else under the name of its own output."""
    name = label_of(capture.capture.provenance, "the capture")
    own = [row for (specimen, _), row in rows.items() if specimen == name]
    if any(row.bench for row in own):
        return
    place = own[0].axis if len(own) == 1 else capture.output_name
    found = rows.setdefault((name, place), Glance(specimen=name, axis=place))
    found.bench |= {direction: side.smoothing_delay for direction, side in capture.sides.items()}


def _compared(report: Report) -> Iterator[tuple[str, str, str, Estimate]]:
    compared = report.comparison
    for metric in () if compared is None else compared.metrics:
        if compared is not None and metric.name == DELAY and not metric.pairs:
            yield compared.baseline, metric.axis, metric.direction, metric.baseline
            yield metric.candidate_name, metric.axis, metric.direction, metric.candidate


def _recorded(results: Sequence[HandResult]) -> Iterator[tuple[str, str, Mapping[str, Estimate]]]:
    for result in results:
        name = label_of(result.recording.provenance, "the recording")
        for axis in result.axes.values():
            yield name, axis.name, {direction: side.smoothing_delay for direction, side in axis.sides.items()}
