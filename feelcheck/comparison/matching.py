"""Pairs of sticks that answer most alike, for the two sticks of a pad."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import PurePath
from typing import Any

import numpy as np

from feelcheck.comparison.numbers import MOST_STICKS
from feelcheck.comparison.survey_columns import number_in
from feelcheck.model import FloatArray, StickPair
from feelcheck.numerics.uncertainty import WIDTH_95

__all__ = ["best_pairs"]

QUANTITY = "smoothing_delay"
Row = Mapping[str, Any]
Answers = dict[str, tuple[float, float]]


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
    column = f"{QUANTITY}_{unit}"
    found: list[StickPair] = []
    populations: dict[tuple[str, str], dict[str, dict[str, list[tuple[float, float]]]]] = {}
    for row in rows:
        value = number_in(row, column)
        low, high = number_in(row, f"{QUANTITY}_low"), number_in(row, f"{QUANTITY}_high")
        if value is None or low is None or high is None:
            continue
        bench = row["kind"] == "capture"
        name = str(row["specimen"] or "") or PurePath(str(row["path"])).stem
        answer = str(row["direction"]) if bench else f"{row['axis']} {row['direction']}"
        alike = populations.setdefault(("bench" if bench else "hand", str(row["state"] or "")), {})
        alike.setdefault(name, {}).setdefault(answer, []).append((value, (high - low) / WIDTH_95))
    for _, sticks in sorted(populations.items()):
        found += _of_population({name: _means(answers) for name, answers in sticks.items()}, unit)
    return tuple(sorted(found, key=lambda pair: (pair.difference, pair.first)))


def _means(answers: Mapping[str, list[tuple[float, float]]]) -> Answers:
    return {
        name: (float(np.mean([v for v, _ in own])), math.sqrt(sum(u**2 for _, u in own)) / len(own))
        for name, own in answers.items()
    }


def _of_population(sticks: Mapping[str, Answers], unit: str) -> list[StickPair]:
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
