"""From a table of many files to the population of sticks: one value a stick, limits, outliers, chart, pairs."""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import PurePath
from typing import Any

import numpy as np

from feelcheck.comparison.control_chart import batch_means, control_chart
from feelcheck.comparison.numbers import (
    CONFIDENCE,
    FALSE_ALARM,
    FEWEST_FOR_OUTLIERS,
    FEWEST_FOR_SHAPE,
    MOST_STICKS,
)
from feelcheck.comparison.survey_columns import MAIN, QuantityColumns, has_directions, number_in, quantities_of
from feelcheck.comparison.tolerance import tolerance_limits
from feelcheck.model import FloatArray, Outlier, Population, PopulationQuantity, StickPair, StickValue
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.descriptive import MAD_TO_SD, robust_sd
from feelcheck.numerics.uncertainty import WIDTH_95

__all__ = ["best_pairs", "deviations", "group_of", "outlier_limit", "population_of", "stick_name"]

SHARES = (0.5, 0.9, 0.95)
_AXIS = re.compile(r"[ _.-]?[xy]$", re.IGNORECASE)
PAIRED_BY = "smoothing_delay"
Row = Mapping[str, Any]
Answers = dict[str, tuple[float, float]]

_DRAWS, _FEWEST, _MOST = 1_000_000, 400, 10_000


def population_of(rows: Sequence[Row], columns: Sequence[str]) -> Population:
    """Return what a table says of the population.

    Parameters
    ----------
    rows : sequence of mapping
        The table of a survey.
    columns : sequence of str
        Its columns, in order.

    Notes
    -----
    The member of the population is the stick (a loose sensor is one, too): recordings and axes of the same stick are
    averaged first, so that a stick recorded ten times counts once. Hand and bench, and sticks in different states, are
    populations of their own. Simulated sticks are left out where there are real ones, and so is a file that holds the
    same as one before it: a copy is no other stick.
    """
    measured = [row for row in rows if not row["reason"]]
    real = [row for row in measured if not row["simulated"]]
    kept = real or measured
    left_out = _n_files(measured) - _n_files(kept)
    once = _without_copies(kept)
    copies, kept = _n_files(kept) - _n_files(once), once
    quantities = [
        made
        for of in _in_order(quantities_of(columns))
        for group, state in sorted({(group_of(row), str(row["state"] or "")) for row in kept})
        for made in _of_group(
            [r for r in kept if (group_of(r), str(r["state"] or "")) == (group, state)], of, group, state
        )
    ]
    return Population(
        simulated=not real and bool(measured),
        left_out=left_out,
        copies=copies,
        quantities=tuple(quantities),
        pairs=best_pairs(kept),
    )


def _n_files(rows: Sequence[Row]) -> int:
    return len({row["path"] for row in rows})


def _without_copies(rows: Sequence[Row]) -> list[Row]:
    first: dict[str, str] = {}
    for row in rows:
        first.setdefault(row.get("sha256") or row["path"], row["path"])
    return [row for row in rows if first[row.get("sha256") or row["path"]] == row["path"]]


def _in_order(found: list[QuantityColumns]) -> list[QuantityColumns]:
    place = {name: k for k, name in enumerate(MAIN)}
    return sorted(found, key=lambda of: (place.get(of.quantity, len(MAIN)), of.quantity, of.unit))


def group_of(row: Row) -> str:
    """Return which kind of population a row belongs to: ``"bench"`` or ``"hand"``.

    Parameters
    ----------
    row : Row
        A row of a survey's table.
    """
    return "bench" if row["kind"] == "capture" else "hand"


def stick_name(row: Row) -> str:
    """Return what a row's stick is called: its specimen or file, and which stick of a pad.

    Parameters
    ----------
    row : Row
        A row of a survey's table.

    Examples
    --------
    >>> stick_name({"kind": "session", "specimen": "alder", "path": "a/alder_as_found", "axis": "left_x"})
    'alder left'
    >>> stick_name({"kind": "capture", "specimen": "", "path": "a/elm.csv", "axis": "Sensor"})
    'elm'
    """
    stick = "" if row["kind"] == "capture" else _AXIS.sub("", str(row["axis"] or ""))
    return f"{_specimen(row)} {stick}".strip()


def _specimen(row: Row) -> str:
    return str(row["specimen"] or "") or PurePath(str(row["path"])).stem


def _of_group(rows: list[Row], of: QuantityColumns, group: str, state: str) -> Iterable[PopulationQuantity]:
    directed = has_directions(rows, of)
    for direction in DIRECTIONS if directed else ("",):
        own = [row for row in rows if not direction or row["direction"] == direction]
        sticks = _sticks(own, of)
        if any(stick.value is not None for stick in sticks):
            yield _described(own, of, sticks, (group, state, direction))


