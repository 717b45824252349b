"""What the person did: rests, flicks, holds, releases, rolls, found in the motion itself."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.axes import StickReports
from feelcheck.hand.numbers import (
    BLIP_S,
    CENTRE_FS,
    FEWEST_REPORTS,
    FLICK_FS_PER_S,
    FLICK_TRAVEL_FS,
    HELD_ON_S,
    HOLD_PER_MOVE,
    LEAD_S,
    LEAVES_FS,
    LONGEST_MOVE_S,
    LONGEST_TAIL_S,
    NOISE_MARGIN,
    OUTSIDE_FS,
    QUIET_FS_PER_S,
    RINGS_S,
    SHORTEST_HOLD_S,
    SHORTEST_STILL_S,
    SLOPE_S,
    SLOW_TURN_S,
    TURN_RAD,
)
from feelcheck.model import Action, Cue, FloatArray, Recording, ReportClock, Segment
from feelcheck.numerics.filters import median_of_three, running_mean
from feelcheck.numerics.numbers import LONGEST_SILENCE_S

__all__ = ["find_segments", "stick_segments"]

GRID_S = 0.002

Kind = Literal["rest", "flick", "hold", "release", "roll", "circle"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Motion:
    """A stick on a regular grid."""

    start_s: float
    h_s: float
    x: FloatArray
    y: FloatArray
    radius: FloatArray
    speed: FloatArray
    quiet_below: float

    def at(self, k: int) -> float:
        return self.start_s + k * self.h_s

    def n(self, span_s: float) -> int:
        return max(1, round(span_s / self.h_s))


def find_segments(recording: Recording, clock: ReportClock, sticks: Iterable[StickReports]) -> tuple[Segment, ...]:
    """Return what was done with each stick, in time order.

    Parameters
    ----------
    recording : Recording
        Streams and, if there are any, cues; cues only tell a slow roll from a circle, and which flicks were not
        accepted and repeated: those are left out.
    clock : ReportClock
        The recovered clock.
    sticks : iterable of StickReports
        The reports of each stick.

    Notes
    -----
    Speeds are slopes over 16 ms (or two reports) of the median-filtered position, longer where that is noisy. A fast
    move that ends far from the centre and stays there is a flick, one that ends at the centre a release; directions
    are those moved, not those asked for. Moves that do not stop are play and belong to no segment.
    """
    found: list[Segment] = []
    cues = tuple(sorted(recording.cues, key=lambda cue: cue.t_s))
    for reports in sticks:
        found += stick_segments(reports, clock, cues)
    return tuple(sorted(found, key=lambda segment: segment.start_s))


def stick_segments(reports: StickReports, clock: ReportClock, cues: tuple[Cue, ...] = ()) -> list[Segment]:
    """Return the segments of one stick; see `find_segments`.

    A silence of more than `LONGEST_SILENCE_S` parts the recording: each stretch is put on a grid of its own, so that
    work and memory follow the reports and not the clock.

    Parameters
    ----------
    reports : StickReports
        The reports of one stick.
    clock : ReportClock
        The report clock of the recording.
    cues : tuple of Cue
        What was asked, and when.
    """
    found: list[Segment] = []
    for first, last in _stretches(reports.t_s):
        found += _stretch_segments(_on_grid(reports, clock, (first, last)), reports.stick.stick, cues)
    return found


def _stretches(t_s: FloatArray) -> list[tuple[int, int]]:
    """Return half-open ranges of reports without a longer silence in them, each of eight reports or more."""
    cuts = np.flatnonzero(np.diff(t_s) > LONGEST_SILENCE_S) + 1
    edges = [0, *cuts.tolist(), t_s.size]
    return [(a, b) for a, b in itertools.pairwise(edges) if b - a >= FEWEST_REPORTS]


def _stretch_segments(motion: _Motion, stick: str, cues: tuple[Cue, ...]) -> list[Segment]:
    turns = _turns(motion, stick, cues)
    moves = _fast_moves(motion)
    found = list(turns)
    for number, (first, last) in enumerate(moves):
        begin = moves[number - 1][1] if number else 0
        until = moves[number + 1][0] if number + 1 < len(moves) else motion.x.size - 1
        segment = _judged(motion, (begin, first, last, until), stick)
        if segment is not None and not any(t.start_s < segment.start_s < t.end_s for t in turns):
            found.append(segment)
    still = _still(motion, stick, found)
    return [one for one in found if one.kind != "flick" or _counts(cues, one)] + still


def _on_grid(reports: StickReports, clock: ReportClock, part: tuple[int, int]) -> _Motion:
    """Return one stretch of reports, a half-open range of them, on a grid; its last value holds on for a while."""
    first, last = part
    t_s = reports.t_s[first:last]
    steps = np.diff(t_s)
    usual_s = clock.interval.value or float(np.median(steps[steps > 0])) if np.any(steps > 0) else GRID_S
    h_s = min(max(usual_s, GRID_S), 0.05)
    n = int((t_s[-1] - t_s[0]) / h_s) + 2
    if last < reports.t_s.size and reports.on_change:
        n += int(HELD_ON_S / h_s)
    index = np.searchsorted(t_s, t_s[0] + h_s * np.arange(n) + 1e-9, side="right") - 1
    values_of = (reports.x_fs[first:last], reports.y_fs[first:last])
    # a single torn or stray code is no motion
    x, y = (median_of_three(values[index]) for values in values_of)
    half = max(1, round(SLOPE_S / h_s))
    speed = np.hypot(_slope(x, half, h_s), _slope(y, half, h_s))
    # a log whose noise alone looks like motion is smoothed over twice the span, and once more
    for _ in range(2):
        if NOISE_MARGIN * _noise(x, y, half) / (half * h_s) < QUIET_FS_PER_S:
            break
        x, y = (running_mean(values, 2 * half + 1) for values in (x, y))
        half *= 2
        speed = np.hypot(_slope(x, half, h_s), _slope(y, half, h_s))
    floor = _noise(x, y, half) / (half * h_s)
    return _Motion(
        start_s=float(t_s[0]),
        h_s=h_s,
        x=x,
        y=y,
        radius=np.hypot(x, y),
        speed=speed,
        quiet_below=float(np.clip(NOISE_MARGIN * floor, QUIET_FS_PER_S, 1.8)),
    )


def _noise(x: FloatArray, y: FloatArray, half: int) -> float:
    """Return the noise of the position, from second differences near the centre and away from it."""
    bend = np.hypot(np.diff(x[::half], 2), np.diff(y[::half], 2)) / np.sqrt(6.0)
    away = np.hypot(x, y)[::half][1:-1] > CENTRE_FS
    zones = [bend[zone] for zone in (away, ~away) if np.count_nonzero(zone) > 20]
    return max((float(np.percentile(zone, 75)) / 1.67 for zone in zones), default=0.0)


def _slope(values: FloatArray, half: int, h_s: float) -> FloatArray:
    padded = np.pad(values, half, mode="edge")
    return np.asarray((padded[2 * half :] - padded[: -2 * half]) / (2 * half * h_s))


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return half-open index ranges in which mask is true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _bridged(mask: NDArray[np.bool_], longest: int) -> NDArray[np.bool_]:
    """Return mask with interruptions of up to `longest` filled."""
    filled = mask.copy()
    for first, last in _runs(~mask):
        if last - first <= longest and first and last < mask.size:
            filled[first:last] = True
    return filled


def _fast_moves(motion: _Motion) -> list[tuple[int, int]]:
    """Return stretches of motion that reach a flick's speed; short stops (turning points) do not part them."""
    runs: list[tuple[int, int]] = []
    longest_stop = motion.n(0.02)
    for first, last in _runs(motion.speed > motion.quiet_below):
        if runs and first - runs[-1][1] < longest_stop:
            runs[-1] = (runs[-1][0], last)
        else:
            runs.append((first, last))
    return [run for run in runs if float(motion.speed[run[0] : run[1]].max()) > FLICK_FS_PER_S]


