"""Which axes are one stick, and a stick's reports as fractions of full throw about its own centre."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.numbers import AT_FULL, LEAST_REST, MOVING_FS_PER_S, MOVING_SPAN_S, ONE_SCALE, STILL_S
from feelcheck.hand.silent import repeated
from feelcheck.model import FloatArray, HandView, Recording, ReportClock, StickAxes, Stream, frozen_array

__all__ = [
    "StickReports",
    "codes_at",
    "merged_reports",
    "pair_sticks",
    "rest_level",
    "stick_reports",
    "varying_streams",
]

_FILLERS = {
    *("axis", "abs", "pos", "position", "raw", "value", "code", "codes", "counts", "fraction", "percent", "pct"),
    *("stick", "joy", "joystick", "thumb", "thumbstick", "analog", "pad", "gamepad", "norm"),
}
_NOT_A_STICK = re.compile(r"trig|throttle|brake|gas|hat|dpad|^[lr]t$|^[lr]2$|z2|gyro|acc|temp|button|batter")
_SIDES = {"l": "left", "ls": "left", "left": "left", "r": "right", "rs": "right", "right": "right"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StickReports:
    """Both axes of one stick at the instants of its reports.

    Parameters
    ----------
    stick : StickAxes
        The stick.
    t_s : ndarray, shape (n,), s
        Report instants on the recovered clock, non-decreasing.
    x_fs, y_fs : ndarray, shape (n,)
        Fractions of full throw about the observed centre; a missing axis is all 0.
    x_codes, y_codes : ndarray, shape (n,)
        The log's own numbers, held between changes.
    moving : ndarray of bool, shape (n,)
        Where the stick moves by more than half a throw a second.
    centre : tuple of float
        Observed rest level of x and y, codes.
    reach : tuple of float
        Codes from the centre to full throw of x and y.
    on_change : bool
        Whether a report without change has no row, so that silence means held.
    """

    stick: StickAxes
    t_s: FloatArray
    x_fs: FloatArray
    y_fs: FloatArray
    x_codes: FloatArray
    y_codes: FloatArray
    moving: NDArray[np.bool_]
    centre: tuple[float, float]
    reach: tuple[float, float]
    on_change: bool = False

    def between(self, start_s: float, end_s: float, interval_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return instants, x_fs and y_fs of a stretch, with the silent reports of an on-change log put in.

        Parameters
        ----------
        start_s, end_s : float, s
            The stretch.
        interval_s : float, s
            Report interval; slots of that spacing between two rows that are further apart hold the earlier one.
        """
        first, last = np.searchsorted(self.t_s, (start_s, end_s))
        t_s = self.t_s[first:last]
        if not self.on_change or t_s.size < 2:
            return t_s, self.x_fs[first:last], self.y_fs[first:last]
        silent = np.clip(np.rint(np.diff(t_s, append=end_s) / interval_s).astype(np.int64), 1, 100_000)
        which, slot = repeated(silent)
        return t_s[which] + interval_s * slot, self.x_fs[first:last][which], self.y_fs[first:last][which]

    def fractions(self, axis: str) -> FloatArray:
        """Return the fractions of the axis of that stream name.

        Parameters
        ----------
        axis : str
            Stream name of one of the two.
        """
        return self.x_fs if axis == self.stick.x else self.y_fs


def varying_streams(recording: Recording) -> tuple[Stream, ...]:
    """Return the streams whose numbers change at all.

    Parameters
    ----------
    recording : Recording
        The recording.
    """
    return tuple(s for s in recording.streams if s.codes.size > 1 and np.ptp(s.codes) > 0)


