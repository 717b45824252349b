from __future__ import annotations

import tracemalloc
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.hand.axes import merged_reports, pair_sticks
from feelcheck.hand.clock import recover_clock
from feelcheck.hand.segmentation import find_segments
from feelcheck.model import Action, Cue, Provenance, Recording, Segment, Stream, TimeBase

Floats = NDArray[Any]
FLICK_S = 0.1
PERIOD_S = 1.6
ANGLES = (45.0, 225.0, 135.0, 315.0, 0.0, 90.0)


def smooth(u: Floats) -> Floats:
    u = np.clip(u, 0.0, 1.0)
    return np.asarray(u**3 * (10 - 15 * u + 6 * u * u))


def flicks(t_s: Floats, angles: tuple[float, ...] = ANGLES, hold_s: float = 0.6, tau_s: float = 0.0) -> Floats:
    """Rest 1 s, then every 1.6 s a flick to the rim, a hold, a snap back."""
    xy = np.zeros((2, t_s.size))
    for k, angle in enumerate(angles):
        since = t_s - 1.0 - PERIOD_S * k
        way = 1.25 * smooth(since / FLICK_S)
        out = np.minimum(way, 1.0) * (since < FLICK_S + hold_s)
        back = np.maximum(since - FLICK_S - hold_s, 0.0)
        ring = np.exp(-back / 0.012) * np.cos(2 * np.pi * 40 * back) * (since >= FLICK_S + hold_s)
        xy += np.outer([np.cos(np.radians(angle)), np.sin(np.radians(angle))], out + ring)
    if tau_s:
        step = float(t_s[1] - t_s[0])
        for k in range(1, t_s.size):
            xy[:, k] = xy[:, k - 1] + (xy[:, k] - xy[:, k - 1]) * (1 - np.exp(-step / tau_s))
    return xy


def log(xy: Floats, t_s: Floats, scale: float = 30000.0, cues: tuple[Cue, ...] = ()) -> Recording:
    time = TimeBase.from_instants(t_s)
    streams = tuple(
        Stream(name=n, time=time, codes=np.round(scale * v).astype(np.int64)) for n, v in zip("xy", xy, strict=False)
    )
    return Recording(streams=streams, provenance=Provenance(), cues=cues)


def segments(recording: Recording) -> tuple[Segment, ...]:
    clock = recover_clock(recording)
    reports = [merged_reports(recording, clock, stick) for stick in pair_sticks(recording)]
    return find_segments(recording, clock, reports)


def of_kind(found: tuple[Segment, ...], kind: str) -> list[Segment]:
    return [segment for segment in found if segment.kind == kind]


def grid(rate_hz: float, seconds: float = 11.0) -> Floats:
    return np.arange(int(seconds * rate_hz)) / rate_hz


def assert_all_flicks(found: tuple[Segment, ...], angles: tuple[float, ...] = ANGLES, hold_s: float = 0.6) -> None:
    outward, back = of_kind(found, "flick"), of_kind(found, "release")
    assert len(outward) == len(back) == len(angles)
    for k, (flick, release) in enumerate(zip(outward, back, strict=True)):
        start = 1.0 + PERIOD_S * k
        assert flick.start_s < start + 0.02
        assert start + FLICK_S + 0.7 * hold_s < flick.end_s < start + FLICK_S + hold_s + 0.02
        assert release.start_s < start + FLICK_S + hold_s < release.end_s
        assert flick.direction_deg is not None
        assert release.direction_deg is not None
        assert abs((flick.direction_deg - angles[k] + 180) % 360 - 180) < 4
        assert abs((release.direction_deg - angles[k]) % 360 - 180) < 4


@pytest.mark.parametrize("rate_hz", [60, 125, 250, 1000])
@pytest.mark.parametrize("scale", [127.0, 30000.0])
def test_every_flick_and_release_is_found(rate_hz: float, scale: float) -> None:
    t_s = grid(rate_hz)
    assert_all_flicks(segments(log(flicks(t_s), t_s, scale)))


@pytest.mark.parametrize("noise", [0.005, 0.015])
def test_noise_makes_no_difference(noise: float) -> None:
    t_s = grid(500)
    xy = flicks(t_s) + np.random.default_rng(1).normal(0, noise, (2, t_s.size))
    found = segments(log(xy, t_s))
    assert_all_flicks(found)
    assert len(of_kind(found, "rest")) >= 6


