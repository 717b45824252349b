from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from views import view_of

from feelcheck.hand.dead_zone import crossing_widths, dead_zone, leaving_jumps
from feelcheck.hand.fast_motion import Motion
from feelcheck.hand.rest import METRIC, _return_error
from feelcheck.model import (
    Estimate,
    HandView,
    ReportClock,
    Segment,
    Status,
    StickAxes,
    Stream,
    TimeBase,
)

STEP = 16.0


def flicked(
    noise: float = 2.0, drift: float = 0.0, play: float = 0.0, seed: int = 1, n_flicks: int = 12, reports: Any = "every"
) -> Any:
    """Return a view of one axis: flicks to both sides in turn, a rest after each; noise, drift, play in steps."""
    rng = np.random.default_rng(seed)
    parts, segments, at = [np.zeros(800)], [Segment(kind="rest", start_s=0.0, end_s=0.8, stick="left")], 0.8
    for k in range(n_flicks):
        side = 1 if k % 2 == 0 else -1
        out = side * 1900 * np.minimum(np.linspace(0, 1.4, 80) ** 2, 1)
        rest = np.full(700, side * play)
        parts += [out, np.full(300, side * 1900.0), side * 1900 * np.linspace(1, 0, 30) ** 2 + side * play, rest]
        ends = np.cumsum([at, 0.38, 0.03, 0.7])
        kind: Any
        for kind, start, end in zip(("flick", "release", "rest"), ends[:-1], ends[1:], strict=True):
            segments.append(Segment(kind=kind, start_s=start, end_s=end, stick="left", direction_deg=90 - 90 * side))
        at = ends[-1]
    steps = np.concatenate(parts)
    steps = steps + rng.normal(0, noise, steps.size) + drift * np.arange(steps.size) / 1000
    codes = np.round(np.round(steps) * STEP).astype(np.int64)
    t_s = np.arange(codes.size) * 1e-3
    if reports == "on_change":
        rows = np.diff(codes, prepend=codes[0] - 1) != 0
        t_s, codes = t_s[rows], codes[rows]
    stream = Stream(name="x", time=TimeBase.from_instants(t_s), codes=codes, reports=reports)
    clock = ReportClock(
        interval=Estimate.measured("report_interval", 1e-3, u=1e-8, unit="s"),
        jitter=Estimate.not_resolved("host_jitter", unit="s"),
        lost_fraction=Estimate.not_resolved("lost_report_fraction", unit="fraction"),
        report_t_s={},
        trusted=True,
    )
    return view_of([stream], [StickAxes(stick="left", x="x", y="")], segments, clock)


def found(view: Any) -> Any:
    return {f.estimate.quantity: f.estimate for f in METRIC.measure(view).findings}


@pytest.mark.parametrize("reports", ["every", "on_change"])
def test_noise_is_the_rms_of_the_codes(reports: Any) -> None:
    noise = found(flicked(noise=2.0, reports=reports))["rest_noise"]
    expected = STEP * math.sqrt(2.0**2 + 1 / 12)
    assert abs(noise.value - expected) < 4 * noise.u
    assert noise.u < 0.05 * expected


def test_a_spring_that_rings_out_and_a_motion_that_begins_are_no_noise_at_rest() -> None:
    """The first 0.2 s and the last 0.04 s of every rest are disturbed by a hundred steps."""
    view = flicked(noise=2.0)
    stream = view.recording.streams[0]
    codes = stream.codes.copy()
    for segment in view.segments:
        if segment.kind == "rest":
            begin, end = round(1000 * segment.start_s), round(1000 * segment.end_s)
            codes[begin : begin + 200 : 7] += int(100 * STEP)
            codes[end - 40 : end : 7] += int(100 * STEP)
    recording = replace(view.recording, streams=(replace(stream, codes=codes),))
    disturbed = found(replace(view, recording=recording))["rest_noise"]
    assert disturbed.value == pytest.approx(found(view)["rest_noise"].value, rel=0.05)


def test_a_still_code_bounds_the_noise_and_says_why() -> None:
    noise = found(flicked(noise=0.0))["rest_noise"]
    assert noise.status is Status.AT_MOST
    assert noise.bound == pytest.approx(1.2 * STEP / math.sqrt(12), rel=1e-3)
    assert noise.caveats[0].code == "step_limited"