def pair_sticks(recording: Recording) -> tuple[StickAxes, ...]:
    """Return which axes belong to one stick.

    Parameters
    ----------
    recording : Recording
        Its own `sticks` count if it has any; else names decide, then order and common motion. Constant axes, triggers
        and the like are left out.

    Examples
    --------
    >>> from feelcheck.model import Provenance, TimeBase
    >>> time = TimeBase.from_instants([0.0, 1.0])
    >>> streams = tuple(Stream(name=name, time=time, codes=[0, 9]) for name in ("LX", "LY"))
    >>> pair_sticks(Recording(streams=streams, provenance=Provenance()))
    (StickAxes(stick='left', x='LX', y='LY'),)
    """
    streams = varying_streams(recording)
    if recording.sticks:
        alive = {stream.name for stream in streams}
        kept = [
            StickAxes(stick=s.stick, x=s.x if s.x in alive else "", y=s.y if s.y in alive else "")
            for s in recording.sticks
        ]
        return tuple(stick for stick in kept if stick.x or stick.y)
    streams = _without_triggers(streams)
    named, left_over = _pair_by_name(streams)
    return _distinct([*named, *_pair_by_motion(left_over)])


def _tokens(name: str) -> list[str]:
    bare = re.sub(r"[\[(].*?[\])]", " ", name.lower())
    return [word for word in re.split(r"[^a-z0-9]+", bare) if word]


def _without_triggers(streams: tuple[Stream, ...]) -> tuple[Stream, ...]:
    kept = tuple(s for s in streams if not any(_NOT_A_STICK.search(word) for word in _tokens(s.name)))
    if len(kept) <= 2:
        return kept or streams
    central = tuple(s for s in kept if abs(float(np.median(s.fractions))) < 0.9)
    return central if len(central) >= 2 else kept


def _place(name: str) -> tuple[str, str] | None:
    """Return side and letter of an axis name: ("left", "x"), or None where the name does not say."""
    words = [word for word in _tokens(name) if word not in _FILLERS]
    for letter, long in (("x", "horizontal"), ("y", "vertical")):
        if long in words or letter in words:
            side = "".join(word for word in words if word not in (long, letter))
            return _SIDES.get(side, side), letter
    joined = "".join(words)
    for filler in ("thumbstick", "joystick", "stick", "axis", "abs", "thumb", "joy"):
        joined = joined.replace(filler, "")
    match = re.fullmatch(r"(.*?)([xy])(\d*)", joined) or re.fullmatch(r"()([xy])(.*)", joined)
    if match is None:
        return None
    side = match[1] + match[3]
    return _SIDES.get(side, side), match[2]


def _pair_by_name(streams: tuple[Stream, ...]) -> tuple[list[StickAxes], list[Stream]]:
    sides: dict[str, dict[str, str]] = {}
    for stream in streams:
        place = _place(stream.name)
        if place is not None:
            sides.setdefault(place[0], {}).setdefault(place[1], stream.name)
    many = len(sides) > 1
    sticks = [
        StickAxes(
            stick=side or ("left" if many and "left" not in sides else "stick"), x=xy.get("x", ""), y=xy.get("y", "")
        )
        for side, xy in sides.items()
    ]
    used = {name for xy in sides.values() for name in xy.values()}
    return sticks, [stream for stream in streams if stream.name not in used]


def _activity(stream: Stream, edges: FloatArray) -> FloatArray:
    """Return how much an axis moves in each stretch of time, standardised."""
    change = np.abs(np.diff(stream.fractions, prepend=stream.fractions[0]))
    moved = np.sqrt(np.histogram(stream.time.t_hi_s, bins=edges, weights=change)[0])
    moved = moved - moved.mean()
    return np.asarray(moved / max(float(np.sqrt(moved @ moved)), 1e-12))


def _pair_by_motion(streams: list[Stream]) -> list[StickAxes]:
    """Pair neighbours in order, unless the axes are not numbered and another clearly moves more in step."""
    numbered = all(stream.name[-1:].isdigit() for stream in streams)
    left, sticks = list(streams), list[StickAxes]()
    if not left:
        return []
    start, end = min(s.time.t_hi_s[0] for s in left), max(s.time.t_hi_s[-1] for s in left)
    edges = np.linspace(start, end + 1e-9, int(np.clip((end - start) / 0.1, 2, 2000)) + 1)
    while left:
        first = left.pop(0)
        partner = None
        if left:
            own = _activity(first, edges)
            together = [float(own @ _activity(other, edges)) for other in left]
            best = int(np.argmax(together))
            partner = left.pop(best if not numbered and together[best] > together[0] + 0.2 else 0)
        number = f"stick_{len(sticks)}"
        sticks.append(StickAxes(stick=number, x=first.name, y=partner.name if partner else ""))
    names = ("left", "right") if len(sticks) == 2 else ("stick",) if len(sticks) == 1 else ()
    return [StickAxes(stick=n, x=s.x, y=s.y) for n, s in zip(names, sticks, strict=True)] if names else sticks


