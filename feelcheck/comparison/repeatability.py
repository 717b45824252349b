"""Gauge repeatability and reproducibility: how much of what is seen comes from the measuring itself.

References
----------
AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III sect. B: average-and-range and ANOVA methods, known through
public copies of its worked example.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import special
from scipy.special import ndtr

from feelcheck.comparison.numbers import DISTINCT_FACTOR, ENOUGH_OPERATORS, ENOUGH_SPECIMENS, POOL_ABOVE_P
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Caveat, Estimate, RepeatabilityResult, VarianceShare

__all__ = [
    "AnovaTable",
    "anova_table",
    "average_range",
    "d2",
    "d2_star",
    "d3",
    "repeatability_of",
    "variance_components",
]

Readings = NDArray[np.float64]

_LIMIT = 9.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AnovaTable:
    """Two-way crossed analysis of variance; each source as (sum of squares, degrees of freedom, mean square)."""

    operator: tuple[float, int, float]
    specimen: tuple[float, int, float]
    interaction: tuple[float, int, float]
    equipment: tuple[float, int, float]
    interaction_p: float


def anova_table(readings: Readings) -> AnovaTable:
    """Return the analysis of variance of a balanced crossed study.

    Parameters
    ----------
    readings : ndarray, shape (n_operators, n_specimens, n_repeats)
        One reading a cell entry.

    Notes
    -----
    The grand mean is taken off first: large constant leading digits cost no accuracy.
    """
    _require_balanced(readings)
    n_o, n_s, n_r = readings.shape
    centred = readings - readings.mean()
    cells = centred.mean(axis=2)
    ss_o = n_s * n_r * float(np.sum(cells.mean(axis=1) ** 2))
    ss_s = n_o * n_r * float(np.sum(cells.mean(axis=0) ** 2))
    additive = cells.mean(axis=1)[:, None] + cells.mean(axis=0)[None, :]
    ss_i = n_r * float(np.sum((cells - additive) ** 2))
    ss_e = float(np.sum((centred - cells[:, :, None]) ** 2))
    dof = (n_o - 1, n_s - 1, (n_o - 1) * (n_s - 1), n_o * n_s * (n_r - 1))
    rows = [(ss, k, ss / k) for ss, k in zip((ss_o, ss_s, ss_i, ss_e), dof, strict=True)]
    ratio = _ratio(rows[2][2], rows[3][2])
    return AnovaTable(
        operator=rows[0],
        specimen=rows[1],
        interaction=rows[2],
        equipment=rows[3],
        interaction_p=float(special.fdtrc(dof[2], dof[3], ratio)),
    )


def _ratio(upper: float, lower: float) -> float:
    """Their ratio; infinite over nothing, and 0 where neither differs from nothing."""
    return upper / lower if lower > 0 else math.inf if upper > 0 else 0.0


def _require_balanced(readings: Readings) -> None:
    if readings.ndim != 3 or min(readings.shape) < 2 or not np.all(np.isfinite(readings)):
        raise NotEnoughDataError(
            "A repeatability study needs at least two operators, two specimens and two repeats, every cell filled.",
            {"operators x specimens x repeats": " x ".join(map(str, readings.shape))},
            "Record the missing cells, or give --metric another quantity that every recording answers.",
        )


def variance_components(readings: Readings, *, pooled: bool) -> Mapping[str, float]:
    """Return standard deviations of every source from the analysis of variance; negative variances count as zero.

    Parameters
    ----------
    readings : ndarray, shape (n_operators, n_specimens, n_repeats)
        Balanced study.
    pooled : bool
        Whether the interaction is pooled with the equipment term.
    """
    table = anova_table(readings)
    n_o, n_s, n_r = readings.shape
    if pooled:
        ss, dof = table.interaction[0] + table.equipment[0], table.interaction[1] + table.equipment[1]
        error, crossed = ss / dof, ss / dof
    else:
        error, crossed = table.equipment[2], table.interaction[2]
    variances = {
        "repeatability": error,
        "reproducibility": max(0.0, (table.operator[2] - crossed) / (n_s * n_r)),
        "interaction": 0.0 if pooled else max(0.0, (crossed - error) / n_r),
        "specimens": max(0.0, (table.specimen[2] - crossed) / (n_o * n_r)),
    }
    variances["gauge"] = variances["repeatability"] + variances["reproducibility"] + variances["interaction"]
    variances["total"] = variances["gauge"] + variances["specimens"]
    return {name: math.sqrt(variance) for name, variance in variances.items()}


def average_range(readings: Readings) -> Mapping[str, float]:
    """Return standard deviations of every source by averages and ranges.

    Parameters
    ----------
    readings : ndarray, shape (n_operators, n_specimens, n_repeats)
        Balanced study.
    """
    _require_balanced(readings)
    n_o, n_s, n_r = readings.shape
    repeatability = float(np.ptp(readings, axis=2).mean()) / d2(n_r)
    spread = float(np.ptp(readings.mean(axis=(1, 2)))) / d2_star(n_o)
    reproducibility = math.sqrt(max(0.0, spread**2 - repeatability**2 / (n_s * n_r)))
    specimens = float(np.ptp(readings.mean(axis=(0, 2)))) / d2_star(n_s)
    gauge = math.hypot(repeatability, reproducibility)
    return {
        "repeatability": repeatability,
        "reproducibility": reproducibility,
        "interaction": 0.0,
        "gauge": gauge,
        "specimens": specimens,
        "total": math.hypot(gauge, specimens),
    }


def repeatability_of(readings: Readings, *, metric: str, unit: str) -> RepeatabilityResult:
    """Return the whole gauge study of one metric.

    Parameters
    ----------
    readings : ndarray, shape (n_operators, n_specimens, n_repeats), in `unit`
        Balanced study.
    metric : str
        Name of what was read.
    unit : str
        Its unit.

    Notes
    -----
    The interaction is pooled with the equipment term when its p exceeds 0.25 (common practice, no source). The number
    of distinct categories is 1.41 times specimens over gauge, cut to a whole number, at least 1.
    """
    table = anova_table(readings)
    pooled = table.interaction_p > POOL_ABOVE_P
    found = variance_components(readings, pooled=pooled)
    raw = DISTINCT_FACTOR * _ratio(found["specimens"], found["gauge"])
    shares = _shares(found, table, unit)
    return RepeatabilityResult(
        metric=metric,
        unit=unit,
        n_operators=readings.shape[0],
        n_specimens=readings.shape[1],
        n_repeats=readings.shape[2],
        anova=found,
        average_range=average_range(readings),
        interaction_p=table.interaction_p,
        interaction_pooled=pooled,
        n_distinct_raw=raw,
        n_distinct=max(1, int(min(raw, 1e6))),
        shares=shares,
        table={
            "operator": table.operator,
            "specimen": table.specimen,
            "interaction": table.interaction,
            "equipment": table.equipment,
        },
        dominant=_dominant(shares),
        caveats=_few(readings),
    )


SOURCES = {
    "specimens": "the specimens themselves",
    "repeatability": "repeats by the same hand",
    "reproducibility": "different hands",
    "interaction": "some hands with some specimens",
}


def _shares(found: Mapping[str, float], table: AnovaTable, unit: str) -> tuple[VarianceShare, ...]:
    total = found["total"] ** 2
    dofs = {
        "specimens": table.specimen[1],
        "repeatability": table.equipment[1],
        "reproducibility": table.operator[1],
        "interaction": table.interaction[1],
    }
    return tuple(
        VarianceShare(
            source=name,
            sd=Estimate.measured(
                name,
                found[name],
                u=found[name] / math.sqrt(2 * dofs[name]),
                unit=unit,
                n=dofs[name] + 1,
                scale="log" if found[name] > 0 else "linear",
            ),
            share_fraction=found[name] ** 2 / total if total > 0 else 0.0,
        )
        for name in SOURCES
    )


def _dominant(shares: tuple[VarianceShare, ...]) -> str:
    largest = max(shares, key=lambda share: share.share_fraction)
    return f"Most of what differs ({100 * largest.share_fraction:.0f} % of the variance) is {SOURCES[largest.source]}."


def _few(readings: Readings) -> tuple[Caveat, ...]:
    n_o, n_s, _ = readings.shape
    if n_o >= ENOUGH_OPERATORS and n_s >= ENOUGH_SPECIMENS:
        return ()
    text = f"With {n_o} operators and {n_s} specimens the shares are rough."
    return (Caveat(code="small_study", text=text, advice="Three operators and ten specimens are usual."),)


@cache
def d2(n: int) -> float:
    """Return the mean range of n standard normal values.

    Parameters
    ----------
    n : int
        How many values there are.

    References
    ----------
    L. H. C. Tippett, Biometrika 17:364-387 (1925) (integral from memory; values held against a printed table).

    Examples
    --------
    >>> round(d2(3), 5)
    1.69257
    """
    from scipy import integrate

    value, _ = integrate.quad(lambda x: 1 - ndtr(x) ** n - ndtr(-x) ** n, -_LIMIT, _LIMIT, limit=200)
    return float(value)


@cache
def d3(n: int) -> float:
    """Return the standard deviation of the range of n standard normal values.

    Parameters
    ----------
    n : int
        How many values there are.

    Examples
    --------
    >>> round(d3(3), 4)
    0.8884
    """

    def joint(y: float, x: float) -> float:
        low, high = ndtr(x), ndtr(y)
        return float(1 - high**n - (1 - low) ** n + (high - low) ** n)

    from scipy import integrate

    square, _ = integrate.dblquad(joint, -_LIMIT, _LIMIT, lambda x: x, _LIMIT, epsabs=1e-8, epsrel=1e-8)
    return math.sqrt(2 * square - d2(n) ** 2)


def d2_star(n: int) -> float:
    """Return the constant for a single range of n values: sqrt(d2^2 + d3^2).

    Parameters
    ----------
    n : int
        How many values there are.

    Examples
    --------
    >>> round(1 / d2_star(3), 4)
    0.5231
    """
    return math.hypot(d2(n), d3(n))
