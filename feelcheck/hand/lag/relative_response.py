"""The relative response of two tied sticks: maximum likelihood on their common motion."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.lag.numbers import AT_LIMIT, LARGEST_SHIFT_S, LARGEST_TAU_S, SHIFT_PRIOR_S
from feelcheck.hand.lag.pair import AxisPair
from feelcheck.hand.lag.slack import ANY_PLAY, PLAYS, PlayOffsets, memory, slack_shapes, slack_size, weighted_basis
from feelcheck.hand.lag.strokes import Stroke
from feelcheck.model import FloatArray
from feelcheck.numerics.one_pole import pole_of_samples

__all__ = ["RelativeFit", "fit_relative", "shifted"]

STARTS = ((0.7, 0.7), (0.2, 0.2), (0.2, 0.8), (0.8, 0.2))
"""Shares of the longest poles that the stops leave room for."""
N_TRIED, N_STEPS, N_WEIGHINGS = 5, 25, 2
FAR, NEAR = 0.3, 0.08
STILL_SHARE, LEAST_STOPS = 0.03, 4
OTHER_COLUMNS = (2, 3, 4)
"""Columns besides gain and play: the level, a bend of the gain, a turn against the other stick."""
FIXED_COLUMNS = 5
"""Columns before those of play that follow the path."""
PLAY_SD = 1.0
"""Standard deviation of how much of a diameter of play the linkage has; without, columns of no play fit the noise."""
STEP_S = 2e-5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RelativeFit:
    """What tied sticks say about each other.

    Parameters
    ----------
    shift_s, tau_a_s, tau_b_s : float, s
        Delay of the second stick besides its pole, and both poles.
    gain : float
        Second stick over first.
    play_fs : float
        How much less far the second stick goes one way than the other: the linkage's play, fraction of throw.
    covariance : ndarray, shape (5, 5)
        Of shift, tau_a, tau_b, gain, play, strokes as clusters.
    stroke_lag_s : ndarray, shape (K,), s
        Each stroke's own delay of the second stick behind the first, poles included.
    stroke_fit : ndarray, shape (K,)
        Share of each stroke's motion that the fit explains.
    cost : float
        Sum of squares over the noise's variance.
    """

    shift_s: float
    tau_a_s: float
    tau_b_s: float
    gain: float
    play_fs: float
    covariance: FloatArray
    stroke_lag_s: FloatArray
    stroke_fit: FloatArray
    cost: float

    @property
    def delay_s(self) -> float:
        """How much later the second stick is, s."""
        return self.shift_s + self.tau_b_s - self.tau_a_s


def shifted(values: FloatArray, places: NDArray[np.intp], shift: float) -> FloatArray:
    """Return values, shape (..., n), at places - shift (in steps, any real number), by the cubic through four of them.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Values on an even grid, any unit.
    places : ndarray, shape (m,)
        Indices at which the result is wanted.
    shift : float
        Steps of the grid.

    Examples
    --------
    >>> shifted(np.arange(9.0) ** 3, np.array([4]), 0.5).tolist()
    [42.875]
    """
    whole = math.floor(-shift)
    u = -shift - whole
    at = np.clip(places[:, None] + whole + np.arange(-1, 3), 0, values.shape[-1] - 1)
    weights = [
        -u * (u - 1.0) * (u - 2.0) / 6.0,
        (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0,
        -(u + 1.0) * u * (u - 2.0) / 2.0,
        (u + 1.0) * u * (u - 1.0) / 6.0,
    ]
    return np.asarray(values[..., at] @ np.array(weights))


def held_noise(values: FloatArray, seed: int) -> FloatArray:
    """Return unit noise that, like a converter's rounding, is drawn anew only where the values change, shape (n,).

    Parameters
    ----------
    values : ndarray, shape (n,)
        The codes, any unit.
    seed : int
        Seed of the draw.
    """
    changed = np.cumsum(np.diff(values, prepend=values[0]) != 0)
    return np.asarray(np.random.default_rng(seed).standard_normal(int(changed[-1]) + 1)[changed])


def longest_pole_s(values: FloatArray, strokes: Sequence[Stroke], interval_s: float) -> float:
    """Return the longest pole that the sharpest stops leave room for, s.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One axis on an even grid, full throws.
    strokes : sequence of Stroke
        The strokes in it.
    interval_s : float
        Step of the grid, s.

    Notes
    -----
    Behind one pole the distance to the end cannot shrink faster than exp(-t / tau), however hard the stop. It is
    watched from three tenths to less than a tenth of the stroke; the quicker strokes count, with room for noise. A
    stroke that turns back instead of stopping has no end of its own and says nothing. Where a fit ends at this limit,
    the limit gives way.
    """
    found = []
    for stroke in strokes:
        row = values[stroke.first : stroke.last]
        rest = row[-max(3, row.size // 8) :]
        end, gone = float(np.median(rest)), abs(float(rest[-1]) - float(row[0]))
        if np.ptp(rest) > STILL_SHARE * gone:
            continue
        left = (end - row) / (end - float(row[0]) or 1e-9)
        before, after = (int(np.argmax(left < share)) for share in (FAR, NEAR))
        found.append((after - before + 1) * interval_s / math.log(FAR / NEAR))
    if len(found) < LEAST_STOPS:
        return LARGEST_TAU_S
    return min(1.25 * float(np.quantile(found, 0.4)) + 2 * interval_s, LARGEST_TAU_S)


@dataclass(slots=True, kw_only=True, eq=False)
class _Look:
    """One evaluation: residuals over the noise, projected on nothing that the strokes are free in."""

    shift_s: float
    sd: float
    residual: FloatArray
    linear: FloatArray
    design: FloatArray
    second: FloatArray
    ends: FloatArray

    @property
    def cost(self) -> float:
        return float(self.residual @ self.residual) + (self.shift_s / SHIFT_PRIOR_S) ** 2


class _Filtered:
    """Rows behind one pole; the last two poles asked for are kept, as a descent moves one parameter at a time."""

    def __init__(self, rows: FloatArray, interval_s: float) -> None:
        self._rows, self._interval_s = rows, interval_s
        self._kept: dict[float, FloatArray] = {}

    def by(self, tau_s: float) -> FloatArray:
        """Return the rows behind a pole, shape (m, n)."""
        if tau_s not in self._kept:
            self._kept = {key: self._kept[key] for key in list(self._kept)[-1:]}
            self._kept[tau_s] = pole_of_samples(self._rows, tau_s, self._interval_s)
        return self._kept[tau_s]


class _Problem:
    """The strokes' rows and what each look at them needs."""

    def __init__(
        self, pair: AxisPair, strokes: Sequence[Stroke], noise: tuple[float, float], offsets: PlayOffsets
    ) -> None:
        self.pair, self.strokes, self.noise = pair, strokes, noise
        self.rows = [s.first + np.flatnonzero(pair.real[s.first : s.last]) for s in strokes]
        edges = np.cumsum([0] + [rows.size for rows in self.rows])
        self.spans = [slice(int(a), int(b)) for a, b in pairwise(edges)]
        self.side = np.concatenate([np.full(r.size, -0.5 * s.sign) for r, s in zip(self.rows, strokes, strict=True)])
        self.which = np.concatenate(self.rows)
        self.low = np.array([-LARGEST_SHIFT_S, 0.0, 0.0])
        self.limit([longest_pole_s(row, strokes, pair.interval_s) for row in (pair.a, pair.b)])
        self.offsets = offsets
        self.noise_a = math.sqrt(noise[0]) * held_noise(pair.a, 1)
        self.second = _Filtered(np.stack([pair.b, math.sqrt(noise[1]) * held_noise(pair.b, 2)]), pair.interval_s)
        self.give(ANY_PLAY)

    def give(self, places: Sequence[int]) -> None:
        """Let the linkage have play of these of the diameters."""
        rows = np.vstack([self.pair.a, self.pair.across, self.offsets.rows(places), self.noise_a])
        self.first = _Filtered(rows, self.pair.interval_s)

    def limit(self, longest_s: Sequence[float]) -> None:
        """Take these as the longest poles, s, and no play."""
        self.high = np.array([LARGEST_SHIFT_S, *longest_s])
        self.memories = [memory((rows - rows[0]) * self.pair.interval_s, max(longest_s)) for rows in self.rows]
        self.bases = [(basis, np.ones(basis.shape[1])) for basis in self.memories]

    def find_clearance(self, at: FloatArray) -> None:
        """Let the linkage have the two neighbouring diameters of play that suit the strokes best at one point."""
        costs = []
        for k in range(PLAYS.size - 1):
            self.give((k, k + 1))
            costs.append(self.look(at).cost)
        best = int(np.argmin(costs))
        self.give((best, best + 1))

    def allow_slack(self, at: FloatArray) -> None:
        """Let each stroke have an offset of its own, and one more at its stop, as large as the residuals speak for."""
        shapes = [slack_shapes(since_s, at[1:].tolist()) for since_s in self._since_stop_s()]
        self.bases = [(basis, np.ones(basis.shape[1])) for basis in self.memories]
        here = self.look(at)
        parts = []
        for span, basis, shape in zip(self.spans, self.memories, shapes, strict=True):
            directions, strengths, _ = np.linalg.svd(shape - basis @ (basis.T @ shape), full_matrices=False)
            parts.append((directions.T @ here.residual[span] * here.sd, strengths))
        size = slack_size(parts, here.sd)
        pairs = zip(self.memories, shapes, strict=True)
        self.bases = [weighted_basis(basis, shape, size, here.sd) for basis, shape in pairs]

    def _since_stop_s(self) -> list[FloatArray]:
        """Return each row's time since the first stick was last at half its greatest speed, s."""
        found = []
        for rows, stroke in zip(self.rows, self.strokes, strict=True):
            speed = stroke.sign * np.gradient(self.pair.a[rows])
            found.append((rows - rows[int(np.flatnonzero(speed >= 0.5 * speed.max())[-1])]) * self.pair.interval_s)
        return found

    def look(self, at: FloatArray) -> _Look:
        """Return the residuals of shift, tau_a, tau_b after the linear parameters."""
        shift_s, tau_a_s, tau_b_s = at.tolist()
        a, across, *slack, noise_a = shifted(self.first.by(tau_b_s), self.which, shift_s / self.pair.interval_s)
        b, noise_b = self.second.by(tau_a_s)[:, self.which]
        columns = np.stack([a, self.side, np.ones(a.size), a**2, across, *slack, noise_a, noise_b], axis=1)
        free, y = columns.copy(), b.copy()
        for span, (basis, taken) in zip(self.spans, self.bases, strict=True):
            free[span] -= basis @ (taken[:, None] * (basis.T @ columns[span]))
            y[span] -= basis @ (taken * (basis.T @ b[span]))
        free, rows = free[:, :-2], np.column_stack([y, free[:, -2:]])
        known = self._of_play(free.shape[1])
        solved, *_ = np.linalg.lstsq(np.vstack([free, known]), np.vstack([rows, np.zeros((len(known), 3))]), rcond=1e-9)
        residual, *noises = (rows - free @ solved).T
        linear = solved[:, 0]
        variance = float(np.mean((linear[0] * noises[0]) ** 2) + np.mean(noises[1] ** 2))
        return _Look(
            shift_s=shift_s,
            sd=math.sqrt(variance),
            residual=residual / math.sqrt(variance),
            linear=linear,
            design=free / math.sqrt(variance),
            second=b,
            ends=columns[[span.stop - 1 for span in self.spans], :-2],
        )

    def _of_play(self, n_columns: int) -> FloatArray:
        """Return rows that hold play's columns to their size: each is a diameter that the linkage has or has not."""
        return math.sqrt(sum(self.noise)) / PLAY_SD * np.eye(n_columns)[FIXED_COLUMNS:]

    def explained(self, here: _Look) -> FloatArray:
        """Return the share of each stroke's motion that one look explains, shape (strokes,)."""
        moved = np.array([here.second[span].var() for span in self.spans])
        left = np.array([np.mean(here.residual[span] ** 2) for span in self.spans]) * here.sd**2
        return np.asarray(1.0 - left / np.maximum(moved, 1e-12))

    def slopes(self, at: FloatArray, here: _Look) -> FloatArray:
        """Return the derivatives of the residuals, shape (n, 3)."""
        columns = []
        for k in range(3):
            moved = at.copy()
            moved[k] += STEP_S
            columns.append((self.look(moved).residual - here.residual) / STEP_S)
        return np.stack(columns, axis=1)


