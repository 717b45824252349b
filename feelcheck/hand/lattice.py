"""The lattice of the numbers in a log: which levels its values stand on, and how far apart those are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.axes import stick_reports
from feelcheck.hand.fast_motion import Motion
from feelcheck.hand.interpolated import has_regular_knots, is_interpolated
from feelcheck.hand.numbers import (
    INSIDE,
    KNOTS_FROM,
    LATTICE_COHERENCE,
    LEVELS_A_TOOTH,
    MAX_FALSE_ALARM,
    MAX_RESIDUAL,
    MIN_LEVELS,
    MIN_SPACING,
    NATIVE_RANGE,
)
from feelcheck.model import FloatArray, HandView, Stream, TimeBase
from feelcheck.numerics.combs import CombFit, fit_comb
from feelcheck.numerics.runs import runs_of_equal

__all__ = ["Lattice", "NumberGrid", "axis_lattice", "find_lattice", "number_grid"]

MOST_TEETH = 2**20
"""Twenty bits; a finer comb is not looked for, so that the cost does not follow what the numbers reach."""
N_BLOCKS = 12
MULTIPLES = (2, 3, 4, 5, 6, 8, 16)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NumberGrid:
    """A log's numbers as multiples of the smallest difference the log can write.

    Parameters
    ----------
    positions : ndarray, shape (n,)
        The values in units of `unit_step`.
    unit_step : float
        Size of one unit in the log's own numbers: 1 for whole counts, 10**-k for k decimals.
    kind : {"counts", "decimals", "float"}
        ``"float"`` where the numbers are written finer than the lattice search can see.
    centre : float
        The nominal centre in the same units.
    """

    positions: FloatArray
    unit_step: float
    kind: str
    centre: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lattice:
    """What the search found.

    Parameters
    ----------
    step, u : float or None
        Distance of neighbouring levels and its standard uncertainty, in the log's own numbers; None where no lattice
        is seen.
    reason : {"found", "native", "log_grid", "hidden", "interpolated", "few_levels"}
        Why: a lattice was found; whole counts over a small range are the step themselves; only the log's own grid is
        there; values stand between levels; rows were interpolated; too few levels.
    coherence, false_alarm : float
        Of the comb.
    n_levels : int
        Distinct values used.
    mixed_with : float or None
        A second step where the log changed its width.
    finer : float or None
        Step between the values passed in motion where held values stand on the coarser `step`: an average.
    halves : tuple of float
        Steps below and above the centre where they differ by more than half a percent.
    """

    step: float | None
    u: float | None
    reason: str
    coherence: float = 0.0
    false_alarm: float = 1.0
    n_levels: int = 0
    mixed_with: float | None = None
    finer: float | None = None
    halves: tuple[float, ...] = ()


def number_grid(codes: NDArray[Any], centre: float) -> NumberGrid:
    """Return a log's numbers in units of the smallest difference they are written with.

    Parameters
    ----------
    codes : ndarray, shape (n,)
        Numbers of one axis as logged.
    centre : float
        Their centre.

    Examples
    --------
    >>> number_grid(np.array([0.25, -0.031, 0.5]), 0.0).unit_step
    0.001
    """
    if np.issubdtype(codes.dtype, np.integer):
        return NumberGrid(positions=codes.astype(np.float64), unit_step=1.0, kind="counts", centre=centre)
    values = codes.astype(np.float64)
    sample = values[:: max(values.size // 4000, 1)]
    for decimals in range(6):
        scaled = sample * 10.0**decimals
        if np.all(np.abs(scaled - np.rint(scaled)) < 1e-6):
            scaled = np.rint(values * 10.0**decimals)
            return NumberGrid(
                positions=scaled, unit_step=10.0**-decimals, kind="decimals", centre=centre * 10.0**decimals
            )
    unit = max(float(np.ptp(values)), 1e-12) / 2**18
    return NumberGrid(positions=np.rint(values / unit), unit_step=unit, kind="float", centre=centre / unit)


def axis_lattice(view: HandView, stream: Stream) -> Lattice:
    """Return the lattice of one axis of a prepared view, made once for each view.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    stream : Stream
        One of its streams.

    Notes
    -----
    Reports near the rim are left out first: a firmware that clamps to a circle moves them off the levels. Where that
    leaves no lattice, or the stick has one axis, the whole log is searched.
    """
    return view.once(_of_axis, stream.name)


def _of_axis(view: HandView, name: str) -> Lattice:
    stream = view.recording.stream(name)
    inside = _inside(view, stream)
    if inside is not None and np.sum(inside) >= MIN_LEVELS:
        t_s = np.asarray(view.clock.report_t_s[stream.name])
        inner = find_lattice(replace(stream, time=TimeBase.from_instants(t_s[inside]), codes=stream.codes[inside]))
        if inner.step is not None:
            return _unless_interpolated(inner, stream)
    return _unless_interpolated(find_lattice(stream), stream)


def _unless_interpolated(lattice: Lattice, stream: Stream) -> Lattice:
    """Return the lattice without a step where it is one of weights between reports."""
    if lattice.step is None or lattice.finer is not None or stream.reports != "every":
        return lattice
    interval_s = float(np.median(np.diff(stream.time.t_hi_s)))
    if interval_s <= 0:
        return lattice
    seen = np.ones(stream.codes.size, dtype=bool)
    motion = Motion(codes=stream.codes / lattice.step, seen=seen, interval_s=interval_s)
    if not (has_regular_knots(motion, KNOTS_FROM) or is_interpolated([motion], KNOTS_FROM, 1.0)):
        return lattice
    return replace(lattice, step=None, u=None, reason="interpolated")


def _inside(view: HandView, stream: Stream) -> NDArray[Any] | None:
    stick = next((s for s in view.sticks if s.x and s.y and stream.name in (s.x, s.y)), None)
    if stick is None or stream.codes.size < MIN_LEVELS:
        return None
    reports = stick_reports(view, stick)
    radius = np.hypot(reports.x_fs, reports.y_fs)
    t_s = np.asarray(view.clock.report_t_s[stream.name])
    index = np.clip(np.searchsorted(reports.t_s, t_s, side="right") - 1, 0, radius.size - 1)
    return np.asarray(radius[index] < INSIDE * float(np.quantile(radius, 0.999)))


def find_lattice(stream: Stream) -> Lattice:
    """Return the lattice on which an axis' numbers stand.

    Parameters
    ----------
    stream : Stream
        One axis, codes as logged.

    Notes
    -----
    The distinct values below and above the centre are two groups of positions for one comb; a scale that differs from
    side to side, and a firmware that shifts each side by its dead zone, leave it whole. A comb counts only where it
    holds in most of twelve stretches of time with one phase: a stick that moves steadily past evenly timed reports
    also leaves even distances, but not twice at the same places.

    References
    ----------
    K. V. Mardia & P. E. Jupp, Directional Statistics, 2000, section 6.3 (Rayleigh test).
    """
    grid = number_grid(stream.codes, stream.scale.centre)
    starts, _ = runs_of_equal(grid.positions)
    runs = grid.positions[starts]
    levels, visits = np.unique(runs, return_counts=True)
    if levels.size < MIN_LEVELS:
        return Lattice(step=None, u=None, reason="few_levels", n_levels=int(levels.size))
    fit = _search(levels, grid.centre)
    if fit is None and np.mean(visits > 1) < 0.9:
        fit = _search(levels[visits > 1], grid.centre)
    lattice = _checked(fit, runs, grid) if fit else None
    if fit and _wider_on_each_side(levels, fit, grid.centre):
        lattice = _piecewise(levels, runs, grid) or lattice
    if fit and lattice and lattice.mixed_with is None:
        held = np.unique(runs[:-1][_held(stream.time.t_hi_s[starts])])
        lattice = _coarser_when_held(lattice, fit, held, grid)
    return lattice or _piecewise(levels, runs, grid) or _without_comb(levels, grid)


def _groups(levels: FloatArray, centre: float) -> list[FloatArray]:
    below, above = levels[levels < centre], levels[levels > centre]
    halves = [below, above]
    return halves if min(below.size, above.size) >= MIN_LEVELS // 2 else [levels]


def _search(levels: FloatArray, centre: float) -> CombFit | None:
    return _accepted(_groups(levels, centre), levels)


def _accepted(groups: list[FloatArray], levels: FloatArray) -> CombFit | None:
    if levels.size < MIN_LEVELS:
        return None
    widest = float(np.ptp(levels)) / 8
    if widest <= 2 * MIN_SPACING:
        return None
    with np.errstate(over="ignore", invalid="ignore"):  # squares of 1e200 are no comb
        fit = fit_comb(groups, max(MIN_SPACING, float(np.ptp(levels)) / MOST_TEETH), widest)
    good = (
        fit is not None
        and fit.coherence >= LATTICE_COHERENCE
        and fit.false_alarm < MAX_FALSE_ALARM
        and fit.residual_rms < MAX_RESIDUAL * fit.spacing
    )
    return fit if fit is not None and good and _one_level_a_tooth(groups, fit) else None


def _one_level_a_tooth(groups: list[FloatArray], fit: CombFit) -> bool:
    """Return whether most teeth carry one level: values clustered about a few places also line up on a wide comb."""
    used = [group for group in groups if group.size > 1]
    teeth = [np.unique(np.rint((g - offset) / fit.spacing)).size for g, offset in zip(used, fit.offsets, strict=True)]
    return sum(teeth) >= max(MIN_LEVELS, fit.n / LEVELS_A_TOOTH)


def _phases(positions: FloatArray, fit: CombFit, centre: float) -> FloatArray:
    if len(fit.offsets) == 1:
        return (positions - fit.offsets[0]) / fit.spacing
    offsets = np.where(positions < centre, fit.offsets[0], fit.offsets[1])
    return np.asarray((positions - offsets) / fit.spacing)


def _checked(fit: CombFit, runs: FloatArray, grid: NumberGrid) -> Lattice | None:
    held, coarser = [], []
    for block in np.array_split(runs, N_BLOCKS):
        levels = np.unique(block)
        phase = _phases(levels, fit, grid.centre)
        if phase.size < 6:
            continue
        held.append(float(np.mean(np.cos(2 * np.pi * phase))) > LATTICE_COHERENCE / 2)
        coarser.append(_common_multiple(levels, phase, grid.centre))
    if not held or np.mean(held) < 0.25:
        return None
    other = None
    multiples = {m for m in coarser if m > 1}
    if len(multiples) == 1 and 0.15 < np.mean(np.array(coarser) > 1) < 1:
        other = multiples.pop() * fit.spacing
    elif np.mean(held) < 0.75:
        other = _other_step(fit, runs, grid, np.array(held))
        if other is None:
            return None
    return Lattice(
        step=fit.spacing * grid.unit_step,
        u=fit.u * grid.unit_step,
        reason="found",
        coherence=fit.coherence,
        false_alarm=fit.false_alarm,
        n_levels=fit.n,
        mixed_with=None if other is None else other * grid.unit_step,
    )


def _held(t_s: FloatArray) -> NDArray[Any]:
    """Return which runs lasted clearly longer than those in motion."""
    lasted = np.diff(t_s)
    return np.asarray(lasted > 3.5 * np.percentile(lasted, 25))


def _coarser_when_held(lattice: Lattice, fit: CombFit, held: FloatArray, grid: NumberGrid) -> Lattice:
    """Return the lattice of the held values where it is coarser: averages pass between levels, but stop on them."""
    if held.size < MIN_LEVELS or np.ptp(held) < 16 * fit.spacing:
        return lattice
    coarse = fit_comb(_groups(held, grid.centre), 1.8 * fit.spacing, float(np.ptp(held)) / 8)
    if coarse is None or coarse.coherence < 0.9 or coarse.false_alarm > MAX_FALSE_ALARM:
        return lattice
    if not _one_level_a_tooth(_groups(held, grid.centre), coarse):
        return lattice
    return replace(lattice, step=coarse.spacing * grid.unit_step, u=coarse.u * grid.unit_step, finer=lattice.step)


def _common_multiple(levels: FloatArray, phase: FloatArray, centre: float) -> int:
    """Return the largest multiple of the step that all levels of one block share on each side, 1 for none."""
    if phase.size < MIN_LEVELS:
        return 1
    numbers = np.rint(phase)
    sides = [side for side in (numbers[levels < centre], numbers[levels >= centre]) if side.size]
    for multiple in reversed(MULTIPLES):
        wide = np.ptp(numbers) >= MIN_LEVELS * multiple / 2
        if wide and all(np.unique(side % multiple).size == 1 for side in sides):
            return multiple
    return 1


def _other_step(fit: CombFit, runs: FloatArray, grid: NumberGrid, held: NDArray[Any]) -> float | None:
    """Return the step of the stretch of time in which the first comb does not hold."""
    blocks = np.array_split(runs, N_BLOCKS)
    if held.size != len(blocks):
        return None
    rest = np.unique(np.concatenate([block for block, good in zip(blocks, held, strict=True) if not good]))
    other = _search(rest, grid.centre)
    if other is None or abs(other.spacing / fit.spacing - 1) < 0.005:
        return None
    return other.spacing


def _piecewise(levels: FloatArray, runs: FloatArray, grid: NumberGrid) -> Lattice | None:
    """Return the lattice where each side of the centre has a step of its own."""
    groups = _groups(levels, grid.centre)
    if len(groups) < 2 or np.mean(np.diff(levels) < MIN_SPACING) > 0.3:
        return None
    fits = [_accepted([group], group) for group in groups]
    below, above = fits
    if below is None or above is None or abs(below.spacing / above.spacing - 1) > 0.25:
        return None
    parts = [_checked(below, runs[runs < grid.centre], grid), _checked(above, runs[runs > grid.centre], grid)]
    if parts[0] is None or parts[1] is None:
        return None
    steps = (below.spacing * grid.unit_step, above.spacing * grid.unit_step)
    return Lattice(
        step=float(np.mean(steps)),
        u=abs(steps[0] - steps[1]) / 2,
        reason="found",
        coherence=min(below.coherence, above.coherence),
        false_alarm=max(below.false_alarm, above.false_alarm),
        n_levels=below.n + above.n,
        halves=steps,
    )


def _wider_on_each_side(levels: FloatArray, fit: CombFit, centre: float) -> bool:
    """Return whether each side uses only every m-th tooth: two wider steps with a common measure."""
    groups = _groups(levels, centre)
    if len(groups) < 2 or len(fit.offsets) < 2:
        return False
    for group, offset in zip(groups, fit.offsets, strict=True):
        numbers = np.rint((group - offset) / fit.spacing).astype(np.int64)
        if np.gcd.reduce(numbers - numbers[0]) < 2:
            return False
    return True


def _without_comb(levels: FloatArray, grid: NumberGrid) -> Lattice:
    n = int(levels.size)
    gaps = np.diff(levels)
    if grid.kind == "counts" and np.ptp(levels) <= NATIVE_RANGE and np.mean(gaps == 1) >= 0.5:
        return Lattice(step=1.0, u=0.0, reason="native", coherence=1.0, false_alarm=0.0, n_levels=n)
    on_grid = grid.kind != "float" and np.mean(gaps == 1) >= 0.05
    return Lattice(step=None, u=None, reason="log_grid" if on_grid else "hidden", n_levels=n)
