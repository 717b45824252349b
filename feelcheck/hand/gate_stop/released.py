"""The way back after letting go: evidence of the same response that knows nothing of the rim."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.numbers import (
    CLEAN_RETURN,
    FEWEST_RETURNS,
    GRANTED_RETURN,
    HELD_BEFORE_S,
    LEAST_MISFIT,
    LET_GO_S,
    MISFIT_SHARE,
    MOST_DAMPING,
    RETURN_MISFIT,
    RETURN_READINGS,
    RETURN_WORTH,
    RETURNS_TO_CHOOSE,
    RETURNS_TO_MEASURE,
)
from feelcheck.hand.gate_stop.search import Found
from feelcheck.hand.returns import SpringReturn
from feelcheck.model import FloatArray
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.return_behind import Behind, fit_behind
from feelcheck.numerics.separable import SeparableFit

__all__ = ["NOTHING_RELEASED", "Released", "against", "released"]

SCATTER = "scatter of the ways back"


MOST_LAGS = 5
"""Readings that stand for a long average; their spread in time is the average's."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Released:
    """What the returns say of each axis and direction.

    Parameters
    ----------
    log_ratio : ndarray, shape (N_GROUPS,)
        Logarithm of the delay over that of the fit at the rim; NaN where they say nothing.
    u_scatter, u_misfit : ndarray, shape (N_GROUPS,)
        Its standard uncertainty from the returns' scatter, and from what is not a spring's way.
    u_late : ndarray, shape (N_GROUPS,)
        How much too long it may be, relative: a thumb slides off the stick, it does not vanish.
    """

    log_ratio: FloatArray
    u_scatter: FloatArray
    u_misfit: FloatArray
    u_late: FloatArray

    def tells(self, g: int) -> bool:
        """Tell whether the returns say anything of an axis and direction.

        Parameters
        ----------
        g : int
            The group.
        """
        return bool(np.isfinite(self.log_ratio[g]))

    def terms(self, g: int) -> dict[str, float]:
        """Return the standard uncertainties of the logarithm by words; letting go counts where it would explain it.

        Parameters
        ----------
        g : int
            The group.
        """
        return {
            SCATTER: float(self.u_scatter[g]),
            MISFIT_SHARE.sets: float(self.u_misfit[g]),
            LET_GO_S.sets: float(self.u_late[g]) if self.log_ratio[g] > 0 else 0.0,
        }

    @property
    def usual(self) -> float:
        """The middle of what the axes and directions say, which one thumb leads back."""
        return float(np.nanmedian(self.log_ratio))

    def u_of_limit(self, g: int) -> float:
        """Return the standard uncertainty of the logarithm without what can only make it too long.

        Parameters
        ----------
        g : int
            The group.
        """
        return math.hypot(float(self.u_scatter[g]), float(self.u_misfit[g]))


NOTHING_RELEASED = Released(
    log_ratio=np.full(N_GROUPS, np.nan),
    u_scatter=np.zeros(N_GROUPS),
    u_misfit=np.zeros(N_GROUPS),
    u_late=np.zeros(N_GROUPS),
)


def released(returns: Sequence[SpringReturn], chosen: Chosen, names: tuple[str, str]) -> Released:
    """Return by how much the way back asks for a longer response than the stop at the rim.

    Parameters
    ----------
    returns : sequence of SpringReturn
        Of this stick.
    chosen : Chosen
        The fit of all flicks.
    names : tuple of str
        Names of the axes.

    Notes
    -----
    A spring's free return that rings is known but for its frequency and damping, which the ring tells after the start.
    Seen through the chosen response with all its times multiplied, the start tells that factor: the direction of the
    code that was released counts, the one on the way back from beyond the rest keeps its proportion to it. What is no
    spring's way (dry friction, a spring that stiffens, a thumb that lingers) leaves residuals; a residual as large
    again may hide in what the factor explains.
    """
    found = np.full((4, N_GROUPS), np.nan)
    spring: FloatArray | None = None
    for g in range(N_GROUPS):
        own = _kept(returns, g, names, RETURNS_TO_MEASURE)
        if chosen.best.batch.used_rows(g).size and own:
            behind = _behind(chosen.best, g)
            fits = _fits(own, behind, spring)
            found[:, g] = _of_direction(fits, behind)
            spring = _spring(fits, spring)
    log_ratio, scatter, misfit, late = found
    return Released(log_ratio=log_ratio, u_scatter=scatter, u_misfit=misfit, u_late=late)


def against(
    candidates: Sequence[Found], one_pole: Found, returns: Sequence[SpringReturn], names: tuple[str, str]
) -> list[float]:
    """Return what the ways back say against each other candidate, in -2 log likelihood of independent readings.

    Parameters
    ----------
    candidates : sequence of Found
        Their fits at the rim.
    one_pole : Found
        That of one pole.
    returns : sequence of SpringReturn
        Of this stick.
    names : tuple of str
        Names of the axes.

    Notes
    -----
    From how much worse than one pole it explains them; 0 where it does not, or where one pole does not explain them.
    For a candidate they do not speak: a thumb that lingers looks like a second pole or an average, never like less.
    """
    simple, spring = _left(one_pole, returns, names) if candidates else (math.nan, None)
    if not simple < CLEAN_RETURN:
        return [0.0] * len(candidates)
    others = [_left(found, returns, names, spring)[0] for found in candidates]
    granted = GRANTED_RETURN**2
    return [RETURN_WORTH * math.log(max((other**2 + granted) / (simple**2 + granted), 1.0)) for other in others]