PRIOR = np.diag([SHIFT_PRIOR_S**-2, 0.0, 0.0])


def _descend(problem: _Problem, at: FloatArray, n_looks: int) -> tuple[FloatArray, _Look]:
    """Least squares inside the limits, by a trust region."""

    def residual(at_ms: FloatArray) -> FloatArray:
        at_s = 1e-3 * at_ms
        return np.append(problem.look(at_s).residual, at_s[0] / SHIFT_PRIOR_S)

    from scipy.optimize import least_squares  # a fifth of what a log without tied sticks costs

    low, high = 1e3 * problem.low, 1e3 * problem.high
    begin = np.clip(1e3 * at, low + 1e-3, high - 1e-3)
    found = least_squares(residual, begin, bounds=(low, high), diff_step=[1e-4] * 3, xtol=1e-4, max_nfev=n_looks)
    best = np.asarray(1e-3 * found.x)
    return best, problem.look(best)


def _settle(problem: _Problem, start: FloatArray) -> tuple[FloatArray, _Look]:
    """Descend; move limits that stand in the way; then let the linkage have its play, and descend again."""
    at, _ = _descend(problem, start, N_STEPS)
    while np.any(at[1:] > AT_LIMIT * problem.high[1:]) and problem.high[1:].min() < LARGEST_TAU_S:
        problem.limit(np.minimum(2.0 * problem.high[1:], LARGEST_TAU_S).tolist())
        at, _ = _descend(problem, at, N_STEPS)
    problem.find_clearance(at)
    for _ in range(N_WEIGHINGS):
        problem.allow_slack(at)
        at, here = _descend(problem, at, N_STEPS)
    return at, here