def test_heavy_smoothing_still_leaves_flicks() -> None:
    t_s = grid(500)
    assert_all_flicks(segments(log(flicks(t_s, tau_s=0.05), t_s)))


@pytest.mark.parametrize("turn", [(-1, 1), (1, -1), (-1, -1)])
def test_inverted_axes_turn_the_direction_with_them(turn: tuple[int, int]) -> None:
    t_s = grid(250)
    xy = flicks(t_s, (30.0, 200.0)) * np.array([[turn[0]], [turn[1]]])
    angles = [
        np.degrees(np.arctan2(turn[1] * np.sin(np.radians(a)), turn[0] * np.cos(np.radians(a)))) for a in (30.0, 200.0)
    ]
    assert_all_flicks(segments(log(xy, t_s)), tuple(angles))


def test_rests_are_where_nobody_touches_the_stick() -> None:
    t_s = grid(250)
    for rest in of_kind(segments(log(flicks(t_s), t_s)), "rest"):
        inside = (t_s > rest.start_s) & (t_s < rest.end_s)
        assert np.hypot(*flicks(t_s)[:, inside]).max() < 0.05
        assert rest.end_s - rest.start_s > 0.25


def test_flicks_without_a_hold_are_no_flicks() -> None:
    t_s = grid(500)
    assert of_kind(segments(log(flicks(t_s, hold_s=0.0), t_s)), "flick") == []


@pytest.mark.parametrize(("turn_s", "kind"), [(4.0, "roll"), (0.8, "circle")])
def test_a_turn_round_the_rim_is_a_roll_or_a_circle(turn_s: float, kind: str) -> None:
    t_s = grid(250, 8.0)
    angle = 2 * np.pi * np.clip((t_s - 2.0) / turn_s, 0, 1)
    radius = smooth((t_s - 1.0) / 0.4) * (1 - smooth((t_s - 2.6 - turn_s) / 0.4))
    found = segments(log(radius * np.stack([np.cos(angle), np.sin(angle)]), t_s))
    (turn,) = of_kind(found, kind)
    assert turn.start_s == pytest.approx(2.0, abs=0.25)
    assert turn.end_s == pytest.approx(2.0 + turn_s, abs=0.25)


def test_a_cue_names_the_turn() -> None:
    t_s = grid(250, 6.0)
    angle = 2 * np.pi * np.clip((t_s - 2.0) / 0.8, 0, 1)
    radius = smooth((t_s - 1.0) / 0.4)
    cue = Cue(t_s=0.5, action=Action.ROLL, stick="stick")
    found = segments(log(radius * np.stack([np.cos(angle), np.sin(angle)]), t_s, cues=(cue,)))
    assert len(of_kind(found, "roll")) == 1


def test_play_without_stops_has_no_flicks_and_no_rest() -> None:
    t_s = grid(250, 30.0)
    xy = 0.6 * np.stack([np.sin(2 * np.pi * 1.1 * t_s), np.cos(2 * np.pi * 0.83 * t_s + 1)])
    assert {segment.kind for segment in segments(log(xy, t_s))} <= {"circle", "hold"}


def test_one_axis_alone_works() -> None:
    t_s = grid(250)
    x = flicks(t_s, (0.0, 180.0))[:1]
    assert_all_flicks(segments(log(x, t_s)), (0.0, 180.0))


def test_a_few_reports_hold_nothing() -> None:
    t_s = np.array([0.0, 0.1, 0.2])
    assert segments(log(np.array([[0, 1, 0], [0, 0, 1]]), t_s)) == ()


def test_work_follows_the_reports_and_not_the_clock() -> None:
    t_s = grid(1000.0)
    xy = flicks(t_s) + 0.002 * np.random.default_rng(1).standard_normal((2, t_s.size))
    resting = int(np.flatnonzero(t_s > 1.0 + 3 * PERIOD_S - 0.2)[0])
    late = t_s + np.where(np.arange(t_s.size) >= resting, 3.15e7, 0.0)
    plain = log(xy, t_s)
    tracemalloc.start()
    apart = log(xy, late)
    found = segments(apart)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 50e6  # a grid of 2 ms over a year would be 250 GB
    assert len(of_kind(found, "flick")) == len(of_kind(segments(plain), "flick")) == len(ANGLES)
    clock = recover_clock(apart)
    assert clock.interval.value == pytest.approx(1e-3, rel=1e-6)
    assert np.all(np.diff(clock.report_t_s["x"]) > 0)
