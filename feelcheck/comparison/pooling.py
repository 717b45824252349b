"""One value a quantity from several hand sessions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from feelcheck.comparison.samples import MetricKey, Replicates, found_in, mountings_known, replicates_of
from feelcheck.comparison.tests_of_means import side_mean
from feelcheck.model import Estimate, HandRecord
from feelcheck.numerics.uncertainty import coverage_factor, effective_dof

__all__ = ["joint_bound", "pooled_estimate", "side_estimate"]


def pooled_estimate(records: Sequence[HandRecord], axis: str, direction: str, name: str) -> Estimate:
    """Return one quantity pooled over sessions: mountings count once where they are known, else recordings.

    Parameters
    ----------
    records : sequence of HandRecord
        Sessions of one specimen in one state.
    axis : str
        Name of the axis.
    direction : str
        Direction, empty for quantities of a whole axis.
    name : str
        The quantity.

    Notes
    -----
    What a delay's uncertainty has beyond its time constant's comes from the choice of the model. Every session makes
    the same choice, so more sessions do not shrink that part. A single session speaks for itself.
    """
    key = MetricKey(axis=axis, direction=direction, name=name)
    found = found_in(records, key)
    if not found:
        return Estimate.not_resolved(name, unit="s")
    if len(found) == 1:
        return found[0][1]
    pooled = side_estimate(key, replicates_of(found, by_mounting=mountings_known(records)))
    slowest = found_in(records, replace(key, name="time_constant"))
    pairs = [(own, tau) for (_, own), (_, tau) in zip(found, slowest, strict=False) if own.u is not None]
    if name != "smoothing_delay" or pooled.u is None or len(slowest) != len(found) or not pairs:
        return pooled
    common = float(np.median([max(0.0, (own.u or 0.0) ** 2 - (tau.u or 0.0) ** 2) for own, tau in pairs]))
    dof = effective_dof((pooled.u**2, common), (pooled.dof, min(own.dof for own, _ in pairs)))
    return replace(pooled, u=math.sqrt(pooled.u**2 + common), dof=dof)


def side_estimate(key: MetricKey, side: Replicates) -> Estimate:
    """Return the mean of one side's replicates, their joint bound where few have a value, or nothing.

    A lone recording speaks for itself, with its own degrees of freedom. Where more replicates gave a bound than a
    value, the values are the ones that luck let through: the bound is all that the side says.

    Parameters
    ----------
    key : MetricKey
        Which metric: axis, direction and name.
    side : Replicates
        Replicates of one side.
    """
    if side.single is not None:
        return side.single.renamed(key.name)
    if side.bounds and len(side.bounds) > len(side.values):
        top = max([joint_bound(side), *_ends(side, 1)])
        return Estimate.at_most(key.name, top, unit=side.unit, n=len(side.bounds))
    if side.floors and len(side.floors) > len(side.values):
        bottom = min([float(np.median(side.floors)), *_ends(side, -1)])
        return Estimate.at_least(key.name, bottom, unit=side.unit, n=len(side.floors))
    if not side.values:
        nothing = Estimate.not_present if side.n_absent else Estimate.not_resolved
        return nothing(key.name, unit=side.unit)
    mean = side_mean(side.values, side.u_within)
    return Estimate.measured(key.name, mean.mean, u=mean.u, unit=side.unit, n=mean.n, dof=mean.dof)


def _ends(side: Replicates, sign: int) -> list[float]:
    """The upper or lower end of what each replicate with a value says by itself."""
    factor = sign * coverage_factor(math.inf, 0.95)
    return [value + factor * u for value, u in zip(side.values, side.u_within, strict=True)]


def joint_bound(side: Replicates) -> float:
    """The middle one of several upper bounds: each holds with 97.5 %, so at least half of them do.

    Parameters
    ----------
    side : Replicates
        Replicates of one side.
    """
    return float(np.median(side.bounds))
