"""Relative delay of two tied sticks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from feelcheck.counted import counted
from feelcheck.hand.axes import StickReports, stick_reports
from feelcheck.hand.lag import numbers
from feelcheck.hand.lag.numbers import (
    CLEAR_T,
    FLOOR_S,
    FLOOR_SMOOTHED_S,
    LEAST_STROKES,
    LEAST_STROKES_A_WAY,
    LEFT_OF_PLAY,
    LEFT_OF_PLAY_SMOOTHING,
    LOOKS_PER_REPORT,
    MOST_LAG_SPREAD_S,
    ROUNDED,
    ROUNDED_SMOOTHING,
    SMOOTHED_S,
    TAKE_UP_FS,
    TIED_FIT,
    TOGETHER,
)
from feelcheck.hand.lag.pair import AxisPair, axis_pair
from feelcheck.hand.lag.relative_response import RelativeFit, fit_relative
from feelcheck.hand.lag.slack import PlayOffsets, play_offsets
from feelcheck.hand.lag.strokes import Stroke, find_strokes
from feelcheck.model import (
    Caveat,
    CoupledAxis,
    CoupledLag,
    Estimate,
    FloatArray,
    HandView,
    MetricOutput,
    StickAxes,
    Trace,
)
from feelcheck.numerics.uncertainty import combined

__all__ = ["METRIC", "coupled_lag", "noise_variance"]

PLAY, FIT = "play of the linkage", "fit of the strokes"

_DELAY = np.array([1.0, -1.0, 1.0, 0.0, 0.0])
_SMOOTHING = np.array([0.0, -1.0, 1.0, 0.0, 0.0])
LOOK_S, OUT_FS, LEAST_SHARED = 0.01, 0.15, 0.3
"""Tied sticks are out together; play and smoothing make them part for little of that time."""

ALONE = Caveat(
    code="sticks_not_together",
    text="No two sticks move together, so none can be timed against another.",
    advice="Tie two sticks with a stiff bar and record feelcheck log --script coupled.",
)
LOOSE = Caveat(
    code="sticks_not_tied",
    text="Two sticks move at the same time, but not as one: they are not tied, or the tie gives.",
    advice="Tie them with a stiff bar without play and record again.",
)
NO_RATE = Caveat(
    code="rate_unknown",
    text="The report interval is not known, so the two sticks cannot be put on one clock.",
    advice="Record with stamps of 0.1 ms or finer.",
)
ONE_ORDER = Caveat(
    code="scan_order_included",
    text="The pad reads its axes one after the other; that part of the delay belongs to the port, not to the sensor.",
    advice="Swap the two sensors' ports once, record again with --state ports_swapped, and analyse both together.",
)
ONE_WAY = Caveat(
    code="directions_differ",
    text="The delay is not the same where the code rises and where it falls; one value for both lies between.",
    advice="Read the two directions by themselves.",
)
WITH_SPEED = Caveat(
    code="lag_changes_with_speed",
    text="The delay changes with the speed of the strokes, as it does when the linkage gives.",
    advice="Make the linkage stiffer and take its play out.",
)


def noise_variance(values: FloatArray) -> float:
    """Return the variance of one report from second differences, at least that of the converter's rounding.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One axis, full throws.

    Examples
    --------
    >>> round(noise_variance(np.repeat([0.0, 0.12], 50)), 6)
    0.0012
    """
    spread, rounding = _spread_and_rounding(values)
    return max(rounding or spread, 1e-10)


def _spread_and_rounding(values: FloatArray) -> tuple[float, float]:
    """Return the variance that second differences show, and that of rounding where no noise hides it, else 0."""
    steps = np.abs(np.diff(values))
    step = float(np.percentile(steps[steps > 1e-9], 10)) if np.any(steps > 1e-9) else 0.0
    spread = float(np.median(np.diff(values, 2) ** 2)) / 6.0 / 0.455
    return spread, 0.0 if spread > step**2 else step**2 / 12.0


def _rounded_s(pair: AxisPair, strokes: Sequence[Stroke]) -> float:
    """Return how long the strokes take for the rounding of both sticks: they end at the same few levels, s."""
    rounding = sum(_spread_and_rounding(row[pair.real])[1] for row in (pair.a, pair.b))
    return math.sqrt(rounding) / float(np.median([stroke.speed_fs_per_s for stroke in strokes]))


def coupled_lag(view: HandView) -> tuple[CoupledLag, tuple[Trace, ...]]:
    """Return how much later the second stick is than the first, if they are tied, and the traces behind it.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    """
    if len(view.sticks) < 2:
        return CoupledLag(delay=Estimate.not_present("delay", unit="s", caveats=(ALONE,))), ()
    first, second = view.sticks[:2]
    if not _may_be_tied(stick_reports(view, first), stick_reports(view, second)):
        return CoupledLag(delay=Estimate.not_present("delay", unit="s", caveats=(ALONE,))), ()
    axes, traces, whys = {}, [], []
    for letter in "xy":
        names = getattr(first, letter), getattr(second, letter)
        if not all(names):
            continue
        found = _axis(view, first, names, letter)
        if isinstance(found, Estimate):
            whys.append(found)
            continue
        axes[letter] = found[0]
        traces.append(found[1])
    return CoupledLag(
        delay=_over_axes(axes, whys),
        axes=MappingProxyType(axes),
        first=first.stick,
        second=second.stick,
    ), tuple(traces)


def _may_be_tied(first: StickReports, second: StickReports) -> bool:
    """Whether both sticks were out at the same times: a quick look that spares most recordings the long one."""
    begin_s, end_s = max(first.t_s[0], second.t_s[0]), min(first.t_s[-1], second.t_s[-1])
    seen_s = np.concatenate([first.t_s, second.t_s])
    if (end_s - begin_s) / LOOK_S < LOOKS_PER_REPORT * seen_s.size:
        t_s = np.arange(begin_s, end_s, LOOK_S)
    else:  # mostly silence: look where there are reports, so that the work follows them
        t_s = np.unique(seen_s[(seen_s >= begin_s) & (seen_s < end_s)])
    out = [np.interp(t_s, one.t_s, np.hypot(one.x_fs, one.y_fs)) > OUT_FS for one in (first, second)]
    either = np.count_nonzero(out[0] | out[1])
    return bool(either and np.count_nonzero(out[0] & out[1]) > LEAST_SHARED * either)


def _over_axes(axes: dict[str, CoupledAxis], whys: list[Estimate]) -> Estimate:
    delays = [axis.delay for axis in axes.values()]
    if not delays:
        loose = next((why for why in whys if why.status == "not_resolved"), None)
        return loose or Estimate.not_present("delay", unit="s", caveats=(ALONE,))
    pairs = [(e.value, e.u) for e in delays if e.value is not None and e.u is not None]
    mean = float(np.mean([value for value, _ in pairs]))
    spread = float(np.ptp([value for value, _ in pairs])) / math.sqrt(12)
    own = math.hypot(*(u for _, u in pairs)) / len(pairs)
    u, terms = combined({"what each axis says of itself": own, "difference of the axes": spread})
    n, dof = sum(e.n for e in delays), min(e.dof for e in delays)
    caveats = tuple({c.code: c for e in delays for c in e.caveats}.values())
    return Estimate.measured("delay", mean, u=u, unit="s", n=n, dof=dof, caveats=caveats, terms=terms)


def _axis(
    view: HandView, first: StickAxes, names: tuple[str, str], letter: str
) -> tuple[CoupledAxis, Trace] | Estimate:
    """Return one axis and its trace, or why there is none."""
    pair = axis_pair(view, *names, first.y if letter == "x" else first.x)
    if pair is None:
        return Estimate.not_resolved("delay", unit="s", caveats=(NO_RATE,))
    strokes = find_strokes(pair, TAKE_UP_FS)
    together = _together(pair, strokes)
    if len(strokes) < LEAST_STROKES or together < 0.5:
        return Estimate.not_present("delay", unit="s", n=len(strokes), caveats=(ALONE,))
    if together < TOGETHER:
        return Estimate.not_resolved("delay", unit="s", n=len(strokes), caveats=(LOOSE,))
    noise = noise_variance(pair.a[pair.real]), noise_variance(pair.b[pair.real])
    offsets = play_offsets(pair.a, pair.across)
    fit = fit_relative(pair, strokes, noise, offsets)
    if not _tied(fit):
        return Estimate.not_resolved("delay", unit="s", n=len(strokes), caveats=(LOOSE,))
    caveats: tuple[Caveat, ...] = (ONE_ORDER, *((WITH_SPEED,) if _goes_with_speed(fit, strokes) else ()))
    floors = _floors(fit, pair, strokes)
    play_s = _play_s(fit, strokes)
    ways = [[stroke for stroke in strokes if stroke.sign == sign] for sign in (1, -1)]
    rising, falling = (_one_way(pair, own, noise, offsets, fit) for own in ways)
    caveats += (ONE_WAY,) if _apart(rising, falling) else ()
    axis = CoupledAxis(
        first=names[0],
        second=names[1],
        delay=_of(fit, _DELAY, "delay", len(strokes), {**floors, PLAY: LEFT_OF_PLAY * play_s}).with_caveats(*caveats),
        rising=rising,
        falling=falling,
        smoothing=_of(
            fit,
            _SMOOTHING,
            "smoothing_difference",
            len(strokes),
            _of_smoothing(floors, play_s),
        ),
        gain=_linear(fit, 3, "gain", "ratio", fit.gain, len(strokes)),
        play=_play(fit, len(strokes)),
    )
    return axis, _trace(pair, strokes, fit, names)


def _together(pair: AxisPair, strokes: Sequence[Stroke]) -> float:
    """Return the median correlation of both sticks inside the strokes, 0 without any."""
    found = []
    for stroke in strokes:
        a, b = pair.a[stroke.first : stroke.last], pair.b[stroke.first : stroke.last]
        moves = np.ptp(b) > 0.2 * np.ptp(a)
        found.append(abs(float(np.corrcoef(a, b)[0, 1])) if moves and np.ptp(a) > 0 else 0.0)
    return float(np.median(found)) if found else 0.0


def _tied(fit: RelativeFit) -> bool:
    low, high = np.percentile(fit.stroke_lag_s, (16, 84))
    return bool(np.median(fit.stroke_fit) >= TIED_FIT and 0.5 * (high - low) <= MOST_LAG_SPREAD_S)


def _one_way(
    pair: AxisPair, own: Sequence[Stroke], noise: tuple[float, float], offsets: PlayOffsets, fit: RelativeFit
) -> Estimate:
    """Return the delay of the strokes that go one way; what play leaves of it comes from both ways."""
    name = "rising" if own and own[0].sign > 0 else "falling"
    if len(own) < LEAST_STROKES_A_WAY:
        few = Caveat(
            code="few_strokes",
            text=f"Only {counted(len(own), 'stroke goes', 'strokes go')} this way.",
            advice="Record at least four quick strokes each way.",
        )
        return Estimate.not_resolved(name, unit="s", n=len(own), caveats=(few,))
    one = fit_relative(pair, own, noise, offsets, fit)
    left_s = LEFT_OF_PLAY * _play_s(fit, own)
    return _of(one, _DELAY, name, len(own), {**_floors(one, pair, own), PLAY: left_s})


def _apart(rising: Estimate, falling: Estimate) -> bool:
    """Whether both directions clearly differ."""
    if rising.value is None or falling.value is None or rising.u is None or falling.u is None:
        return False
    return abs(rising.value - falling.value) > CLEAR_T * math.hypot(rising.u, falling.u)


def _floors(fit: RelativeFit, pair: AxisPair, strokes: Sequence[Stroke]) -> dict[str, float]:
    """Return what no more strokes would shrink, s, by words."""
    smoothed = FLOOR_SMOOTHED_S * min(1.0, max(fit.tau_a_s, fit.tau_b_s) / SMOOTHED_S)
    floors = {"link between the sticks": FLOOR_S, "slow response of either stick": smoothed}
    return {**floors, ROUNDED.sets: ROUNDED * _rounded_s(pair, strokes)}


def _of_smoothing(floors: Mapping[str, float], play_s: float) -> dict[str, float]:
    """Return the same of the relative smoothing, and what play leaves of it, s, by words."""
    others = {words: 2 * u_s for words, u_s in floors.items()}
    rounded_s = ROUNDED_SMOOTHING / ROUNDED * floors[ROUNDED.sets]
    return {**others, ROUNDED.sets: rounded_s, PLAY: LEFT_OF_PLAY_SMOOTHING * play_s}


def _play_s(fit: RelativeFit, strokes: Sequence[Stroke]) -> float:
    """Return how long the strokes take to pass the play, s."""
    return abs(fit.play_fs) / float(np.median([stroke.speed_fs_per_s for stroke in strokes]))


def _of(fit: RelativeFit, weights: FloatArray, quantity: str, n: int, floors: Mapping[str, float]) -> Estimate:
    at = np.array([fit.shift_s, fit.tau_a_s, fit.tau_b_s, fit.gain, fit.play_fs])
    own = math.sqrt(max(float(weights @ fit.covariance @ weights), 0.0))
    u, terms = combined({FIT: own, **floors})
    value, dof = float(weights @ at), float(max(n - 2, 1))
    return Estimate.measured(quantity, value, u=u, unit="s", n=n, dof=dof, terms=terms)


def _linear(fit: RelativeFit, k: int, quantity: str, unit: str, value: float, n: int) -> Estimate:
    u = math.sqrt(max(float(fit.covariance[k, k]), 0.0))
    return Estimate.measured(quantity, value, u=max(u, 1e-6), unit=unit, n=n, dof=float(max(n - 2, 1)), by=FIT)


def _play(fit: RelativeFit, n: int) -> Estimate:
    play = fit.play_fs * math.copysign(1.0, fit.gain)
    found = _linear(fit, 4, "play", "fraction", play, n)
    if found.u is not None and play > 2 * found.u:
        return found
    return Estimate.at_most("play", max(play, 0.0) + 2.3 * (found.u or 0.0), unit="fraction", n=n)


def _goes_with_speed(fit: RelativeFit, strokes: Sequence[Stroke]) -> bool:
    """Whether the strokes' own delays follow 1 / speed."""
    pace = np.array([1.0 / stroke.speed_fs_per_s for stroke in strokes])
    if pace.size < LEAST_STROKES or np.ptp(pace) < 0.02:
        return False
    x, y = pace - pace.mean(), fit.stroke_lag_s - fit.stroke_lag_s.mean()
    slope = float(x @ y) / float(x @ x)
    u = math.sqrt(float(np.sum((y - slope * x) ** 2)) / max(pace.size - 2, 1) / float(x @ x))
    return abs(slope) > CLEAR_T * max(u, 1e-12) and abs(slope) * float(np.std(pace)) > 2 * FLOOR_S


def _trace(pair: AxisPair, strokes: Sequence[Stroke], fit: RelativeFit, names: tuple[str, str]) -> Trace:
    longest = max(strokes, key=lambda stroke: stroke.speed_fs_per_s)
    rows = slice(max(longest.first - 40, 0), longest.last)
    return Trace(
        kind="coupled",
        axis=names[1],
        arrays={
            "t_s": pair.t_s[rows] - pair.t_s[longest.first],
            "first_fs": pair.a[rows],
            "second_fs": pair.b[rows] / fit.gain,
            "pace_s": np.array([1.0 / stroke.speed_fs_per_s for stroke in strokes]),
            "lag_s": fit.stroke_lag_s,
            "sign": np.array([stroke.sign for stroke in strokes]),
        },
        marks={"delay_s": fit.delay_s},
        labels={"first": names[0], "second": names[1]},
    )


class TiedSticks:
    """The metric of two sticks that are tied together."""

    name = "tied_sticks"
    numbers = numbers

    def measure(self, view: HandView) -> MetricOutput:
        """Return how much the second stick trails the first, and why not where they are not tied."""
        lag, traces = coupled_lag(view)
        return MetricOutput(coupled=lag, traces=traces)


METRIC = TiedSticks()
