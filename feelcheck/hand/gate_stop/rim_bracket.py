"""What the rim alone allows: the stick, un-smoothed by a candidate, can be no farther out than rim and shaft give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.even_flicks import EvenFlicks
from feelcheck.hand.gate_stop.numbers import (
    FAR_OUTSIDE,
    GIVE,
    MIN_FLICKS,
    NOISE_SDS,
    NOISE_SHARE,
    OF_UPPER,
    SLIDE_SHARE,
    START_S,
    STOP_FROM,
    TRAILS,
)
from feelcheck.hand.gate_stop.rim_stop import stop_index
from feelcheck.model import FloatArray, RimBracket
from feelcheck.numerics.unsmoothing import fitting_width, unsmoothed

__all__ = [
    "ONE_POLE",
    "Family",
    "StickBrackets",
    "radial_paths",
    "rim_brackets",
    "stopped_short",
]


TAIL_S = (0.012, 0.06)
"""When after the rim was met a response that slows down with the stick still shows, s."""


GRID_RATIO = 1.09
LEAST_DELAY, LONGEST_DELAY_S = 0.3, 0.25
"""Delays that are tried: from a share of the report interval, in steps of a ratio, to the longest in seconds."""


SCALES = np.geomspace(1.0 / 3.0, 3.0, 27)
"""Shares of a group's longest delay at which each flick's own is looked for, 9 % apart."""


ROUNDS = 6
"""Rounds of reweighting; it has settled after three or four."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A kind of response with one free delay.

    Parameters
    ----------
    name : str
        As in results: ``"one_pole"``, ``"two_pole"``, ``"average"`` or ``"pole_average"``.
    n_average : int
        Reports of the average in front of the pole, for ``"pole_average"``.
    quick_share : float
        The quicker pole's share of both poles' sum, for ``"two_pole"``.
    """

    name: str
    n_average: int = 1
    quick_share: float = 0.5

    def undo(self, delay: float) -> tuple[tuple[float, ...], int]:
        """Return poles in reports and the length of the average of the member with a delay in reports.

        Parameters
        ----------
        delay : float
            Smoothing delay in report intervals.
        """
        if self.name == "average":
            return (), max(1, round(2 * delay + 1))
        if self.name == "two_pole":
            return (delay * (1 - self.quick_share), delay * self.quick_share), 1
        return (max(delay - 0.5 * (self.n_average - 1), 1e-3),), self.n_average


ONE_POLE = Family(name="one_pole")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StickBrackets:
    """What the rim allows each axis and direction of a stick.

    Parameters
    ----------
    family : Family
        For which kind of response.
    low_s, high_s, middle_s : ndarray, shape (N_GROUPS,), s
        Bounds of the smoothing delay, 0 and infinite where there is none, and a delay to start from (NaN: none).
    trails : ndarray of bool, shape (N_GROUPS,)
        Whether the stick, un-smoothed as far as the rim allows, stays inside it for long, as if smoothing grew.
    n : ndarray of int, shape (N_GROUPS,)
        Flicks.
    stopped : ndarray of bool, shape (F,)
        Which flicks were seen to stop short.
    """

    family: Family
    low_s: FloatArray
    high_s: FloatArray
    middle_s: FloatArray
    trails: NDArray[np.bool_]
    n: NDArray[np.int64]
    stopped: NDArray[np.bool_]

    @property
    def start_s(self) -> FloatArray:
        """Delays to start a search from, shape (N_GROUPS,), s."""
        told = self.middle_s[np.isfinite(self.middle_s)]
        return np.where(np.isfinite(self.middle_s), self.middle_s, float(np.median(told)) if told.size else START_S)

    def of(self, g: int) -> RimBracket:
        """Return one axis and direction as a result.

        Parameters
        ----------
        g : int
            The group.
        """
        high = float(self.high_s[g])
        low = float(self.low_s[g])
        return RimBracket(
            family=self.family.name, low_s=low or None, high_s=high if np.isfinite(high) else None, n=int(self.n[g])
        )

    def holds(self, g: int, delay_s: float) -> bool:
        """Tell whether a smoothing delay of this family lies inside.

        Parameters
        ----------
        g : int
            The group.
        delay_s : float, s
            The smoothing delay in question.
        """
        return bool(self.low_s[g] <= delay_s <= self.high_s[g])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Paths:
    """The flicks un-smoothed by each delay: shapes (D,), (D, F, 2, n), (D,), (D,)."""

    delay_s: FloatArray
    path: FloatArray
    sd: FloatArray
    width: NDArray[np.int64]

    def nearest(self, delay_s: FloatArray) -> NDArray[np.intp]:
        """Return the indices of the delays that are closest in ratio."""
        return np.asarray(np.abs(np.log(delay_s[..., None] / self.delay_s)).argmin(axis=-1), dtype=np.intp)


def _paths(flicks: EvenFlicks, family: Family) -> _Paths:
    """Un-smooth by longer and longer delays until all flicks are far outside the rim."""
    interval_s, reach = flicks.interval_s, float(np.median(flicks.reach))
    if family.name == "average":
        delays = 0.5 * np.arange(1, int(LONGEST_DELAY_S / interval_s))
    else:
        n = int(np.log(LONGEST_DELAY_S / (LEAST_DELAY * interval_s)) / np.log(GRID_RATIO))
        delays = 0.5 * (family.n_average - 1) + LEAST_DELAY * GRID_RATIO ** np.arange(n)
    allowed, found = NOISE_SHARE * GIVE * reach / NOISE_SDS, []
    for delay in delays.tolist():
        poles, n_average = family.undo(delay)
        width = fitting_width(flicks.noise_fs, allowed, poles=poles, n_average=n_average)
        path, gain = unsmoothed(flicks.y, poles=poles, n_average=n_average, width=width)
        found.append((delay * interval_s, path, gain * flicks.noise_fs, width))
        outside = np.where(flicks.tells, path.max(axis=-1) - NOISE_SDS * found[-1][2] - flicks.end, np.inf)
        if outside.min() > FAR_OUTSIDE * reach:
            break
    delay_s, path, sd, widths = (np.array(part) for part in zip(*found, strict=True))
    return _Paths(delay_s=delay_s, path=path, sd=sd, width=widths)


def rim_brackets(flicks: EvenFlicks, family: Family, *, least: int = MIN_FLICKS) -> StickBrackets:
    """Return what the rim allows each axis and direction of a stick for one family of responses.

    Parameters
    ----------
    flicks : EvenFlicks
        From `lay_evenly`.
    family : Family
        The kind of response.
    least : int
        Flicks that an axis and direction needs to be told of.

    Notes
    -----
    From above: the radial path, un-smoothed, must not leave the rim by more than `GIVE` and its noise; sliding along
    the rim does not enter. The ratio between the axes comes from each axis' own path, where a slide to one side in one
    flick is made up for by flicks into the neighbouring corner. From below: `BRAKE_S` after a stick has met the rim at
    speed it must be there. Flicks that slow down by themselves give no lower bound. Medians over flicks, widened by
    how unsure the ratio between the axes is.
    """
    if not flicks.tells.any():
        return _nothing(flicks, family)
    paths = _paths(flicks, family)
    alone_s = _alone(flicks, paths, poles=family.name != "average" and family.n_average == 1)
    if not np.isfinite(alone_s).any():
        return _nothing(flicks, family)
    centre_s, relative_u = _of_axes(flicks, alone_s)
    usual = np.where(np.isnan(centre_s), np.nanmedian(centre_s), centre_s)
    index = paths.nearest(SCALES[:, None] * usual)
    radial, sd = _radial(flicks, paths, index)
    high = _last_inside(radial.max(axis=-1) - NOISE_SDS * sd - 1.0, SCALES)
    low = _first_inside(radial, sd, high, paths.width[index].max(axis=1), flicks.interval_s)
    left = _left_inside(radial, high, flicks.interval_s)
    return _pooled(flicks, family, usual, relative_u, low, high, left, least=least)


def _nothing(flicks: EvenFlicks, family: Family) -> StickBrackets:
    untold = np.full(N_GROUPS, np.nan)
    return StickBrackets(
        family=family,
        low_s=np.zeros(N_GROUPS),
        high_s=untold,
        middle_s=untold,
        trails=np.zeros(N_GROUPS, dtype=bool),
        n=np.zeros(N_GROUPS, dtype=np.int64),
        stopped=np.zeros(len(flicks.y), dtype=bool),
    )


def radial_paths(flicks: EvenFlicks, family: Family, delay_s: FloatArray) -> tuple[FloatArray, int]:
    """Return the sticks' ways out, un-smoothed by a response, in fractions of the reach, shape (F, n), and the width.

    Parameters
    ----------
    flicks : EvenFlicks
        From `lay_evenly`.
    family : Family
        Of the response.
    delay_s : ndarray, shape (N_GROUPS,), s
        Its delay in each axis and direction.
    """
    delays = delay_s / flicks.interval_s
    poles, n_average = family.undo(float(np.median(delays)))
    allowed = NOISE_SHARE * GIVE * float(np.median(flicks.reach)) / NOISE_SDS
    width = fitting_width(flicks.noise_fs, allowed, poles=poles, n_average=n_average)
    moved = flicks.y.copy()
    for g, delay in enumerate(delays.tolist()):
        own = (flicks.group == g) & flicks.tells
        poles, n_average = family.undo(delay)
        moved[own] = unsmoothed(flicks.y[own], poles=poles, n_average=n_average, width=width)[0]
    return np.sum(flicks.end[..., None] * moved, axis=1) / flicks.reach[:, None] ** 2, width


def stopped_short(flicks: EvenFlicks, family: Family, delay_s: FloatArray) -> NDArray[np.bool_]:
    """Tell which sticks, un-smoothed by a response, stop short at the rim, shape (F,).

    Parameters
    ----------
    flicks : EvenFlicks
        The flicks on an even grid.
    family : Family
        The family of responses.
    delay_s : ndarray, shape (F,)
        Delay of the response in each flick, s.
    """
    radial, width = radial_paths(flicks, family, delay_s)
    return np.array([stop_index(path, width // 2, flicks.interval_s) is not None for path in radial])


def _last_inside(over: FloatArray, scale: FloatArray) -> FloatArray:
    """Return where each column last stays below `GIVE`, between the scales in ratio; infinite where it never leaves.

    The path of an average that is undone by a shorter one ripples, so that the first crossing is not it.
    """
    inside = over <= GIVE
    last = np.where(inside.any(axis=0), len(scale) - 1 - np.argmax(inside[::-1], axis=0), 0)
    k, column = np.minimum(last + 1, len(scale) - 1), np.arange(over.shape[1])
    below, above = over[k - 1, column], over[k, column]
    part = np.clip((GIVE - below) / np.maximum(above - below, 1e-12), 0.0, 1.0)
    return np.where(inside[-1], np.inf, scale[k - 1] * (scale[k] / scale[k - 1]) ** part)


def _alone(flicks: EvenFlicks, paths: _Paths, *, poles: bool) -> FloatArray:
    """Return the longest delay that leaves each axis inside its own end, shape (F, 2), s; NaN where it says nothing.

    A way out of few reports rings in the derivative of local parabolas: where the readings themselves stay inside and
    the shortest delay of poles already leaves the rim, the rim says nothing.
    """
    beyond = paths.path.max(axis=-1) - NOISE_SDS * paths.sd[:, None, None]
    over = beyond / np.where(flicks.tells, flicks.end, 1.0) - 1.0
    longest = _last_inside(over.reshape(len(over), -1), paths.delay_s).reshape(flicks.end.shape)
    itself = flicks.y.max(axis=-1) - NOISE_SDS * flicks.noise_fs <= (1.0 + GIVE) * flicks.end
    rings = itself & (over[0] > GIVE) & (paths.width[0] > 1 and poles)
    return np.where(flicks.tells & np.isfinite(longest) & ~rings, longest, np.nan)


def _of_axes(flicks: EvenFlicks, alone_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a delay for each axis and direction and its relative uncertainty, shape (N_GROUPS,) each.

    Notes
    -----
    A slide takes from one axis what it gives to the other, weighed by their shares of the way: one combination of both
    axes of a flick is free of it and counts in full, their difference scatters by it. Reweighted least squares.
    """
    share = (flicks.end / flicks.reach[:, None]) ** 2
    rows, values, kind = [], [], []
    for f in range(len(alone_s)):
        told = np.isfinite(alone_s[f])
        if told.all():
            for k, weights in enumerate((share[f], np.array([1.0, -1.0]))):
                rows.append(_row(flicks.group[f], weights))
                values.append(weights @ alone_s[f])
                kind.append(k)
        elif told.any():
            rows.append(_row(flicks.group[f], told.astype(float)))
            values.append(alone_s[f][told][0])
            kind.append(1 if share[f][~told][0] > SLIDE_SHARE else 0)
    return _least_squares(np.array(rows), np.array(values), np.array(kind))


