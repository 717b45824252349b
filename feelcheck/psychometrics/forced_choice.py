"""Two-interval forced choice: exact binomial figures, their power, and the sensitivity behind them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from scipy import special

from feelcheck.model import Caveat, Estimate
from feelcheck.numerics.uncertainty import WIDTH_95
from feelcheck.psychometrics.numbers import ALPHA

__all__ = [
    "ChoicePlan",
    "exact_interval",
    "least_correct",
    "p_of_correct",
    "plan_choices",
    "proportion_of",
    "sensitivity_interval",
    "sensitivity_of",
]

CHANCE = 0.5
SHOWN = (0.6, 0.7, 0.75, 0.8, 0.9)
NO_PROOF_OF_NONE = Caveat(
    code="not_proof_of_none",
    text="Too few correct answers for proof of a difference, which is no proof that there is none: the interval says "
    "how often you may tell them apart.",
    advice="Plan more trials beforehand to tell a smaller share apart.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicePlan:
    """What a number of trials fixed beforehand can show.

    Parameters
    ----------
    n : int
        Trials.
    least_correct : int or None
        Correct answers needed; None where no number would do.
    alpha : float
        Greatest probability of so many by guessing.
    power : Mapping[float, float]
        Probability of reaching it, by the true share of correct answers.
    """

    n: int
    least_correct: int | None
    alpha: float
    power: Mapping[float, float]


def p_of_correct(n_correct: int, n: int) -> float:
    """Return the probability of at least so many correct answers by guessing between two.

    Parameters
    ----------
    n_correct : int
        Correct answers.
    n : int
        Trials.

    References
    ----------
    Exact binomial, one-sided, as in ISO 5495 (paired comparison, directional).

    Examples
    --------
    >>> round(p_of_correct(12, 16), 6)
    0.038406
    """
    return _at_least(n_correct, n, CHANCE)


def _at_least(k: int, n: int, p: float) -> float:
    return 1.0 if k <= 0 else float(special.bdtrc(k - 1, n, p))


def least_correct(n: int, alpha: float = ALPHA) -> int | None:
    """Return how many of n answers must be correct to rule out guessing; None below five trials at 5 %.

    Parameters
    ----------
    n : int
        How many answers there are.
    alpha : float
        Probability of as many correct answers by guessing.

    Examples
    --------
    >>> least_correct(23), least_correct(4)
    (16, None)
    """
    return next((k for k in range(n + 1) if _at_least(k, n, CHANCE) <= alpha), None)


def plan_choices(n: int, alpha: float = ALPHA) -> ChoicePlan:
    """Return what n trials can show.

    Parameters
    ----------
    n : int
        Trials.
    alpha : float, optional
        Level of the decision.
    """
    needed = least_correct(n, alpha)
    power = {p: 0.0 if needed is None else _at_least(needed, n, p) for p in SHOWN}
    return ChoicePlan(n=n, least_correct=needed, alpha=alpha, power=power)


def proportion_of(k: int, n: int, quantity: str = "proportion_correct") -> Estimate:
    """Return a share of n with its binomial standard uncertainty; none and all are bounds.

    The interval to show is `exact_interval`: a share near 0 or 1 lies askew in it.

    Parameters
    ----------
    k : int
        How many.
    n : int
        Of how many.
    quantity : str, optional
        Name of the share.
    """
    if n == 0:
        return Estimate.not_resolved(quantity, unit="fraction")
    low, high = exact_interval(k, n)
    if k == 0:
        return Estimate.at_most(quantity, high, unit="fraction", n=n)
    if k == n:
        return Estimate.at_least(quantity, low, unit="fraction", n=n)
    return Estimate.measured(quantity, k / n, u=math.sqrt(k * (n - k) / n**3), unit="fraction", n=n)


def exact_interval(k: int, n: int, level: float = 0.95) -> tuple[float, float]:
    """Return the exact two-sided interval of a share; one-sided at 0 and n.

    Parameters
    ----------
    k : int
        How many.
    n : int
        Of how many.
    level : float, optional
        Level of the interval.

    References
    ----------
    Clopper, C. J. and Pearson, E. S. (1934), Biometrika 26, 404-413.

    Examples
    --------
    >>> [round(end, 2) for end in exact_interval(12, 16)]
    [0.48, 0.93]
    """
    tail = (1 - level) / 2
    low = 0.0 if k == 0 else float(special.betaincinv(k, n - k + 1, tail))
    high = 1.0 if k == n else float(special.betaincinv(k + 1, n - k, 1 - tail))
    return low, high


def sensitivity_of(k: int, n: int) -> Estimate:
    """Return d' of a two-interval forced choice from k correct of n; at most or at least where the share is extreme.

    Parameters
    ----------
    k : int
        Correct answers.
    n : int
        Trials.

    Notes
    -----
    pc = Phi(d' / sqrt 2) for an unbiased observer; the interval is that of the share.

    References
    ----------
    Macmillan, N. A. and Creelman, C. D., Detection Theory: A User's Guide, 2nd ed. 2005 (from memory); confirmed by
    simulation in the tests.

    Examples
    --------
    >>> round(sensitivity_of(76, 100).value, 2)
    1.0
    """
    if n == 0:
        return Estimate.not_resolved("sensitivity", unit="ratio")
    low, high = (_d_prime(share) for share in exact_interval(k, n))
    if k == n:
        unknown = Estimate.not_resolved("sensitivity", unit="ratio", n=n)
        return Estimate.at_least("sensitivity", low, unit="ratio", n=n) if low > 0 else unknown
    if k <= n / 2:
        return Estimate.at_most("sensitivity", max(high, 0.0), unit="ratio", n=n)
    u = (high - low) / WIDTH_95
    return Estimate.measured("sensitivity", _d_prime(k / n), u=u, unit="ratio", n=n)


def sensitivity_interval(k: int, n: int) -> tuple[float, float]:
    """Return d' at both ends of the exact interval of the share.

    Parameters
    ----------
    k : int
        Correct answers.
    n : int
        Trials.
    """
    low, high = exact_interval(k, n)
    return _d_prime(low), _d_prime(high)


def _d_prime(share: float) -> float:
    return math.sqrt(2) * float(special.ndtri(min(max(share, 1e-12), 1 - 1e-12)))
