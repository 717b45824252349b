from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.hand.axes import merged_reports, pair_sticks, rest_level, stick_reports, varying_streams
from feelcheck.hand.clock import recover_clock
from feelcheck.model import AxisScale, HandView, Provenance, Recording, StickAxes, Stream, TimeBase


def recording_of(columns: dict[str, NDArray[Any]], t_s: NDArray[Any], **more: Any) -> Recording:
    time = TimeBase.from_instants(t_s)
    streams = tuple(Stream(name=name, time=time, codes=codes) for name, codes in columns.items())
    return Recording(streams=streams, provenance=Provenance(), **more)


def wiggle(k: int, n: int = 200) -> NDArray[Any]:
    return np.asarray(np.round(9000 * np.sin(np.arange(n) / (3.0 + k))))


T = 0.004 * np.arange(200)


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (("left_x", "left_y"), [("left", "left_x", "left_y")]),
        (("LX", "LY", "RX", "RY"), [("left", "LX", "LY"), ("right", "RX", "RY")]),
        (("x", "y"), [("stick", "x", "y")]),
        (("y", "x"), [("stick", "x", "y")]),
        (("x", "y", "rx", "ry"), [("left", "x", "y"), ("right", "rx", "ry")]),
        (("ABS_X", "ABS_Y"), [("stick", "ABS_X", "ABS_Y")]),
        (("X [counts]", "Y [counts]"), [("stick", "X [counts]", "Y [counts]")]),
        (("stick x (raw)", "stick y (raw)"), [("stick", "stick x (raw)", "stick y (raw)")]),
        (("leftStickX", "leftStickY"), [("left", "leftStickX", "leftStickY")]),
        (("axis_0", "axis_1"), [("stick", "axis_0", "axis_1")]),
        (("axis_0", "axis_1", "axis_2", "axis_3"), [("left", "axis_0", "axis_1"), ("right", "axis_2", "axis_3")]),
        (("horizontal", "vertical"), [("stick", "horizontal", "vertical")]),
        (("alpha", "beta"), [("stick", "alpha", "beta")]),
        (("left_x",), [("left", "left_x", "")]),
        (("y",), [("stick", "", "y")]),
        (("lx", "ly", "left_trigger", "rt"), [("left", "lx", "ly")]),
        (("x1", "y1", "x2", "y2"), [("1", "x1", "y1"), ("2", "x2", "y2")]),
    ],
)
def test_names_tell_the_sticks(names: tuple[str, ...], expected: list[tuple[str, str, str]]) -> None:
    columns = {name: wiggle(k) for k, name in enumerate(names)}
    found = [(s.stick, s.x, s.y) for s in pair_sticks(recording_of(columns, T))]
    assert found == expected


def test_constant_axes_and_unnamed_triggers_are_left_out() -> None:
    trigger = np.full(200, -32768.0)
    trigger[100:110] = 0.0
    columns = {"axis_0": wiggle(0), "axis_1": wiggle(1), "axis_2": trigger, "axis_3": np.zeros(200)}
    recording = recording_of(columns, T)
    assert pair_sticks(recording) == (StickAxes(stick="stick", x="axis_0", y="axis_1"),)
    assert len(varying_streams(recording)) == 3


def test_axes_that_move_together_are_paired_before_neighbours() -> None:
    early, late = wiggle(0, 800), wiggle(1, 800)
    early[400:], late[:400] = 0, 0
    columns = {"a": early, "b": late, "c": early[::1] + wiggle(2, 800) * (early != 0), "d": late * 0.5}
    pairs = [(s.x, s.y) for s in pair_sticks(recording_of(columns, 0.004 * np.arange(800)))]
    assert pairs == [("a", "c"), ("b", "d")]


def test_the_recordings_own_sticks_count_without_their_dead_axes() -> None:
    columns = {"p": wiggle(0), "q": np.zeros(200), "r": wiggle(1)}
    sticks = (StickAxes(stick="left", x="p", y="q"), StickAxes(stick="gone", x="q", y=""))
    assert pair_sticks(recording_of(columns, T, sticks=sticks)) == (StickAxes(stick="left", x="p", y=""),)


def flicked(centre: float, throw: float) -> tuple[NDArray[Any], NDArray[Any]]:
    """Rest, right, rest, up, rest, left, rest, down, rest: 0.25 s each at 250 Hz."""
    x, y = np.zeros(63 * 9), np.zeros(63 * 9)
    for k, (to_x, to_y) in enumerate([(1, 0), (0, 1), (-1, 0), (0, -1)]):
        x[63 * (2 * k + 1) : 63 * (2 * k + 2)] = to_x
        y[63 * (2 * k + 1) : 63 * (2 * k + 2)] = to_y
    return centre + throw * x, centre + throw * y