def _row(group: NDArray[np.int64], weights: FloatArray) -> FloatArray:
    row = np.zeros(N_GROUPS)
    np.add.at(row, group, weights)
    return row


def _least_squares(design: FloatArray, values: FloatArray, kind: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    weight, told = np.ones(values.size), np.any(design != 0, axis=0)
    ridge = 1e-9 * np.eye(N_GROUPS)
    for _ in range(ROUNDS):
        normal = design.T @ (weight[:, None] * design)
        found = np.linalg.solve(normal + ridge * np.trace(normal), design.T @ (weight * values))
        off = np.abs(values - design @ found)
        spread = np.array([1.5 * np.median(off[kind == k]) if (kind == k).any() else 1.0 for k in range(2)])
        scale = np.maximum(spread, 1e-3 * np.abs(found).max())[kind]
        weight = 1.0 / np.maximum(scale * off, scale**2)
    covariance = np.linalg.inv(design.T @ (weight[:, None] * design) + ridge * weight.max())
    relative_u = np.sqrt(np.maximum(np.diag(covariance), 0.0)) / np.maximum(found, 1e-9)
    good = told & (found > 0)
    return np.where(good, found, np.nan), np.where(good, np.minimum(relative_u, 1.0), 1.0)


def _radial(flicks: EvenFlicks, paths: _Paths, index: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Return the distance along each flick's end, over its reach, and its noise, for each scale: (K, F, n), (K, F)."""
    cosine = flicks.end / flicks.reach[:, None]
    flick, total, variance = np.arange(len(cosine)), np.zeros(1), np.zeros(1)
    for axis in range(2):
        at = index[:, flicks.group[:, axis]]
        moved = np.where(flicks.tells[:, axis, None], paths.path[at, flick, axis], flicks.y[:, axis])
        total = total + cosine[:, axis, None] * moved
        variance = variance + (cosine[:, axis] * paths.sd[at]) ** 2
    return total / flicks.reach[:, None], np.sqrt(variance) / flicks.reach


def _first_inside(
    radial: FloatArray, sd: FloatArray, high: FloatArray, width: NDArray[np.int64], interval_s: float
) -> FloatArray:
    """Return the least scale at which each stick that met the rim at speed is there `BRAKE_S` later; NaN for others."""
    low = np.full(high.size, np.nan)
    for f in np.flatnonzero(np.isfinite(high)).tolist():
        share = SCALES / high[f]
        near = np.flatnonzero((share <= 1.0) & (share >= STOP_FROM))
        stops = [stop_index(radial[k, f], int(width[k]) // 2, interval_s) for k in near.tolist()]
        later = max((at for at in stops if at is not None), default=None)
        if later is None:
            continue
        inside = radial[:, f, later] + NOISE_SDS * sd[:, f] >= 1.0 - GIVE
        first = int(np.argmax(inside))
        low[f] = SCALES[first - 1] if inside.any() and first > 0 else 0.0
    return low


def _left_inside(radial: FloatArray, high: FloatArray, interval_s: float) -> FloatArray:
    """Return how far inside the rim each un-smoothed stick stays after it met it, in reaches; NaN where none did."""
    left = np.full(high.size, np.nan)
    first, last = (round(time_s / interval_s) for time_s in TAIL_S)
    for f in np.flatnonzero(np.isfinite(high)).tolist():
        path = radial[int(np.abs(np.log(SCALES / high[f])).argmin()), f]
        met = int(np.argmax(path > 1.0 - GIVE))
        left[f] = 1.0 - np.median(path[met + first : met + last + 1]) if met + last < path.size else np.nan
    return left


def _pooled(
    flicks: EvenFlicks,
    family: Family,
    usual_s: FloatArray,
    relative_u: FloatArray,
    low: FloatArray,
    high: FloatArray,
    left: FloatArray,
    *,
    least: int,
) -> StickBrackets:
    trails = np.zeros(N_GROUPS, dtype=bool)
    bounds = np.zeros((3, N_GROUPS))
    bounds[1], bounds[2] = np.inf, np.nan
    n = np.zeros(N_GROUPS, dtype=np.int64)
    for g in range(N_GROUPS):
        own = np.flatnonzero(((flicks.group == g) & flicks.tells).any(axis=1))
        n[g] = own.size
        if own.size < least:
            continue
        shortest, most = float(np.median(np.nan_to_num(low[own]))), float(np.median(high[own]))
        top = usual_s[g] * most * (1.0 + relative_u[g])
        bottom = min(usual_s[g] * shortest * (1.0 - relative_u[g]), top)
        middle = np.sqrt(shortest * most) if shortest else OF_UPPER * min(most, SCALES[-1])
        told = left[own][np.isfinite(left[own])]
        trails[g] = bool(told.size and np.median(told) > TRAILS)
        bounds[:, g] = bottom, top, usual_s[g] * middle
    low_s, high_s, middle_s = bounds
    return StickBrackets(
        family=family, low_s=low_s, high_s=high_s, middle_s=middle_s, trails=trails, n=n, stopped=np.isfinite(low)
    )
