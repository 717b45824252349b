"""What must not change when a log is shifted in time, scaled, offset, or turned round."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from feelcheck.hand.axes import merged_reports, pair_sticks
from feelcheck.hand.clock import recover_clock
from feelcheck.hand.segmentation import find_segments
from feelcheck.model import AxisScale, Provenance, Recording, Segment, Stream, TimeBase
from feelcheck.numerics.report_grid import fit_grid


def flick_log(
    *, shift_s: float = 0.0, gain: float = 1.0, offset: float = 0.0, turn: tuple[int, int] = (1, 1), slow: float = 1.0
) -> Recording:
    rng = np.random.default_rng(12)
    t_s = np.arange(2500) * 0.004
    xy = np.zeros((2, t_s.size))
    for k, angle in enumerate(np.radians([45, 225, 120, 310, 20])):
        since = t_s - 1.0 - 1.7 * k
        out = np.minimum(1.2 * np.clip(since / 0.09, 0, 1) ** 2, 1.0) * (since < 0.7)
        back = np.where(since >= 0.7, np.exp(-np.maximum(since - 0.7, 0) / 0.008), 0.0)
        xy += np.outer([np.cos(angle), np.sin(angle)], out + back)
    late = rng.exponential(2e-5, t_s.size)
    stamps = np.maximum.accumulate(slow * (t_s + late)) + shift_s
    scale = AxisScale(centre=offset, reach=gain)
    streams = tuple(
        Stream(name=n, time=TimeBase.from_instants(stamps), codes=np.round(w * v, 4) * gain + offset, scale=scale)
        for n, v, w in zip("xy", xy, turn, strict=True)
    )
    shared = tuple(Stream(name=s.name, time=streams[0].time, codes=s.codes, scale=s.scale) for s in streams)
    return Recording(streams=shared, provenance=Provenance())


def segments(recording: Recording) -> tuple[Segment, ...]:
    clock = recover_clock(recording)
    reports = [merged_reports(recording, clock, stick) for stick in pair_sticks(recording)]
    return find_segments(recording, clock, reports)


PLAIN = segments(flick_log())


def same(found: tuple[Segment, ...], shift_s: float = 0.0) -> bool:
    return [s.kind for s in found] == [s.kind for s in PLAIN] and all(
        abs(a.start_s - shift_s - b.start_s) < 0.006 and abs(a.end_s - shift_s - b.end_s) < 0.006
        for a, b in zip(found, PLAIN, strict=True)
    )


@settings(max_examples=15)
@given(shift_s=st.floats(0.0, 5e4))
def test_time_shift_only_shifts(shift_s: float) -> None:
    assert same(segments(flick_log(shift_s=shift_s)), shift_s)


@settings(max_examples=15)
@given(gain=st.floats(0.5, 1e5), offset=st.floats(-3e4, 3e4))
def test_gain_and_offset_change_nothing(gain: float, offset: float) -> None:
    assert same(segments(flick_log(gain=gain, offset=offset)))


@settings(max_examples=8)
@given(turn=st.tuples(st.sampled_from([-1, 1]), st.sampled_from([-1, 1])))
def test_turned_axes_only_turn_the_direction(turn: tuple[int, int]) -> None:
    found = segments(flick_log(turn=turn))
    assert same(found)
    for turned, plain in zip(found, PLAIN, strict=True):
        if turned.direction_deg is None or plain.direction_deg is None:
            continue
        angle = np.radians(plain.direction_deg)
        expected = np.degrees(np.arctan2(turn[1] * np.sin(angle), turn[0] * np.cos(angle)))
        assert abs((turned.direction_deg - expected + 180) % 360 - 180) < 1.0


@settings(max_examples=15)
@given(slow=st.floats(0.5, 4.0))
def test_the_interval_scales_with_time(slow: float) -> None:
    interval = recover_clock(flick_log(slow=slow)).interval.value
    assert interval is not None
    assert abs(interval / (0.004 * slow) - 1) < 1e-4


def _stamps(seed: int) -> NDArray[Any]:
    rng = np.random.default_rng(seed)
    slots = np.flatnonzero(rng.random(3000) < 0.5)
    return np.asarray(np.maximum.accumulate(0.002 * slots + rng.exponential(4e-5, slots.size)))


@settings(max_examples=25)
@given(seed=st.integers(0, 1000))
def test_slot_numbers_never_run_backwards_and_instants_stay_near_the_stamps(seed: int) -> None:
    stamps = _stamps(seed)
    fit = fit_grid(stamps)
    assert fit is not None
    assert np.all(np.diff(fit.index) > 0)
    assert np.all(np.abs(stamps - fit.t_s) < 0.002)


@settings(max_examples=15)
@given(gain=st.floats(0.5, 1e5), offset=st.floats(-3e4, 3e4))
def test_reports_are_never_nan_and_reach_the_rim(gain: float, offset: float) -> None:
    recording = flick_log(gain=gain, offset=offset)
    reports = merged_reports(recording, recover_clock(recording), pair_sticks(recording)[0])
    assert np.all(np.isfinite(reports.x_fs) & np.isfinite(reports.y_fs))
    assert 0.95 < np.hypot(reports.x_fs, reports.y_fs).max() < 1.1