def _sticks(rows: Iterable[Row], of: QuantityColumns) -> list[StickValue]:
    cells: dict[str, list[Row]] = {}
    for row in rows:
        cells.setdefault(stick_name(row), []).append(row)
    found = (_stick(name, own, of) for name, own in sorted(cells.items()))
    return [stick for stick in found if stick is not None]


def _stick(name: str, rows: list[Row], of: QuantityColumns) -> StickValue | None:
    """The mean of a stick's values; a bound among them makes the mean a bound."""
    numbers, kinds, variances = [], set(), []
    for row in rows:
        low, high = number_in(row, f"{of.quantity}_low"), number_in(row, f"{of.quantity}_high")
        value, status = number_in(row, of.column), row.get(f"{of.quantity}_status")
        if value is not None:
            numbers.append(value)
            variances.append(((high - low) / WIDTH_95) ** 2 if low is not None and high is not None else 0.0)
        elif of.alone and status in ("at_most", "at_least"):
            bound = high if status == "at_most" else low
            if bound is not None:
                numbers.append(bound)
                kinds.add(str(status))
    if not numbers or len(kinds) > 1:
        return None
    mean, batch = float(np.mean(numbers)), str(rows[0]["batch"] or "")
    known: dict[str, Any] = (
        {kinds.pop(): mean} if kinds else {"value": mean, "u": float(np.sqrt(sum(variances))) / len(numbers)}
    )
    return StickValue(name=name, batch=batch, n_recordings=len({row["path"] for row in rows}), **known)


def _described(
    rows: list[Row], of: QuantityColumns, sticks: list[StickValue], place: tuple[str, str, str]
) -> PopulationQuantity:
    known = [stick for stick in sticks if stick.value is not None]
    values = np.array([stick.value for stick in known])
    upper = [stick.at_most for stick in sticks if stick.at_most is not None]
    lower = [stick.at_least for stick in sticks if stick.at_least is not None]
    held = functools.partial(tolerance_limits, values, at_most=upper, at_least=lower, confidence=CONFIDENCE)
    enough = len(sticks) >= FEWEST_FOR_SHAPE
    below = [held(share=share, sides=1) for share in SHARES] if enough else []
    limit = outlier_limit(values.size) if values.size >= FEWEST_FOR_OUTLIERS else 0.0
    group, state, direction = place
    return PopulationQuantity(
        quantity=of.quantity,
        unit="" if of.unit == "value" else of.unit.replace("_per_", "/"),
        direction=direction,
        group=group,
        state=state,
        sticks=tuple(sticks),
        median=float(np.median(values)),
        sd=float(values.std(ddof=1)) if values.size > 1 else None,
        measured_u=float(np.median([stick.u for stick in known])),
        below=tuple(limits for limits in below if limits is not None),
        between=held(share=0.9) if enough else None,
        outliers=_outliers(known, values, limit),
        outlier_limit=limit,
        false_alarm=FALSE_ALARM if limit else 0.0,
        batches=batch_means(values.tolist(), [stick.batch for stick in known]),
        chart=_chart(rows, of),
    )


def _outliers(known: Sequence[StickValue], values: np.ndarray, limit: float) -> tuple[Outlier, ...]:
    if not limit:
        return ()
    away = deviations(values)
    places = [k for k in np.argsort(-np.abs(away)).tolist() if abs(away[k]) > limit]
    return tuple(Outlier(name=known[k].name, value=float(values[k]), deviations=float(away[k])) for k in places)


def _chart(rows: list[Row], of: QuantityColumns) -> Any:
    """Every recording of every stick, dated ones first, in order of time."""
    points: dict[tuple[bool, str, str, str], list[Row]] = {}
    for row in rows:
        if number_in(row, of.column) is not None:
            when = str(row["recorded"] or "")
            points.setdefault((not when, when, str(row["path"]), stick_name(row)), []).append(row)
    ordered = sorted(points)
    return control_chart(
        [float(np.mean([number_in(row, of.column) or 0.0 for row in points[key]])) for key in ordered],
        names=[key[3] for key in ordered],
        batches=[str(points[key][0]["batch"] or "") for key in ordered],
        recorded=[key[1] for key in ordered],
    )


def deviations(values: FloatArray) -> FloatArray:
    """Return how many robust standard deviations each value lies from the median, shape (n,).

    Parameters
    ----------
    values : ndarray, shape (n,)
        A population.

    Notes
    -----
    1.4826 times the median absolute deviation is the standard deviation of a normal population. Where half of the
    values are equal it is zero; then no value has a deviation.

    References
    ----------
    Hampel, J. Am. Stat. Assoc. 69 (1974) 383.

    Examples
    --------
    >>> deviations(np.array([1.0, 2.0, 3.0, 4.0, 30.0])).round(1).tolist()
    [-1.3, -0.7, 0.0, 0.7, 18.2]
    """
    middle = float(np.median(values))
    scale = robust_sd(values, middle)
    away = values - middle
    return away / scale if scale > 0 else np.zeros_like(values)


