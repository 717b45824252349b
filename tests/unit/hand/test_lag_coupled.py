"""Tied sticks: one grid, strokes, the relative response, and what is said about it."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType, SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import signal

from feelcheck.comparison.ports import swapped_average
from feelcheck.hand.lag import coupled, relative_response
from feelcheck.hand.lag.coupled import coupled_lag, noise_variance
from feelcheck.hand.lag.numbers import LARGEST_TAU_S
from feelcheck.hand.lag.pair import AxisPair, axis_pair
from feelcheck.hand.lag.relative_response import FIXED_COLUMNS, _Problem, fit_relative, longest_pole_s, shifted
from feelcheck.hand.lag.slack import play_offsets
from feelcheck.hand.lag.strokes import Stroke, find_strokes, turning_points
from feelcheck.hand.view import prepare
from feelcheck.model import CoupledLag, Estimate, Provenance, Recording, Status, Stream, TimeBase
from feelcheck.numerics.one_pole import pole_of_samples
from feelcheck.pipeline._hand import swapped_lag
from feelcheck.sources.synthetic import AxisParts, quick_script, simulate_recording, world_with

T_S = 0.001


def strokes_of(
    *, poles_s: tuple[float, float] = (0.0, 0.0), gain: float = 1.0, n: int = 10, play: float = 0.0
) -> AxisPair:
    """Return minimum-jerk strokes from the centre outward, a hold, a way back; each stick behind its pole."""
    t_s = (np.arange(n * 700) * T_S).astype(np.float64)

    def where(at_s: np.ndarray) -> np.ndarray:
        total = np.zeros_like(at_s)
        for k in range(n):
            out, back = (
                (at_s - 0.7 * k - start) / length
                for start, length in ((0.1, 0.05 + 0.01 * k if k < n - 2 else 0.28), (0.4, 0.25))
            )
            shape = [
                np.clip(u, 0, 1) ** 3 * (10 - 15 * np.clip(u, 0, 1) + 6 * np.clip(u, 0, 1) ** 2) for u in (out, back)
            ]
            total += (-1.0) ** k * 0.7 * (shape[0] - shape[1])
        return total

    motion = where(t_s)
    followed = motion - np.sign(motion) * 0.5 * play * (np.abs(motion) > 0.5 * play)
    first, second = pole_of_samples(motion, poles_s[0], T_S), pole_of_samples(followed, poles_s[1], T_S)
    rng = np.random.default_rng(1)
    noise = rng.normal(0.0, 3e-4, (2, t_s.size))
    return AxisPair(
        start_s=0.0,
        interval_s=T_S,
        a=first + noise[0],
        b=gain * second + noise[1],
        across=np.zeros(t_s.size),
        real=np.ones(t_s.size, dtype=bool),
    )


def test_a_cubic_is_shifted_exactly() -> None:
    values = np.arange(12.0) ** 3
    assert shifted(values, np.array([5, 6]), 1.25).tolist() == pytest.approx([3.75**3, 4.75**3])
    assert shifted(values, np.array([5]), -0.5).tolist() == pytest.approx([5.5**3])


def test_a_pole_trails_a_ramp_by_its_time_constant() -> None:
    ramp = np.arange(400) * 0.5
    assert pole_of_samples(ramp.astype(np.float64), 0.004, T_S)[-1] == pytest.approx(ramp[-1] - 0.5 * 4.0, abs=1e-9)


@pytest.mark.reference
def test_a_pole_agrees_with_a_general_simulation_of_linear_systems() -> None:
    # scipy.signal.lsim joins samples by straight lines too
    values = np.random.default_rng(2).normal(size=200)
    values[0] = 0.0
    _, expected, _ = signal.lsim(([1.0], [0.003, 1.0]), values, np.arange(200) * T_S)
    assert pole_of_samples(values, 0.003, T_S) == pytest.approx(expected, abs=1e-9)


def test_turning_points_are_extremes_that_far_apart() -> None:
    assert turning_points(np.array([0.0, 0.5, 1.0, 0.98, 1.0, 0.2, 0.0, 0.6]), 0.1) == [0, 2, 6, 7]


def test_strokes_begin_after_the_play_and_leave_the_way_back_out() -> None:
    pair = strokes_of(n=6)
    found = find_strokes(pair, 0.1)
    assert len(found) == 6
    assert [stroke.sign for stroke in found] == [1, -1, 1, -1, 1, -1]
    assert all(abs(pair.a[stroke.first]) >= 0.1 for stroke in found)
    # 0.35 throws of the middle half in the middle 26 % of 50 ms or so
    assert found[0].speed_fs_per_s == pytest.approx(0.35 / (0.26 * 0.05), rel=0.15)


def test_the_sharpest_stop_bounds_the_pole() -> None:
    t_s = np.arange(200) * T_S
    values = 1.0 - np.exp(-t_s / 0.010)
    stroke = Stroke(first=0, last=200, sign=1, speed_fs_per_s=10.0)
    assert longest_pole_s(values, [stroke] * 4, T_S) == pytest.approx(1.25 * 0.010 + 2 * T_S, rel=0.12)


def test_strokes_that_turn_back_bound_no_pole() -> None:
    """Behind a pole of 10 ms a swing that turns comes near its end within 3 ms: not a stop."""
    t_s = np.arange(200) * T_S
    swing = np.cos(2 * np.pi * 20.0 * t_s)
    half = [Stroke(first=25 * k, last=25 * k + 25, sign=1, speed_fs_per_s=10.0) for k in range(8)]
    assert longest_pole_s(swing, half, T_S) == LARGEST_TAU_S


@pytest.mark.parametrize(
    ("poles_s", "gain", "play"),
    [((0.0, 0.0), 1.0, 0.0), ((0.001, 0.004), 0.9, 0.0), ((0.006, 0.002), -1.1, 0.01)],
)
def test_delay_gain_and_play_of_drawn_strokes(poles_s: tuple[float, float], gain: float, play: float) -> None:
    pair = strokes_of(poles_s=poles_s, gain=gain, play=play)
    fit = fit_relative(pair, find_strokes(pair, 0.1), (9e-8, 9e-8), play_offsets(pair.a, pair.across))
    delay_s = poles_s[1] - poles_s[0]
    assert fit.delay_s == pytest.approx(delay_s, abs=0.00005)
    assert fit.gain == pytest.approx(gain, abs=0.003)
    assert fit.play_fs == pytest.approx(gain * play, abs=0.002)
    assert np.median(fit.stroke_lag_s) == pytest.approx(delay_s, abs=0.0001)


def test_noise_is_at_least_that_of_rounding() -> None:
    rounded = np.round(np.linspace(0.0, 1.0, 5000) / 0.01) * 0.01
    assert noise_variance(rounded) == pytest.approx(0.01**2 / 12)
    white = np.random.default_rng(3).normal(0.0, 0.02, 20000)
    assert noise_variance(white) == pytest.approx(0.0004, rel=0.05)


def test_a_lost_report_is_bridged_and_marked_and_a_silent_one_holds() -> None:
    t_s = np.arange(400) * T_S
    codes = np.where(np.arange(400) < 200, np.arange(400) * 100, 20000)
    codes[300:] = 20001
    kept = np.ones(400, dtype=bool)
    kept[99:102] = False
    kept[201:300] = False
    time = TimeBase.from_instants(t_s[kept])
    streams = tuple(
        Stream(name=name, time=time, codes=codes[kept], reports="on_change") for name in ("lx", "ly", "rx", "ry")
    )
    view = prepare(Recording(streams=streams, provenance=Provenance()))
    assert axis_pair(view, "lx", "rx") is None
    known = replace(view.clock, interval=Estimate.measured("report_interval", T_S, u=1e-9, unit="s"))
    pair = axis_pair(replace(view, clock=known), "lx", "rx")
    assert pair is not None
    assert not pair.real[100]
    assert pair.a[100] == pytest.approx(10000 / 32767, abs=1e-4)
    assert pair.real[250]
    assert pair.a[250] == pytest.approx(20000 / 32767)


def tied_log(*, tied: bool, poles_s: tuple[float, float] = (0.008, 0.008)) -> Recording:
    rng = np.random.default_rng(21)
    world = world_with("plain", rng, tau_s=0.003)
    second = AxisParts(network=replace(world.network, poles_s=(poles_s,)))
    world = replace(
        world,
        sticks=("left", "right"),
        axes=MappingProxyType({"right_x": second, "right_y": second}),
        gimbal=replace(world.gimbal, tied=tied, play_fs=0.004),
    )
    script = quick_script(12, rng)
    steps = script.steps if tied else tuple(replace(step, stick="both") for step in script.steps)
    return simulate_recording(world, replace(script, steps=steps), rng)


def test_the_second_stick_trails_by_the_difference_of_the_poles() -> None:
    lag, traces = coupled_lag(prepare(tied_log(tied=True)))
    assert (lag.first, lag.second, set(lag.axes)) == ("left", "right", {"x", "y"})
    for axis in lag.axes.values():
        # less 20 us: the right stick is read later; the goal is 0.2 ms
        assert axis.delay.value == pytest.approx(0.00498, abs=0.0002)
        assert axis.gain.value == pytest.approx(1.0, abs=0.01)
        assert {caveat.code for caveat in axis.delay.caveats} == {"scan_order_included"}
    assert {trace.axis for trace in traces} == {"right_x", "right_y"}


def test_directions_that_differ_are_told_with_the_one_value() -> None:
    lag, _ = coupled_lag(prepare(tied_log(tied=True, poles_s=(0.006, 0.012))))
    for axis in lag.axes.values():
        assert axis.rising.value == pytest.approx(0.003, abs=0.0004)
        assert axis.falling.value == pytest.approx(0.009, abs=0.0004)
        assert "directions_differ" in {caveat.code for caveat in axis.delay.caveats}


def test_two_thumbs_at_once_are_not_a_tie() -> None:
    lag, traces = coupled_lag(prepare(tied_log(tied=False)))
    assert lag.delay.status in (Status.NOT_PRESENT, Status.NOT_RESOLVED)
    assert not lag.axes
    assert traces == ()


def test_one_stick_alone_has_nothing_to_be_timed_against() -> None:
    rng = np.random.default_rng(4)
    recording = simulate_recording(world_with("plain", rng), quick_script(4, rng), rng)
    lag, _ = coupled_lag(prepare(recording))
    assert lag.delay.status is Status.NOT_PRESENT
    assert "--script coupled" in lag.delay.caveats[0].advice


def of(value: float) -> CoupledLag:
    return CoupledLag(delay=Estimate.measured("delay", value, u=0.0001, unit="s", n=10, dof=8.0))


def recorded_as(state: str, value: float) -> Any:
    recording = SimpleNamespace(provenance=Provenance(state=state))
    return SimpleNamespace(recording=recording, lag=SimpleNamespace(coupled=of(value)))


@pytest.mark.parametrize("first", [0, 1])
def test_the_recording_with_swapped_ports_is_known_by_its_state(first: int) -> None:
    pair = [recorded_as("as_found", 0.0052), recorded_as("ports_swapped", -0.0048)]
    parted = swapped_lag([pair[first], pair[1 - first]])
    assert parted is not None
    assert [estimate.value for estimate in parted] == pytest.approx([0.005, 0.0002])
    assert swapped_lag([pair[first]]) is None
    assert swapped_lag([*pair, recorded_as("ports_swapped", 0.0)]) is None


def test_swapped_ports_part_sensors_from_scan_order() -> None:
    found = swapped_average(of(0.0052), of(-0.0048))
    assert found is not None
    sensors, ports = found
    assert sensors.value == pytest.approx(0.005)
    assert ports.value == pytest.approx(0.0002)
    assert sensors.u == pytest.approx(0.0001 / np.sqrt(2))
    nothing = CoupledLag(delay=Estimate.not_present("delay", unit="s"))
    assert swapped_average(of(0.001), nothing) is None


def rounded(step: float = 0.0084, **drawn: Any) -> AxisPair:
    pair = strokes_of(**drawn)
    return replace(pair, a=step * np.rint(pair.a / step), b=step * np.rint(pair.b / step))


def test_a_code_that_stands_still_at_its_extreme_ends_no_stroke_early() -> None:
    fine, coarse = (find_strokes(pair, 0.1) for pair in (strokes_of(), rounded()))
    assert len(coarse) == len(fine)
    tails_s = [T_S * (stroke.last - stroke.first) for stroke in coarse]
    assert min(tails_s) > 0.08


def test_columns_of_play_do_not_fit_rounding(monkeypatch: pytest.MonkeyPatch) -> None:
    pair = rounded(poles_s=(0.002, 0.004))
    problem = _Problem(pair, find_strokes(pair, 0.1), (6e-6, 6e-6), play_offsets(pair.a, pair.across))
    at = np.array([0.0, 0.002, 0.004])
    held = np.abs(problem.look(at).linear[FIXED_COLUMNS:]).max()
    monkeypatch.setattr(relative_response, "PLAY_SD", 1e9)
    free = np.abs(problem.look(at).linear[FIXED_COLUMNS:]).max()
    assert held < 2.0 < free


AT = np.array([0.0, 0.002, 0.004])


def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fit ends where the truth is, without a search."""
    monkeypatch.setattr(relative_response, "_descend", lambda problem, *_: (AT, problem.look(AT)))
    monkeypatch.setattr(relative_response, "_settle", lambda problem, *_: (AT, problem.look(AT)))