@pytest.mark.parametrize(
    ("centre", "throw", "scale"),
    [
        (128, 127, AxisScale(centre=127.5, reach=127.5)),
        (131, 120, AxisScale(centre=127.5, reach=127.5)),
        (32768, 32767, AxisScale(centre=32767.5, reach=32767.5)),
        (0, 32767, AxisScale()),
        (512, 400, AxisScale()),
        (0.5, 0.5, AxisScale(centre=0.0, reach=1.0, unit="fraction")),
        (0.03, 0.9, AxisScale(centre=0.0, reach=1.0, unit="fraction")),
        (2010, 1700, AxisScale(centre=2048, reach=2048)),
    ],
)
def test_centre_and_reach_are_those_seen(centre: float, throw: float, scale: AxisScale) -> None:
    x, y = flicked(centre, throw)
    time = TimeBase.from_instants(0.004 * np.arange(x.size))
    streams = tuple(Stream(name=n, time=time, codes=c, scale=scale) for n, c in (("x", x), ("y", y)))
    recording = Recording(streams=streams, provenance=Provenance())
    reports = merged_reports(recording, recover_clock(recording), StickAxes(stick="s", x="x", y="y"))
    assert reports.centre == pytest.approx((centre, centre), abs=1e-9 + 0.01 * throw)
    assert reports.reach == pytest.approx((throw, throw), rel=0.02)
    assert float(reports.x_fs.max()) == pytest.approx(1.0, abs=0.02)
    assert float(reports.y_fs.min()) == pytest.approx(-1.0, abs=0.02)


@pytest.mark.parametrize(("reach", "throw"), [(500.0, 500.0), (520.0, 500.0), (1000.0, 20.0)])
def test_an_axis_that_hardly_went_has_the_others_throw_where_both_have_one_scale(reach: float, throw: float) -> None:
    x, _ = flicked(0.0, 500.0)
    _, y = flicked(0.0, 20.0)
    time = TimeBase.from_instants(0.004 * np.arange(x.size))
    scales = {"x": AxisScale(centre=0.0, reach=500.0), "y": AxisScale(centre=0.0, reach=reach)}
    streams = tuple(Stream(name=n, time=time, codes=c, scale=scales[n]) for n, c in (("x", x), ("y", y)))
    recording = Recording(streams=streams, provenance=Provenance())
    reports = merged_reports(recording, recover_clock(recording), StickAxes(stick="s", x="x", y="y"))
    assert reports.reach == pytest.approx((500.0, throw), rel=0.05)


def test_diagonals_alone_still_give_full_throw() -> None:
    x, _ = flicked(0, 1000)
    recording = recording_of({"x": np.round(x * 20), "y": np.round(x * 20)}, 0.004 * np.arange(x.size))
    reports = merged_reports(recording, recover_clock(recording), StickAxes(stick="s", x="x", y="y"))
    assert float(np.hypot(reports.x_fs, reports.y_fs).max()) == pytest.approx(1.0, abs=0.01)


def test_axes_with_time_bases_of_their_own_are_merged_and_held() -> None:
    x = Stream(
        name="x", time=TimeBase.from_instants([0.0, 0.010, 0.030]), codes=np.array([0, 5, 9]), reports="on_change"
    )
    y = Stream(
        name="y", time=TimeBase.from_instants([0.005, 0.030, 0.040]), codes=np.array([1, 2, 7]), reports="on_change"
    )
    recording = Recording(streams=(x, y), provenance=Provenance())
    view = HandView(recording=recording, clock=recover_clock(recording), sticks=(), segments=())
    reports = stick_reports(view, StickAxes(stick="s", x="x", y="y"))
    assert reports.t_s.tolist() == [0.0, 0.005, 0.010, 0.030, 0.040]
    assert reports.x_codes.tolist() == [0, 0, 5, 9, 9]
    assert reports.y_codes.tolist() == [1, 1, 1, 2, 7]
    assert np.array_equal(reports.fractions("y"), reports.y_fs)
    t_s, _, held = reports.between(0.0, 0.045, 0.005)
    assert np.allclose(t_s, 0.005 * np.arange(9))
    assert np.count_nonzero(held == held[0]) == 6


def test_a_missing_axis_is_zero_and_moving_follows_the_stick() -> None:
    x, _ = flicked(0, 1000)
    recording = recording_of({"x": x}, 0.004 * np.arange(x.size))
    reports = merged_reports(recording, recover_clock(recording), StickAxes(stick="s", x="x", y=""))
    assert not reports.y_fs.any()
    assert reports.moving[62:64].all()
    assert not reports.moving[20:50].any()


def test_a_long_hold_is_not_taken_for_the_rest() -> None:
    codes = np.concatenate([np.zeros(200), np.full(900, 20000.0), np.zeros(200), np.full(100, -20000.0)])
    time = TimeBase.from_instants(0.002 * np.arange(codes.size))
    assert rest_level(Stream(name="x", time=time, codes=codes), time.t_hi_s) == 0.0