@functools.cache
def outlier_limit(n: int, false_alarm: float = FALSE_ALARM) -> float:
    """Return how many robust standard deviations make an outlier among n values.

    Parameters
    ----------
    n : int
        Size of the population.
    false_alarm : float
        How probable it is that a clean normal population of n shows any.

    Notes
    -----
    From simulated normal populations of this very size with a fixed seed: the robust spread of few values is itself
    uncertain, so few values need a wider limit.

    Examples
    --------
    >>> outlier_limit(10) > outlier_limit(100)
    True
    """
    rng = np.random.default_rng(20_261_129)
    clean = rng.standard_normal((min(_MOST, max(_FEWEST, _DRAWS // n)), n))
    away = np.abs(clean - np.median(clean, axis=1, keepdims=True))
    most = away.max(axis=1) / (MAD_TO_SD * np.median(away, axis=1))
    return float(np.quantile(most, 1.0 - false_alarm))


def best_pairs(rows: Sequence[Row], *, unit: str = "ms") -> tuple[StickPair, ...]:
    """Return the pairs of specimens whose smoothing delays differ least, the closest first; each specimen once.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of a survey's table that were measured.
    unit : str
        Display unit of the delay.

    Notes
    -----
    Compared by the largest difference over directions (and axes, where both have the same ones); recordings of one
    specimen in the same state are averaged. Sticks of unlike states or measured unlike (hand, bench) are not paired.
    The closest pair is taken first, then the closest of what is left; this is not always the smallest sum. Two that
    are further apart than two taken at random mostly are make no pair.
    """
    column = f"{PAIRED_BY}_{unit}"
    found: list[StickPair] = []
    populations: dict[tuple[str, str], dict[str, dict[str, list[tuple[float, float]]]]] = {}
    for row in rows:
        value = number_in(row, column)
        low, high = number_in(row, f"{PAIRED_BY}_low"), number_in(row, f"{PAIRED_BY}_high")
        if value is None or low is None or high is None:
            continue
        answer = str(row["direction"]) if group_of(row) == "bench" else f"{row['axis']} {row['direction']}"
        alike = populations.setdefault((group_of(row), str(row["state"] or "")), {})
        alike.setdefault(_specimen(row), {}).setdefault(answer, []).append((value, (high - low) / WIDTH_95))
    for _, sticks in sorted(populations.items()):
        found += _paired({name: _means(answers) for name, answers in sticks.items()}, unit)
    return tuple(sorted(found, key=lambda pair: (pair.difference, pair.first)))


def _means(answers: Mapping[str, list[tuple[float, float]]]) -> Answers:
    return {
        name: (float(np.mean([v for v, _ in own])), math.sqrt(sum(u**2 for _, u in own)) / len(own))
        for name, own in answers.items()
    }


def _paired(sticks: Mapping[str, Answers], unit: str) -> list[StickPair]:
    """Pair within each set of sticks that answer the same questions."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for name, answers in sorted(sticks.items()):
        alike.setdefault(tuple(sorted(answers)), []).append(name)
    found = []
    for questions, names in alike.items():
        kept = names[:MOST_STICKS]
        table = np.array([[sticks[name][question][0] for question in questions] for name in kept])
        for first, second in _closest(table):
            away = np.abs(table[first] - table[second])
            at = int(np.argmax(away))
            u = math.hypot(sticks[kept[first]][questions[at]][1], sticks[kept[second]][questions[at]][1])
            found.append(
                StickPair(
                    first=kept[first], second=kept[second], difference=float(away[at]), u=u, at=questions[at], unit=unit
                )
            )
    return found


def _closest(table: FloatArray) -> list[tuple[int, int]]:
    """Take the closest pair of rows, then the closest of those left, as long as they are closer than most."""
    n = table.shape[0]
    first, second = np.triu_indices(n, 1)
    away = np.zeros(first.size, dtype=np.float32)
    for column in table.T:
        np.maximum(away, np.abs(column[first] - column[second]), out=away)
    free, found = np.ones(n, dtype=bool), []
    order = np.argsort(away, kind="stable")
    for k in order[: (order.size + 1) // 2].tolist():
        a, b = int(first[k]), int(second[k])
        if free[a] and free[b]:
            free[a] = free[b] = False
            found.append((a, b))
            if len(found) == n // 2:
                break
    return found
