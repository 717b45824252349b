"""Edges of one direction pooled to one value."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.fit import ModelFit

__all__ = ["degrees_of_freedom", "model_spread", "pool", "u_of_drive"]


def pool(values: Sequence[float], us: Sequence[float]) -> tuple[float, float]:
    """Return the weighted mean and its standard uncertainty, enlarged where the values scatter more than they say."""
    v = np.asarray(values)
    u = np.maximum(np.asarray(us), 1e-9 * float(np.max(np.abs(v), initial=0.0)) + 1e-150)
    good = np.isfinite(v) & np.isfinite(u)
    if not np.any(good):
        return float(np.mean(v)), float("inf")
    v, u = v[good], u[good]
    weight = 1 / u**2
    mean = float(np.sum(weight * v) / np.sum(weight))
    inner = float(1 / np.sqrt(np.sum(weight)))
    if v.size == 1:
        return mean, inner
    chi = float(np.sum(weight * (v - mean) ** 2)) / (v.size - 1)
    return mean, inner * max(1.0, np.sqrt(chi))


def model_spread(found: DirectionFits, quantity: Callable[[ModelFit], float]) -> float:
    """Return what the choice of model adds to the uncertainty: spread over rivals by their weight of evidence."""
    best = float(np.median([quantity(fit) for fit in found.choice.best]))
    total, weights = 0.0, 1.0
    for gain, fits in found.choice.rivals:
        if gain > 12 or fits[0].spec.weak != found.fits[0].spec.weak or fits[0].spec.shape == "none":
            continue
        weight = float(np.exp(-0.5 * max(gain, 0.0)))
        total += weight * (float(np.median([quantity(fit) for fit in fits])) - best) ** 2
        weights += weight
    return float(np.sqrt(total / weights))


def u_of_drive(found: DirectionFits) -> float:
    """Return what the drive's own noise adds to a delay behind it."""
    return float(np.median([fit.window.u_drive_delay_s for fit in found.fits]) / np.sqrt(len(found.fits)))


def degrees_of_freedom(found: DirectionFits) -> float:
    """Return how many independent samples, or edges where there are many, stand behind an uncertainty."""
    samples = sum(fit.fit.dof / fit.correlation for fit in found.fits)
    return max(samples if len(found.fits) < 3 else max(samples / len(found.fits), len(found.fits) - 1.0), 1.0)