def test_drift_is_told_from_white_noise() -> None:
    assert not found(flicked(noise=2.0))["rest_drift"].caveats
    drifting = found(flicked(noise=0.5, drift=8.0))["rest_drift"]
    assert [caveat.code for caveat in drifting.caveats] == ["drift"]


def test_play_shows_as_return_error_and_hysteresis() -> None:
    result = found(flicked(noise=1.0, play=10.0))
    # Six returns at +10 and six at -10 steps: SD 10 sqrt(12 / 11); full throw is about 1900 steps.
    reach = result["return_hysteresis"].value / 20
    assert result["return_error"].value == pytest.approx(10 * math.sqrt(12 / 11) * reach, rel=0.03)
    assert reach == pytest.approx(1 / 1900, rel=0.02)


def test_a_clean_return_is_bounded_by_the_step() -> None:
    error = found(flicked(noise=1.0))["return_error"]
    assert error.status is Status.AT_MOST
    assert error.bound == pytest.approx(1 / 1900, rel=0.02)


def test_rests_that_are_all_the_same_without_a_step_are_bounded() -> None:
    (estimate,) = _return_error(np.zeros(6), np.array([1.0, -1.0] * 3), 1.0, 0.0)
    assert estimate.status is Status.AT_MOST


def test_few_returns_and_no_rest_say_what_to_record() -> None:
    assert found(flicked(n_flicks=2))["return_error"].caveats[0].code == "too_few_returns"
    view = flicked()
    bare = HandView(recording=view.recording, clock=view.clock, sticks=view.sticks, segments=())
    result = found(bare)
    for quantity in ("rest_noise", "return_error", "dead_zone"):
        assert result[quantity].status is Status.NOT_RESOLVED
        assert result[quantity].caveats[0].code == "no_rest"


def test_codes_that_wander_at_rest_rule_out_a_dead_zone() -> None:
    assert found(flicked(noise=1.0))["dead_zone"].status is Status.NOT_PRESENT


def test_the_trace_carries_the_longest_rest_and_all_rest_points() -> None:
    trace = METRIC.measure(flicked()).traces[0]
    assert trace.kind == "rest"
    assert trace.arrays["rest_point"].size == 13
    assert trace.arrays["averaging_s"].size == trace.arrays["allan_deviation"].size
    assert trace.arrays["averaging_s"][0] == pytest.approx(1e-3)


def swung(zone: Any, kind: Any, *, turns: int = 6, reach: float = 1900.0) -> Any:
    """Return a stick swung slowly from side to side through a dead zone, and left at rest, in steps."""
    x = np.concatenate((np.zeros(300), np.sin(2 * np.pi * np.arange(turns * 4000) / 4000), np.zeros(300)))
    inside = np.abs(x) < zone
    if kind == "cut":
        x = np.where(inside, 0.0, x)
    elif kind == "stretched":
        x = np.sign(x) * np.maximum(np.abs(x) - zone, 0) / (1 - zone)
    codes = np.round(reach * x)
    return Motion(codes=codes, seen=np.ones(codes.size, dtype=bool), interval_s=1e-3)


@pytest.mark.parametrize("kind", ["cut", "stretched"])
@pytest.mark.parametrize("zone", [0.03, 0.08, 0.16])
def test_a_dead_zone_is_sized_whichever_way_it_is_made(kind: Any, zone: Any) -> None:
    size = dead_zone([swung(zone, kind)], 0.0, 0.0, 1900.0)
    assert size.value == pytest.approx(zone, rel=0.06)
    assert abs(size.value - zone) < 2 * (size.u or 0.0)


def test_no_dead_zone_is_claimed_where_slow_passages_show_none() -> None:
    assert dead_zone([swung(0.0, "cut")], 0.0, 0.0, 1900.0).status is Status.NOT_PRESENT


def test_a_frozen_rest_without_slow_passages_cannot_tell() -> None:
    still = Motion(codes=np.zeros(500), seen=np.ones(500, dtype=bool), interval_s=1e-3)
    unknown = dead_zone([still], 0.0, 0.0, 1900.0)
    assert (unknown.status, unknown.caveats[0].code) == (Status.NOT_RESOLVED, "rest_code_frozen")


def test_short_records_have_no_events() -> None:
    assert leaving_jumps(np.zeros(3)).size == 0
    assert crossing_widths(np.zeros(5)).size == 0
