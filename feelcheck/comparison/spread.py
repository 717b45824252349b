"""What makes specimens that should be alike differ: parts, sensor, pad, and the measuring itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.comparison.numbers import SPECIMENS_OF_A_SPREAD
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Estimate, VarianceShare

__all__ = ["SpecimenDelays", "explain_spread"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenDelays:
    """The smoothing delay of one specimen, axis and direction along the chain, s; and its sensor's refresh interval."""

    name: str
    parts: Estimate
    bench: Estimate
    hand: Estimate
    refresh_s: float = 0.0


def explain_spread(specimens: Sequence[SpecimenDelays]) -> tuple[VarianceShare, ...]:
    """Split the variance of the hand's delay over specimens.

    Parameters
    ----------
    specimens : sequence of SpecimenDelays, length n >= 3
        Those without a value at every link are left out.

    Returns
    -------
    tuple of VarianceShare
        ``filter_parts`` (predicted from parts), ``sensor`` (bench beyond parts), ``converter_and_firmware`` (hand
        beyond bench), ``refresh`` (half of each sensor's own interval), ``measurement`` (the hand's own uncertainty).

    Raises
    ------
    NotEnoughDataError
        If fewer than three specimens are measured along the whole chain.

    Notes
    -----
    Each link's variance over specimens is taken less the mean square of its own uncertainty, and never below zero; the
    shares are of their sum, since links may go together by chance in a few specimens.
    """
    whole = [row for row in specimens if row.parts.is_ok and row.bench.is_ok and row.hand.is_ok]
    if len(whole) < SPECIMENS_OF_A_SPREAD:
        raise NotEnoughDataError(
            "A spread is explained over three specimens measured along the whole chain.",
            {"specimens": len(whole)},
            "Add parts, a capture and a session to each record.",
        )
    parts, bench, hand = (
        np.array([_number(getattr(row, name).value) for row in whole]) for name in ("parts", "bench", "hand")
    )
    u_parts, u_bench, u_hand = (_mean_square(whole, name) for name in ("parts", "bench", "hand"))
    refresh = float(np.var([row.refresh_s / 2 for row in whole], ddof=1))
    variances = {
        "filter_parts": _beyond(parts, u_parts),
        "sensor": _beyond(bench - parts, u_parts + u_bench),
        "converter_and_firmware": _beyond(hand - bench, u_bench + u_hand),
        "refresh": refresh,
        "measurement": u_hand,
    }
    total = sum(variances.values())
    return tuple(
        VarianceShare(
            source=name,
            sd=Estimate.measured(name, math.sqrt(v), u=math.sqrt(v / (2 * (len(whole) - 1))), unit="s", n=len(whole)),
            share_fraction=v / total if total > 0 else 0.0,
        )
        for name, v in variances.items()
    )


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def _mean_square(rows: Sequence[SpecimenDelays], name: str) -> float:
    return float(np.mean([_number(getattr(row, name).u) ** 2 for row in rows]))


def _beyond(values: np.ndarray, u_square: float) -> float:
    return max(0.0, float(np.var(values, ddof=1)) - u_square)