def test_a_stroke_that_is_later_than_the_others_is_told_as_later(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second stick's last three of six strokes come 2 ms late."""
    at_once(monkeypatch)
    pair = strokes_of(poles_s=(0.002, 0.004), n=6)
    half = pair.b.size // 2
    pair = replace(pair, b=np.concatenate([pair.b[:half], np.roll(pair.b, 2)[half:]]))
    fit = fit_relative(pair, find_strokes(pair, 0.1), (1e-7, 1e-7), play_offsets(pair.a, pair.across))
    early, late = fit.stroke_lag_s[:3], fit.stroke_lag_s[3:]
    assert early.mean() == pytest.approx(0.002, abs=0.0003)
    assert late.mean() - early.mean() == pytest.approx(0.002, abs=0.0005)


def test_what_is_left_of_the_motion_before_a_stroke_is_taken_out_of_it() -> None:
    pair = strokes_of(n=6)
    problem = _Problem(pair, find_strokes(pair, 0.1), (1e-7, 1e-7), play_offsets(pair.a, pair.across))
    problem.limit([0.01, 0.02])
    for rows, basis in zip(problem.rows, problem.memories, strict=True):
        left = np.exp(-(rows - rows[0]) * T_S / 0.02)
        assert np.abs(left - basis @ (basis.T @ left)).max() < 1e-9


def fitted(**more: Any) -> Any:
    known = {"gain": 1.0, "play_fs": 0.0, "covariance": np.zeros((5, 5)), "stroke_fit": np.full(8, 0.999),
             "stroke_lag_s": np.full(8, 0.002)}  # fmt: skip
    return SimpleNamespace(**{**known, **more})


@pytest.mark.parametrize(("play", "value", "bound"), [(0.01, 0.01, None), (0.003, None, 0.0076), (-0.01, None, 0.0046)])
def test_play_is_told_from_two_standard_uncertainties_on(play: float, value: Any, bound: Any) -> None:
    u = np.diag([0.0, 0.0, 0.0, 0.0, 0.002**2])
    found = coupled._play(fitted(play_fs=play, covariance=u), 8)
    assert (found.value, found.bound) == (value, None if bound is None else pytest.approx(bound))


@pytest.mark.parametrize(("apart_s", "clear"), [(5e-4, False), (6e-4, True), (-6e-4, True)])
def test_directions_differ_beyond_four_standard_uncertainties_of_both(apart_s: float, clear: bool) -> None:
    rising, falling = (Estimate.measured("delay", v, u=1e-4, unit="s") for v in (2e-3, 2e-3 + apart_s))
    assert coupled._apart(rising, falling) == clear


@pytest.mark.parametrize(("slope", "scatter_s", "goes"), [(3e-3, 2e-5, True), (3e-3, 1e-3, False), (2e-4, 1e-7, False)])
def test_a_lag_goes_with_speed_where_that_is_clear_and_large_enough(slope: float, scatter_s: float, goes: bool) -> None:
    """Strokes of 2 to 8 throws a second: what a give of so much over speed adds, and scatter."""
    speeds = np.linspace(2.0, 8.0, 8)
    lags = 0.002 + slope / speeds + scatter_s * np.array([1, -1, 1, -1, -1, 1, -1, 1])
    strokes: Any = [SimpleNamespace(speed_fs_per_s=speed) for speed in speeds]
    assert coupled._goes_with_speed(fitted(stroke_lag_s=lags), strokes) == goes


@pytest.mark.parametrize(
    ("share", "spread_s", "tied"), [(0.999, 1e-4, True), (0.95, 1e-4, False), (0.999, 5e-3, False)]
)
def test_sticks_are_tied_where_one_motion_explains_both_and_strokes_agree(
    share: float, spread_s: float, tied: bool
) -> None:
    fit = fitted(stroke_fit=np.full(8, share), stroke_lag_s=0.002 + spread_s * np.array([1.0, -1.0] * 4))
    assert coupled._tied(fit) == tied