def fit_relative(
    pair: AxisPair,
    strokes: Sequence[Stroke],
    noise: tuple[float, float],
    offsets: PlayOffsets,
    near: RelativeFit | None = None,
) -> RelativeFit:
    """Return the relative response that makes both sticks' strokes one motion.

    Parameters
    ----------
    pair : AxisPair
        Both sticks.
    strokes : sequence of Stroke
        At least two.
    noise : tuple of float
        Variance of one report of each stick, fractions squared.
    offsets : PlayOffsets
        What play may do on the pair's path.
    near : RelativeFit or None
        A fit of more of the same sticks' strokes, one more place to start from.

    Notes
    -----
    With the common motion m, the first stick reports its pole A on m, the second gain times its pole B on m, later by
    the shift. Passing each through the other's pole makes both the same: B(A m) = A(B m). The residual of that
    equation over its own noise is what maximum likelihood minimises when the motion itself is free. Play in the
    linkage sets the second stick back by half of it, one way or the other, once it is taken up; each stroke has two
    decays for what went on before that. How the offset follows the path is one of a few kinds of play, mixed; what they
    leave open in each stroke (`slack`) has the size the strokes speak for. Gain, a slight bend of the gain (an odd one
    would look like play), and a slight turn of one stick against the other are linear. Covariance:
    leave one stroke out, to first order.
    """
    problem = _Problem(pair, strokes, noise, offsets)
    starts = [problem.high * (0.0, *shares) for shares in (STARTS[:1] if near else STARTS)]
    starts += [np.array([near.shift_s, near.tau_a_s, near.tau_b_s])] if near else []
    tried = [_descend(problem, start, N_TRIED) for start in starts]
    at, here = _settle(problem, min(tried, key=lambda found: found[1].cost)[0])
    slope = problem.slopes(at, here)
    jacobian = np.concatenate([slope, -here.design], axis=1)
    return RelativeFit(
        shift_s=float(at[0]),
        tau_a_s=float(at[1]),
        tau_b_s=float(at[2]),
        gain=float(here.linear[0]),
        play_fs=float(_play_weights(problem, here) @ here.linear),
        covariance=_left_out(problem, jacobian, here),
        stroke_lag_s=float(at[0] + at[2] - at[1]) + _own_lags(problem, slope, here.residual),
        stroke_fit=problem.explained(here),
        cost=here.cost,
    )


