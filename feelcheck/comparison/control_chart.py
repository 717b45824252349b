"""Individuals in time order: limits from moving ranges, points beyond them, runs."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from feelcheck.comparison.numbers import POINTS_OF_A_CHART, RUN_OF
from feelcheck.model import BatchMean, ControlChart
from feelcheck.numerics.uncertainty import coverage_factor

__all__ = ["batch_means", "control_chart"]

D2_OF_TWO = 2.0 / math.sqrt(math.pi)


def control_chart(
    values: Sequence[float],
    *,
    names: Sequence[str] = (),
    batches: Sequence[str] = (),
    recorded: Sequence[str] = (),
) -> ControlChart | None:
    """Return the chart of individuals in the given order; None for fewer than eight.

    Parameters
    ----------
    values : sequence of float, length n
        In order of time.
    names, batches, recorded : sequence of str, length n
        Of each value.

    Notes
    -----
    Limits are the mean and three times the mean moving range over d2(2) = 2/sqrt(pi) = 1.128. A point beyond a limit is
    a false alarm once in 370 points of a stable normal process, a run of eight on one side of the centre once in about
    250.

    References
    ----------
    Shewhart's individuals chart as in ISO 7870-2; the run rule is common practice.

    Examples
    --------
    >>> chart = control_chart([3.4, 3.7, 3.6, 3.5, 3.6, 3.4, 3.5, 3.7, 5.0])
    >>> chart.beyond
    (8,)
    """
    n = len(values)
    if n < POINTS_OF_A_CHART:
        return None
    x = np.asarray(values, dtype=np.float64)
    centre, reach = float(x.mean()), 3.0 * float(np.mean(np.abs(np.diff(x)))) / D2_OF_TWO
    side = np.sign(x - centre)
    runs = [k for k in range(RUN_OF - 1, n) if abs(int(side[k - RUN_OF + 1 : k + 1].sum())) == RUN_OF]
    return ControlChart(
        names=tuple(names) or ("",) * n,
        batches=tuple(batches) or ("",) * n,
        recorded=tuple(recorded) or ("",) * n,
        values=tuple(x.tolist()),
        centre=centre,
        low=centre - reach,
        high=centre + reach,
        beyond=tuple(np.flatnonzero(np.abs(x - centre) > reach).tolist()),
        runs=tuple(runs),
        dated=all(recorded) if recorded else False,
    )


def batch_means(values: Sequence[float], batches: Sequence[str]) -> tuple[BatchMean, ...]:
    """Return the mean of each batch with its 95 % interval, by name; empty where there is one batch.

    Parameters
    ----------
    values : sequence of float, length n
        One a stick.
    batches : sequence of str, length n
        Which batch it is of.

    Notes
    -----
    Student's t of the batch's own spread.

    Examples
    --------
    >>> [mean.mean for mean in batch_means([1.0, 3.0, 7.0], ["a", "a", "b"])]
    [2.0, 7.0]
    """
    found = []
    for batch in sorted(set(batches)):
        own = np.array([value for value, other in zip(values, batches, strict=True) if other == batch])
        mean, low, high = float(own.mean()), None, None
        if own.size > 1:
            half = coverage_factor(own.size - 1) * float(own.std(ddof=1)) / math.sqrt(own.size)
            low, high = mean - half, mean + half
        found.append(BatchMean(batch=batch, n=own.size, mean=mean, low=low, high=high))
    return tuple(found) if len(found) > 1 else ()
