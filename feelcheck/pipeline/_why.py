"""What a number is made of and what decided it, for any quantity of a session, log or capture."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

from feelcheck.errors import FeelcheckError, NotEnoughDataError
from feelcheck.model import BenchResult, Estimate, HandResult
from feelcheck.model.numbers import Count, Number, numbers_of
from feelcheck.model.why import Decider, Explained, Why
from feelcheck.numerics import numbers as of_numerics
from feelcheck.pipeline._bench import bench
from feelcheck.pipeline._compare import compare
from feelcheck.pipeline._hand import analyze, own_metrics
from feelcheck.pipeline._survey import kind_of_file

__all__ = ["why"]

COUNTED_BY = "python tests/statistical/number_effect.py"
LAG = ("marker", "tied_sticks")
"""Metrics with a part of the result to themselves."""
Place = tuple[str, str, str]


def why(
    path: str | Path,
    quantity: str,
    *,
    axis: str = "",
    direction: str = "",
    against: str | Path | None = None,
    margin_ms: float = 1.0,
    **options: Any,
) -> Why:
    """Tell every term of a number's uncertainty, and every number of the tool that decided.

    Parameters
    ----------
    path : str or Path
        A session folder, an axis log or a capture; with `against` anything that `compare` takes.
    quantity : str
        As in JSON, e.g. ``"time_constant"``; spaces for underscores are taken too.
    axis, direction : str
        Only these; empty for all.
    against : str, Path or None
        A baseline: then the difference and its verdict are told.
    margin_ms : float, ms
        The largest difference of delay that does not matter, with `against`.
    **options
        What the file does not say by itself, as in `analyze` and `bench`.

    Returns
    -------
    Why
        A number for each axis and direction.

    Raises
    ------
    FeelcheckError
        If there is no such quantity, axis or direction; its text names the nearest.
    FormatError
        If the file cannot be read.
    """
    name = quantity.strip().lower().replace(" ", "_")
    found = _told(path, options) if against is None else _differences(path, against, margin_ms)
    chosen = _chosen(found, name, axis, direction)
    return Why(path=str(path), quantity=name, numbers=tuple(chosen), against="" if against is None else str(against))


def _told(path: str | Path, options: Mapping[str, Any]) -> list[Explained]:
    where = Path(path)
    if not where.exists():
        raise FeelcheckError("There is no such file or folder.", {"path": where}, "Check the path.")
    if kind_of_file(where) == "capture":
        from feelcheck.bench import numbers

        rooms, estimates = {"": numbers}, _of_bench(bench(where, **options))
    else:
        from feelcheck.hand import numbers as of_hand

        of_metrics = {metric.name: getattr(metric, "numbers", of_hand) for metric in own_metrics()}
        rooms = {"": of_hand, **of_metrics}
        estimates = _of_hand(analyze(where, **options))
    lag = {name: rooms.pop(name) for name in LAG if name in rooms}
    rooms["numerics"] = of_numerics
    return [
        Explained(
            part=part,
            axis=axis,
            direction=direction,
            estimate=estimate,
            deciders=_deciders(estimate, [lag[part], *rooms.values()] if part in lag else rooms.values()),
        )
        for (part, axis, direction), estimate in estimates
    ]


def _of_hand(result: HandResult) -> Iterator[tuple[Place, Estimate]]:
    for name, axis in result.axes.items():
        for direction, side in axis.sides.items():
            yield from _within(side, ("", name, direction))
        yield from _within(axis, ("", name, ""))
    yield from _within(result.timing, ("timing", "", ""))
    yield from _in(result.release, ("release", "", ""))
    if result.lag is not None:
        marker, coupled = result.lag.marker, result.lag.coupled
        yield from _within(marker, ("marker", "", ""))
        for (axis_name, direction), estimate in marker.directions.items():
            yield ("marker", axis_name, direction), estimate
        yield from _within(coupled, ("tied_sticks", "", ""))
        for letter, tied in coupled.axes.items():
            yield from _within(tied, ("tied_sticks", letter, ""))


def _of_bench(result: BenchResult) -> Iterator[tuple[Place, Estimate]]:
    for direction, side in result.sides.items():
        yield from _within(side, ("", result.output_name, direction))
    yield from _within(result, ("", result.output_name, ""))
    for other in result.outputs:
        yield from _of_bench(other)


def _within(record: object, place: Place) -> Iterator[tuple[Place, Estimate]]:
    """Return the estimates that are fields of a record, or stand in its mappings of further quantities."""
    assert is_dataclass(record)
    for field in fields(record):
        value = getattr(record, field.name)
        if isinstance(value, Estimate):
            yield place, value if field.name == value.quantity else value.renamed(field.name)
        elif field.name == "extra":
            yield from _in(value, place)


def _in(estimates: Mapping[str, Estimate], place: Place) -> Iterator[tuple[Place, Estimate]]:
    for name, estimate in estimates.items():
        yield place, estimate.renamed(name)


def _differences(path: str | Path, against: str | Path, margin_ms: float) -> list[Explained]:
    from feelcheck.comparison import numbers

    rows = compare(str(against), [str(path)], margin_ms=margin_ms).metrics
    return [
        Explained(
            part=row.state,
            axis=row.axis,
            direction=row.direction,
            estimate=row.difference.renamed(row.name),
            deciders=_deciders(row.difference.because(*row.decided_by), [numbers]),
            compared=row,
        )
        for row in rows
    ]


def _deciders(estimate: Estimate, rooms: Iterable[ModuleType]) -> tuple[Decider, ...]:
    """Return the numbers that decided the status, then those that set a term, the largest first."""
    size = {term.words: term.u for term in estimate.terms}
    found: dict[str, Decider] = {}
    for room in dict.fromkeys(rooms):
        for name, number in numbers_of(room).items():
            if name in estimate.decided_by or number.sets in size:
                found.setdefault(name, _decider(name, number, room, decided=name in estimate.decided_by))
    return tuple(sorted(found.values(), key=lambda one: -size.get(one.sets, float("inf"))))


def _decider(name: str, number: Number | Count, room: ModuleType, *, decided: bool) -> Decider:
    command = f"{COUNTED_BY} {room.__name__} {name}" if number.by_trial else ""
    return Decider(
        name=name,
        value=float(number),
        unit=number.unit,
        reason=number.reason,
        command=command,
        sets="" if decided else number.sets,
    )


def _chosen(found: list[Explained], name: str, axis: str, direction: str) -> list[Explained]:
    if not found:
        raise NotEnoughDataError("Nothing was measured here.", {}, "feelcheck analyze or bench says what is missing.")
    chosen = _asked([*found], "quantity", name, lambda one: one.estimate.quantity)
    chosen = _asked(chosen, "axis", axis, lambda one: one.axis)
    return _asked(chosen, "direction", direction, lambda one: one.direction)


def _asked(found: list[Explained], what: str, wanted: str, of: Any) -> list[Explained]:
    """Return those that are called so; everything where nothing is asked for."""
    chosen = [one for one in found if not wanted or of(one) == wanted]
    if not chosen:
        known = list(dict.fromkeys(of(one) for one in found if of(one)))
        near = difflib.get_close_matches(wanted, known, n=1)
        guess = f"Did you mean {near[0]}?" if near else "Name one of the known ones."
        step = guess if known else f"This has no {what}: leave it out."
        raise FeelcheckError(f"There is no such {what} here.", {"got": wanted, "known": ", ".join(known)}, step)
    return chosen
