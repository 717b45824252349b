"""One source, two values: records that hold something else than their file says now, or than another record."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from feelcheck.model import BenchRecord, BenchResult, Caveat, Estimate, HandRecord, HandResult
from feelcheck.model.quantities import DELAY, DIRECTIONS
from feelcheck.numerics.uncertainty import coverage_factor
from feelcheck.pipeline._specimens import Specimen
from feelcheck.renderers import format_brief

__all__ = ["contradictions"]

Told = tuple[str, str, Mapping[str, Estimate]]
"""Who says so, of which file, and the delays by axis and direction."""


def contradictions(specimens: Sequence[Specimen], results: Sequence[BenchResult | HandResult]) -> tuple[Caveat, ...]:
    """Return a remark for every delay of one file, known by its hash, that is told twice and not alike.

    Parameters
    ----------
    specimens : sequence of Specimen
        Their records hold what was measured once.
    results : sequence of BenchResult or HandResult
        What their files say now.

    Notes
    -----
    The same file measured twice by the same version gives the same value; so two that lie farther apart than their
    95 % intervals allow come from different versions of the tool, or one was edited.
    """
    by_file: dict[str, list[Told]] = {}
    for sha256, told in (*_recorded(specimens), *_measured(results)):
        if sha256:
            by_file.setdefault(sha256, []).append(told)
    found = [caveat for told in by_file.values() for caveat in _unlike(told)]
    return tuple({caveat.text: caveat for caveat in found}.values())


def _recorded(specimens: Sequence[Specimen]) -> Iterator[tuple[str, Told]]:
    for specimen in specimens:
        who = f"the record of {specimen.profile.specimen}"
        for record in specimen.bench:
            yield record.sha256, (who, Path(record.path).name, _of_bench(record))
        for session in specimen.hand:
            yield session.sha256, (who, session.session, _of_hand(session))


def _of_bench(record: BenchRecord) -> dict[str, Estimate]:
    return {d: record.directions[d][DELAY] for d in DIRECTIONS if DELAY in record.directions.get(d, {})}


def _of_hand(record: HandRecord) -> dict[str, Estimate]:
    return {
        f"{axis} {d}": groups[d][DELAY]
        for axis, groups in record.axes.items()
        for d in DIRECTIONS
        if DELAY in groups.get(d, {})
    }


def _measured(results: Sequence[BenchResult | HandResult]) -> Iterator[tuple[str, Told]]:
    for result in results:
        if isinstance(result, BenchResult):
            sides = {"rising": result.rising, "falling": result.falling}
            delays = {d: side.smoothing_delay for d, side in sides.items() if side is not None}
            provenance = result.capture.provenance
        else:
            delays = {f"{name} {d}": side.smoothing_delay for name, axis in result.axes.items()
                      for d, side in axis.sides.items()}  # fmt: skip
            provenance = result.recording.provenance
        yield provenance.sha256, ("the file measured now", Path(provenance.path).name, delays)


def _unlike(told: Sequence[Told]) -> Iterator[Caveat]:
    """Hold each value of a file against the last one, the newest."""
    *others, (who, file, newest) = told
    for other, _, delays in others:
        for where, delay in delays.items():
            now = newest.get(where)
            if now is not None and _apart(delay, now):
                yield Caveat(
                    code="contradiction",
                    text=f"{file}, {where}: {other} says {format_brief(delay)}, {who} {format_brief(now)}.",
                    advice="One of them is of another version or was edited: add the file to a fresh record.",
                )


def _apart(first: Estimate, second: Estimate) -> bool:
    if first.value is None or second.value is None or first.u is None or second.u is None:
        return False
    return abs(first.value - second.value) > coverage_factor(math.inf) * math.hypot(first.u, second.u)