def _distinct(sticks: Iterable[StickAxes]) -> tuple[StickAxes, ...]:
    seen: dict[str, int] = {}
    out = []
    for stick in sticks:
        number = seen[stick.stick] = seen.get(stick.stick, 0) + 1
        out.append(stick if number == 1 else StickAxes(stick=f"{stick.stick}_{number}", x=stick.x, y=stick.y))
    return tuple(out)


def codes_at(stream: Stream, own_t_s: FloatArray, t_s: FloatArray) -> FloatArray:
    """Return an axis' codes at given instants, each held until the next report.

    Parameters
    ----------
    stream : Stream
        The axis.
    own_t_s : ndarray, shape (n,), s
        Its report instants.
    t_s : ndarray, shape (m,), s
        Where to look; before the first report its value stands.
    """
    index = np.clip(np.searchsorted(own_t_s, t_s, side="right") - 1, 0, None)
    return stream.codes[index].astype(np.float64)


def rest_level(stream: Stream, t_s: FloatArray) -> float:
    """Return the level at which an axis rests, in codes.

    Parameters
    ----------
    stream : Stream
        One axis.
    t_s : ndarray, shape (n,)
        Instants of its reports, s.

    Notes
    -----
    The levels are weighed by the time the stick stood still on them and by their nearness to the nominal centre or the
    middle of the seen range; the level is the weighed median around the highest peak. A stick
    that hardly stands still anywhere is taken to rest at its nominal centre.
    """
    values = stream.codes.astype(np.float64)
    low, high = float(values.min()), float(values.max())
    span = max(high - low, 1e-300)
    held_s = np.minimum(np.diff(t_s, append=t_s[-1]), 0.5)
    before, after = np.searchsorted(t_s, (t_s - STILL_S, t_s + STILL_S))
    later, earlier = values[np.minimum(after, values.size - 1)], values[np.maximum(before - 1, 0)]
    near = np.maximum(np.abs(later - values), np.abs(values - earlier))
    # the tiny weights leave a level to a stick that never stands still
    still = held_s * ((near < 0.02 * span) | (held_s > 2 * STILL_S)) + 1e-9 * held_s + 1e-15
    middle = 0.5 * (low + high)
    nominal = stream.scale.centre if low <= stream.scale.centre <= high else middle
    n_bins = 96
    bins = np.minimum(((values - low) / span * n_bins).astype(np.int64), n_bins - 1)
    share = np.convolve(np.bincount(bins, still, n_bins), np.ones(3), mode="same")
    level = low + (np.arange(n_bins) + 0.5) * span / n_bins
    # the middle of what was seen counts less than the nominal centre: a stick may be held to one side
    apart = np.minimum(np.abs(level - nominal), np.abs(level - middle) + 0.1 * span) / (0.5 * span)
    peak = int(np.argmax(share * np.exp(-((apart / 0.4) ** 2))))
    if share[peak] < LEAST_REST * float(held_s.sum()):
        return float(nominal)
    close = np.abs(bins - peak) <= 1
    order = np.argsort(values[close], kind="stable")
    summed = np.cumsum(still[close][order])
    return float(values[close][order][np.searchsorted(summed, 0.5 * summed[-1])])