def _play_weights(problem: _Problem, here: _Look) -> FloatArray:
    """Return what makes play of the linear parameters: the offset at the ends of strokes, one way less the other."""
    offsets = here.ends.copy()
    offsets[:, [0, *OTHER_COLUMNS]] = 0.0
    rising = np.array([stroke.sign > 0 for stroke in problem.strokes])
    means = [offsets[way].mean(axis=0) if np.any(way) else np.zeros(offsets.shape[1]) for way in (rising, ~rising)]
    return np.asarray(means[1] - means[0])


def _left_out(problem: _Problem, jacobian: FloatArray, here: _Look) -> FloatArray:
    """Return the covariance of shift, poles, gain and play from the fit's changes when one stroke is left out."""
    normal = jacobian.T @ jacobian
    normal[:3, :3] += PRIOR
    of_play = np.arange(3 + FIXED_COLUMNS, len(normal))
    normal[of_play, of_play] += PLAY_SD**-2
    ridge = np.diag(1e-9 * np.diag(normal) + 1e-12)
    changes = []
    for span in problem.spans:
        own = jacobian[span]
        changes.append(np.linalg.lstsq(normal - own.T @ own + ridge, own.T @ here.residual[span], rcond=1e-12)[0])
    every = np.array(changes)
    moved = np.column_stack([every[:, :4], every[:, 3:] @ _play_weights(problem, here)])
    n = len(moved)
    return np.asarray((n - 1) / n * moved.T @ moved)


def _own_lags(problem: _Problem, slope: FloatArray, residual: FloatArray) -> FloatArray:
    """Return how much later than the common fit each stroke alone would have the second stick, s."""
    return np.array(
        [-(slope[s, 0] @ residual[s]) / max(float(slope[s, 0] @ slope[s, 0]), 1e-30) for s in problem.spans]
    )