def _left(
    found: Found, returns: Sequence[SpringReturn], names: tuple[str, str], spring: FloatArray | None = None
) -> tuple[float, FloatArray | None]:
    """Return what a candidate leaves of the ways back, root mean square, and the spring; NaN with nothing to explain.

    The spring is where other fits of the same stick begin.
    """
    squares: list[float] = []
    for g in range(N_GROUPS):
        own = _kept(returns, g, names, RETURNS_TO_CHOOSE)
        if found.batch.used_rows(g).size and own and (fits := _fits(own, _behind(found, g), spring)):
            squares.append(_structure(fits) ** 2)
            spring = _spring(fits, spring)
    return math.sqrt(float(np.mean(squares))) if squares else math.nan, spring


def _kept(returns: Sequence[SpringReturn], g: int, names: tuple[str, str], most: int) -> list[SpringReturn]:
    """Return some of one axis and direction, spread over the recording; none where there are too few."""
    axis, direction = names[g // 2], DIRECTIONS[g % 2]
    own = [one for one in returns if one.axis == axis and one.direction == direction]
    if len(own) < FEWEST_RETURNS:
        return []
    return [own[k] for k in np.linspace(0, len(own) - 1, min(len(own), most)).round().astype(int).tolist()]


def _behind(found: Found, g: int) -> Behind:
    """Return the response of one axis and direction as a fit at the rim has it."""
    tau_s, back = found.fit.tau_s, g ^ 1
    poles_s = np.sort(tau_s[g])[::-1]
    back_s = float(tau_s[back, 0]) if poles_s.size == 1 and found.batch.used_rows(back).size else 0.0
    return Behind(
        poles_s=tuple(poles_s.tolist()),
        back_s=back_s,
        lags_s=_lags_s(found.fit.shape.n_average, found.batch.interval_s),
    )


def _lags_s(n_average: int, interval_s: float) -> tuple[float, ...]:
    """Return ages of few readings whose mean and spread are those of an average over many."""
    n = min(n_average, MOST_LAGS)
    step_s = interval_s * math.sqrt((n_average**2 - 1) / (n**2 - 1)) if n > 1 else 0.0
    middle_s = 0.5 * (n_average - 1) * interval_s
    return tuple(middle_s + step_s * (k - 0.5 * (n - 1)) for k in range(n))


def _spring(fits: Sequence[SeparableFit], before: FloatArray | None) -> FloatArray | None:
    """Return where other fits of the same stick begin: at the spring that these tell, and a factor of 1."""
    return np.array([*fits[0].theta[:2], 0.0]) if fits and all(map(_is_spring, fits)) else before


def _of_direction(fits: Sequence[SeparableFit], behind: Behind) -> tuple[float, float, float, float]:
    """Return the factor's logarithm and its doubts: scatter, misfit, letting go; NaN where it is no spring's way."""
    if not fits or not all(_is_spring(found) for found in fits):
        return (math.nan,) * 4
    logs = np.array([found.theta[2] for found in fits])
    own = float(np.mean([found.u[2] for found in fits]))
    scatter = max(float(logs.std(ddof=1)), own) / math.sqrt(logs.size)
    # The root mean square of the slope by the factor, all else fitted, is what turns residuals into a factor.
    slope = float(np.mean([found.sigma / max(found.u[2] * math.sqrt(found.residuals.size), 1e-12) for found in fits]))
    misfit = MISFIT_SHARE * math.hypot(_structure(fits), LEAST_MISFIT) / max(slope, 1e-9)
    return float(np.median(logs)), scatter, misfit, _late_u(behind, math.exp(float(np.median(logs))))


def _late_u(behind: Behind, scale: float) -> float:
    """Return by how much a thumb that slides off may have stretched the logarithm of what is seen of a response.

    What is seen has the squares of the response's spread in time and of the thumb's together.
    """
    seen_s2 = scale**2 * (sum(tau**2 for tau in behind.poles_s) + float(np.var(behind.lags_s)))
    return 0.5 * math.log1p(LET_GO_S**2 / max(seen_s2 - LET_GO_S**2, 1e-3 * LET_GO_S**2))


def _fits(returns: Sequence[SpringReturn], behind: Behind, spring: FloatArray | None) -> list[SeparableFit]:
    """Return the fits of some returns, each begun where the first ended; none where one has too few readings.

    The first is begun at the stick's spring, where another axis or direction has told that.
    """
    fits: list[SeparableFit] = []
    for one in returns:
        used = one.since_s > -(HELD_BEFORE_S + 2.0 * behind.delay_s)
        if np.count_nonzero(used) < RETURN_READINGS:
            return []
        start = fits[0].theta if fits else spring
        fits.append(fit_behind(one.since_s[used], one.y[used], behind, start=start))
    return fits


def _is_spring(found: SeparableFit) -> bool:
    """Tell whether a return is a spring's that rings, and tells frequency, damping and factor apart."""
    clear = found.full_rank and not any(found.at_bound) and math.exp(float(found.theta[1])) < MOST_DAMPING
    return clear and found.sigma < RETURN_MISFIT * abs(float(found.coefficients[1]))


def _structure(fits: Sequence[SeparableFit]) -> float:
    """Return what the residuals of several returns have in common, root mean square over time."""
    shortest = min(found.residuals.size for found in fits)
    left = np.array([found.residuals[:shortest] for found in fits])
    chance = left.var(axis=0, ddof=1) / len(left)
    return math.sqrt(max(float(np.mean(left.mean(axis=0) ** 2 - chance)), 0.0))