def _far(throws: FloatArray) -> float:
    """Return how far the stick goes, deaf to single outliers."""
    n = throws.size
    rank = max(n - 1 - min(max(3, n // 1000), n // 4), 0)
    return max(float(np.partition(np.abs(throws), rank)[rank]), 1e-12)


def _reaches(x: FloatArray, y: FloatArray, alike: bool) -> tuple[float, float]:
    """Return full throw of both axes, in nominal fractions.

    Where the stick was neither at the rim near an axis nor at its nominal full throw (diagonals only), full throw is
    the radius it did reach. An axis along which it hardly went has the throw of the other where both have one scale;
    with its own, its noise would be travel.
    """
    far_x, far_y = _far(x), _far(y)
    if not 0.5 < far_x / far_y < 2.0:
        return (max(far_x, far_y),) * 2 if alike else (far_x, far_y)
    far = _far(np.hypot(x, y))
    on_x = np.count_nonzero((np.abs(x) > 0.9 * far_x) & (np.abs(y) < 0.5 * far_y)) > 2
    on_y = np.count_nonzero((np.abs(y) > 0.9 * far_y) & (np.abs(x) < 0.5 * far_x)) > 2
    own_x, own_y = bool(on_x) or abs(far_x - 1.0) < AT_FULL, bool(on_y) or abs(far_y - 1.0) < AT_FULL
    return (far_x if own_x else far), (far_y if own_y else far)


def merged_reports(recording: Recording, clock: ReportClock, stick: StickAxes) -> StickReports:
    """Return a stick's reports; see `stick_reports`.

    Parameters
    ----------
    recording : Recording
        The recording.
    clock : ReportClock
        The report clock of the recording.
    stick : StickAxes
        Which axes are one stick.
    """
    streams = {name: recording.stream(name) for name in (stick.x, stick.y) if name}
    times = [clock.report_t_s[name] for name in streams]
    shared = len(times) == 1 or (times[0].size == times[1].size and bool(np.array_equal(times[0], times[1])))
    t_s = times[0] if shared else np.unique(np.concatenate(times))
    codes, centres, throws, nominal = {}, {}, {}, {}
    for name, stream in streams.items():
        own = clock.report_t_s[name]
        codes[name] = stream.codes.astype(np.float64) if shared else codes_at(stream, own, t_s)
        centres[name] = rest_level(stream, own)
        nominal[name] = stream.scale.reach
        throws[name] = (codes[name] - centres[name]) / nominal[name]
    nothing = np.zeros(t_s.size)
    x, y = throws.get(stick.x, nothing), throws.get(stick.y, nothing)
    reaches = [stream.scale.reach for stream in streams.values()]
    alike = len({s.scale.unit for s in streams.values()}) == 1 and max(reaches) < ONE_SCALE * min(reaches)
    reach_x, reach_y = _reaches(x, y, alike) if len(streams) == 2 else (_far(x + y),) * 2
    x, y = x / reach_x, y / reach_y
    return StickReports(
        stick=stick,
        t_s=frozen_array(t_s),
        x_fs=frozen_array(x),
        y_fs=frozen_array(y),
        x_codes=frozen_array(codes.get(stick.x, nothing)),
        y_codes=frozen_array(codes.get(stick.y, nothing)),
        moving=frozen_array(_moving(t_s, x, y), np.bool_),
        centre=(centres.get(stick.x, 0.0), centres.get(stick.y, 0.0)),
        reach=(reach_x * nominal.get(stick.x, 1.0), reach_y * nominal.get(stick.y, 1.0)),
        on_change=any(stream.reports == "on_change" for stream in streams.values()),
    )


def stick_reports(view: HandView, stick: StickAxes) -> StickReports:
    """Return both axes of a stick at its report instants, as fractions of full throw about the observed centre.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    stick : StickAxes
        One of `view.sticks`.

    Notes
    -----
    Instants of axes with time bases of their own are merged; each axis holds its value between its reports. They are
    made once for each view.
    """
    return view.once(_merged, stick)


def _merged(view: HandView, stick: StickAxes) -> StickReports:
    return merged_reports(view.recording, view.clock, stick)


def _moving(t_s: FloatArray, x: FloatArray, y: FloatArray) -> NDArray[np.bool_]:
    """Return where the stick travels more than the limit within the span about each report."""
    n = t_s.size
    before = np.clip(np.searchsorted(t_s, t_s - MOVING_SPAN_S, side="left") - 1, 0, n - 1)
    after = np.clip(np.searchsorted(t_s, t_s + MOVING_SPAN_S, side="right"), 0, n - 1)
    passed_s = np.maximum(t_s[after] - t_s[before], 2 * MOVING_SPAN_S)
    return np.asarray(np.hypot(x[after] - x[before], y[after] - y[before]) > MOVING_FS_PER_S * passed_s)
