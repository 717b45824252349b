"""Edges of one direction pooled to one value."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from feelcheck.bench.choice import evidence
from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.fit import ModelFit
from feelcheck.bench.numbers import DECIDED

__all__ = [
    "NOISE_OVER_EDGES",
    "OTHER_MODELS",
    "degrees_of_freedom",
    "differ_by_clips",
    "model_spread",
    "over_clips",
    "pool",
    "start_terms",
]

NOISE_OVER_EDGES, OTHER_MODELS = "noise of the samples, over edges", "other models that fit about as well"


def pool(values: Sequence[float], us: Sequence[float]) -> tuple[float, float]:
    """Return the weighted mean and its standard uncertainty, enlarged where the values scatter more than they say.

    Parameters
    ----------
    values : sequence of float
        The values, one an edge or a capture.
    us : sequence of float
        Standard uncertainties of the values, in their unit.
    """
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
    """Return what the choice of model adds to the uncertainty: spread over rivals by their weight of evidence.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    quantity : callable
        Gives a fit's value of the quantity.
    """
    best = float(np.median([quantity(fit) for fit in found.choice.best]))
    total, weights = 0.0, 1.0
    for gain, fits in found.choice.rivals:
        if differ_by_clips(fits[0], found.choice.best[0]):
            continue
        kinds = [(fit.spec.weak, fit.spec.shape == "average") for fit in (fits[0], found.fits[0])]
        if gain > DECIDED or kinds[0] != kinds[1] or fits[0].spec.shape == "none":
            continue
        weight = float(np.exp(-0.5 * max(gain, 0.0)))
        total += weight * (float(np.median([quantity(fit) for fit in fits])) - best) ** 2
        weights += weight
    return float(np.sqrt(total / weights))


def differ_by_clips(fit: ModelFit, other: ModelFit) -> bool:
    """Return whether two candidates differ in nothing but where the sensor saturates.

    Parameters
    ----------
    fit : ModelFit
        The fit of one candidate.
    other : ModelFit
        The fit of another candidate.
    """
    return replace(fit.spec, clip_low=False, clip_high=False) == replace(other.spec, clip_low=False, clip_high=False)


def over_clips(
    found: DirectionFits, value: float, u: float, quantity: Callable[[Sequence[ModelFit]], tuple[float, float]]
) -> tuple[float, float]:
    """Return a quantity and its standard uncertainty, averaged over where the sensor may saturate.

    Parameters
    ----------
    found : DirectionFits
        The direction.
    value, u : float
        Of the chosen candidate.
    quantity : callable
        From a candidate's fits to the same quantity and its standard uncertainty.

    Notes
    -----
    A drive of few samples hardly shows its clipping, yet an edge that ends early turns the small shift of its onset
    into a far larger one of the time constant. Candidates weigh by Akaike's criterion: its lower price does not take a
    clip that is hard to see for one that is not there.

    References
    ----------
    K. P. Burnham, D. R. Anderson, Model Selection and Multimodel Inference, 2nd ed., Springer 2002, section 4.3.
    """
    base = quantity(found.choice.best)[0]
    shifts, variances, weights = [0.0], [u**2], [1.0]
    for _, fits in found.choice.rivals:
        if not differ_by_clips(fits[0], found.choice.best[0]):
            continue
        other, u_other = quantity(fits)
        if np.isfinite(u_other):
            shifts.append(other - base)
            variances.append(u_other**2)
            weights.append(float(np.exp(np.clip(-0.5 * evidence(fits, found.choice.best, price=2.0), -60.0, 60.0))))
    share = np.array(weights) / np.sum(weights)
    shift = float(share @ np.array(shifts))
    return value + shift, float(np.sqrt(share @ (np.array(variances) + (np.array(shifts) - shift) ** 2)))


def start_terms(found: DirectionFits) -> dict[str, float]:
    """Return what the drive's own noise, and a level that had just settled before the edge, add to a delay, s.

    Parameters
    ----------
    found : DirectionFits
        The direction.

    Returns
    -------
    dict of str to float
        Standard uncertainty of each, by words, as `feelcheck.numerics.uncertainty.combined` takes them.
    """
    drive = float(np.median([fit.window.u_drive_delay_s for fit in found.fits]) / np.sqrt(len(found.fits)))
    unsettled = float(np.median([fit.window.u_start_fraction * fit.smoothing_s for fit in found.fits]))
    return {"noise of the drive": drive, "level not at rest before the edge": unsettled}


def degrees_of_freedom(found: DirectionFits) -> float:
    """Return how many independent samples, or edges where there are many, stand behind an uncertainty.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    samples = sum(fit.fit.dof / fit.correlation for fit in found.fits)
    return max(samples if len(found.fits) < 3 else max(samples / len(found.fits), len(found.fits) - 1.0), 1.0)