def _judged(motion: _Motion, span: tuple[int, int, int, int], stick: str) -> Segment | None:
    """Return the flick or release that a fast move is, if it is one.

    Parameters
    ----------
    motion : _Motion
        The stick.
    span : tuple of int
        End of the move before, start and end of this move, start of the next one.
    stick : str
        Its name.
    """
    begin, first, last, until = span
    last = min(last, motion.x.size - 1)
    before = max(begin, first - motion.n(0.01))
    settled = min(last + motion.n(0.03), max(until - 1, last), motion.x.size - 1)
    dx, dy = (float(np.median(v[last : settled + 1]) - v[before]) for v in (motion.x, motion.y))
    radius = float(np.median(motion.radius[last : settled + 1]))
    if np.hypot(dx, dy) < FLICK_TRAVEL_FS or last - first > motion.n(LONGEST_MOVE_S):
        return None
    start = max(begin, first - motion.n(LEAD_S))
    direction = float(np.degrees(np.arctan2(dy, dx)) % 360.0)
    if radius < CENTRE_FS and motion.radius[before] > OUTSIDE_FS / 2:
        end = max(last, min(until - motion.n(0.01), last + motion.n(LONGEST_TAIL_S)))
        return _segment(motion, "release", (start, end), stick, direction)
    if radius < OUTSIDE_FS:
        return None
    end = _hold_end(motion, last, settled, until)
    if end - last < max(motion.n(SHORTEST_HOLD_S), HOLD_PER_MOVE * (last - first)):
        return None
    return _segment(motion, "flick", (start, end), stick, direction)


