"""Disjoint parts of the evidence are held against each other; what they disagree by is uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.models import contact_slope
from feelcheck.hand.gate_stop.numbers import (
    ALONG_AXIS_RAD,
    CONFIRMS_U,
    FAMILIES_APART,
    FEWEST_A_HALF,
    LARGEST_FLICK_LOG,
    LEAST_INFORMATION,
    LED,
    LED_LOG,
    LIMIT_SDS,
    MOST_LOG,
    OTHER_SHAPES,
)
from feelcheck.hand.gate_stop.released import Released
from feelcheck.hand.gate_stop.search import Found
from feelcheck.model import FloatArray

__all__ = ["Joined", "disagreement_u", "flick_logs", "joined"]


APART = "stop at the rim and way back that disagree"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joined:
    """What the stop at the rim and the way back say together of one axis and direction.

    Parameters
    ----------
    scale : float
        Factor of all times of the fit at the rim.
    covariances : mapping of str to ndarray, shape (m, m)
        Of the logarithms of the poles, by words.
    confirmed : bool
        Whether the way back alone is sure of the response, and the two agree.
    longest_s : float, s
        The longest delay that the way back allows any response; infinite without one.
    """

    scale: float
    covariances: Mapping[str, FloatArray]
    confirmed: bool = False
    longest_s: float = math.inf


def flick_logs(found: Found, g: int, at: int) -> tuple[NDArray[np.intp], FloatArray, FloatArray]:
    """Return each flick's own logarithm of a time constant over the joint one, and its information.

    Parameters
    ----------
    found : Found
        The joint fit.
    g : int
        The group.
    at : int
        Index of the parameter.

    Returns
    -------
    ndarray of int, ndarray, ndarray, shape (k,) each
        Flicks that have a value of their own, the values, and their information.

    Notes
    -----
    One Newton step from the joint fit with the flick's own share of gradient and curvature.
    """
    flicks = found.batch.used_rows(g) // 2
    info = found.fit.flick_information[flicks, at, at]
    keep = info > LEAST_INFORMATION * np.median(info)
    own = found.fit.flick_score[flicks[keep], at] / info[keep]
    return flicks[keep], np.clip(own, -LARGEST_FLICK_LOG, LARGEST_FLICK_LOG), info[keep]


def disagreement_u(chosen: Chosen, g: int) -> float:
    """Return the relative standard uncertainty by which halves of the flicks disagree beyond their scatter.

    Parameters
    ----------
    chosen : Chosen
        The chosen fit of all flicks.
    g : int
        The group.

    Notes
    -----
    Neighbours on either side, fast and slow flicks, early and late ones, along the axis and across. Half of the
    largest difference, less twice its variance.
    """
    found, m = chosen.best, chosen.shape.n_poles
    tau_s = found.fit.tau_s[g]
    flicks, own, info = flick_logs(found, g, g * m + int(np.argmax(tau_s)))
    if flicks.size < 2 * FEWEST_A_HALF:
        return 0.0
    weight = np.minimum(info, np.median(info))
    excess = [_excess(own, weight, side) for side in _sides(found, g, flicks)]
    return float(0.5 * np.sqrt(max(excess, default=0.0)))


def _sides(found: Found, g: int, flicks: NDArray[np.intp]) -> Iterator[NDArray[np.bool_]]:
    """Yield splits of the flicks."""
    batch, axis = found.batch, g // 2
    rows = 2 * flicks + axis
    fit = found.fit
    speed = contact_slope(fit.coefficients[rows], fit.tau_s[batch.group[rows]], batch.scale_s[rows])
    from_axis = batch.angle_rad[flicks] if axis == 0 else np.pi / 2 - batch.angle_rad[flicks]
    yield batch.group[2 * flicks + 1 - axis] % 2 == 0
    yield speed > np.median(speed)
    yield np.arange(flicks.size) < flicks.size / 2
    yield from_axis < ALONG_AXIS_RAD


def _excess(own: FloatArray, weight: FloatArray, side: NDArray[np.bool_]) -> float:
    """Return the squared difference of two sides' means less twice its variance, not below 0."""
    parts = [side, ~side]
    if min(int(part.sum()) for part in parts) < FEWEST_A_HALF:
        return 0.0
    means = [float(np.average(own[part], weights=weight[part])) for part in parts]
    variance = sum(
        float(np.average((own[part] - mean) ** 2, weights=weight[part])) / (part.sum() - 1)
        for part, mean in zip(parts, means, strict=True)
    )
    return float(max((means[0] - means[1]) ** 2 - 2.0 * variance, 0.0))


def joined(
    tau_s: FloatArray, delay_s: float, covariances: Mapping[str, FloatArray], returns: Released, g: int
) -> Joined:
    """Return the stop at the rim with the way back after letting go weighed in.

    Parameters
    ----------
    tau_s : ndarray, shape (m,), s
        Poles of the fit at the rim.
    delay_s : float, s
        Their delay and that of an average.
    covariances : mapping of str to ndarray, shape (m, m)
        Of the logarithms of the poles, by words.
    returns : Released
        What the ways back say.
    g : int
        The axis and direction.

    Notes
    -----
    A weighted mean of the logarithms of two delays by their variances. The way back moves all times together, so only
    the doubt of their common factor becomes less. Half of what they differ by is doubt, less twice its variance. What
    a thumb adds makes a way back longer, so that it limits the response from above whatever the rim says; one that is
    longer by more than two families of responses could differ was led by a thumb, and counts by how likely it was free.
    """
    if not returns.tells(g):
        return Joined(scale=1.0, covariances=covariances)
    apart, terms = float(returns.log_ratio[g]), returns.terms(g)
    of_delay = tau_s / delay_s
    of_rim = float(of_delay @ sum(covariances.values()) @ of_delay)
    of_returns = math.hypot(*terms.values()) ** 2
    free = _free(max(apart, returns.usual), of_rim + of_returns)
    weight = free * of_rim / max(of_rim + of_returns, 1e-12)
    longer = delay_s / float(tau_s.sum())
    left = np.eye(tau_s.size) - weight * longer * np.outer(np.ones(tau_s.size), of_delay)
    excess = max(apart**2 - 2.0 * (of_rim + of_returns), 0.0)
    common = {words: weight * u for words, u in terms.items()} | {APART: 0.5 * math.sqrt(free * excess)}
    return Joined(
        scale=math.exp(weight * apart),
        covariances={words: left @ own @ left.T for words, own in covariances.items()}
        | {words: (longer * u) ** 2 * np.ones((tau_s.size, tau_s.size)) for words, u in common.items()},
        confirmed=excess == 0.0 and of_returns < CONFIRMS_U**2,
        longest_s=OTHER_SHAPES * delay_s * math.exp(min(apart + LIMIT_SDS * returns.u_of_limit(g), MOST_LOG)),
    )


def _free(apart: float, variance: float) -> float:
    """Return how likely a way back was the spring's alone and not led by a thumb, which can only make it longer.

    Parameters
    ----------
    apart : float
        Logarithm of its delay over that of the stop at the rim.
    variance : float
        Of that logarithm.

    Notes
    -----
    Bayes' rule for two kinds of ways back: of free ones the logarithm is normal about 0, by its variance and
    `FAMILIES_APART`; of led ones it is anything from 0 to `LED_LOG`.
    """
    if apart <= 0:
        return 1.0
    spread = math.hypot(math.sqrt(variance), FAMILIES_APART)
    free = (1.0 - LED) * math.exp(-0.5 * (apart / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
    return free / (free + LED / LED_LOG)