def _hold_end(motion: _Motion, last: int, settled: int, until: int) -> int:
    """Return where the stick leaves the place at which a flick ended."""
    x0, y0 = float(np.median(motion.x[last : settled + 1])), float(np.median(motion.y[last : settled + 1]))
    stop = max(until - motion.n(0.02), last)
    stop = min(stop, last + motion.n(3.0))
    away = np.hypot(motion.x[last:stop] - x0, motion.y[last:stop] - y0) > LEAVES_FS
    left = np.flatnonzero(away)
    return last + int(left[0]) if left.size else stop


def _segment(
    motion: _Motion, kind: Kind, span: tuple[int, int], stick: str, direction_deg: float | None = None
) -> Segment:
    return Segment(
        kind=kind, start_s=motion.at(span[0]), end_s=motion.at(span[1]), stick=stick, direction_deg=direction_deg
    )


def _turns(motion: _Motion, stick: str, cues: tuple[Cue, ...]) -> list[Segment]:
    """Return stretches away from the centre in which the stick goes once round."""
    found = []
    for first, last in _runs(motion.radius > 0.5):
        if last - first < motion.n(0.2):
            continue
        angle = np.unwrap(np.arctan2(motion.y[first:last], motion.x[first:last]))
        if np.ptp(angle) < TURN_RAD:
            continue
        moving = np.abs(angle - angle[0]) > 0.1
        before_end = np.abs(angle - angle[-1]) > 0.1
        begin, end = first + int(np.argmax(moving)), last - int(np.argmax(before_end[::-1]))
        per_turn_s = (end - begin) * motion.h_s / (float(np.ptp(angle)) / (2 * np.pi))
        kind: Kind = "roll" if per_turn_s > SLOW_TURN_S else "circle"
        found.append(
            _segment(motion, _asked(cues, stick, motion.at(begin), motion.at(end)) or kind, (begin, end), stick)
        )
    return found


def _asked(cues: tuple[Cue, ...], stick: str, start_s: float, end_s: float) -> Kind | None:
    """Return whether a roll or a circle was asked for in that time."""
    last = next((cue.action for cue in _before(cues, 0.5 * (start_s + end_s)) if cue.stick in (stick, "")), None)
    if last is Action.ROLL:
        return "roll"
    return "circle" if last is Action.CIRCLE else None


def _counts(cues: tuple[Cue, ...], flick: Segment) -> bool:
    """Return whether the request that a flick answered was not repeated because of it."""
    return next((cue.counts for cue in _before(cues, flick.end_s) if cue.action is Action.FLICK), True)


def _before(cues: tuple[Cue, ...], t_s: float) -> Iterator[Cue]:
    """Yield the cues before an instant, the latest first; they are in time order."""
    n = bisect_left(cues, t_s, key=lambda cue: cue.t_s)
    return (cues[k] for k in range(n - 1, -1, -1))


def _still(motion: _Motion, stick: str, taken: list[Segment]) -> list[Segment]:
    """Return rests at the centre and holds far from it."""
    free = _bridged(motion.speed < motion.quiet_below, motion.n(BLIP_S))
    for segment in taken:
        settle_s = RINGS_S if segment.kind == "release" else 0.0
        end_s = segment.end_s if segment.kind != "release" else min(segment.end_s, segment.end_s - LONGEST_TAIL_S)
        a, b = (round((t_s - motion.start_s) / motion.h_s) for t_s in (segment.start_s, max(end_s, 0.0) + settle_s))
        free[max(a, 0) : max(b, 0)] = False
    found = []
    for kind, place in (("rest", motion.radius < CENTRE_FS), ("hold", motion.radius > OUTSIDE_FS)):
        for first, last in _runs(free & place):
            if last - first >= motion.n(SHORTEST_STILL_S) and _stays(motion, first, last, kind == "rest"):
                found.append(_segment(motion, "rest" if kind == "rest" else "hold", (first, last), stick))
    return found


def _stays(motion: _Motion, first: int, last: int, resting: bool) -> bool:
    """Return whether the stick keeps its place, up to noise and creep."""
    limit = 0.12 if resting else 0.25
    x, y = motion.x[first:last], motion.y[first:last]
    wide = max(float(np.subtract(*np.percentile(v, [97.5, 2.5]))) for v in (x, y))
    return wide < limit
