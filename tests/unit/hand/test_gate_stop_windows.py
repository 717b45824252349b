"""Which flicks can answer, and what a stick's reports become before the fit."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from feelcheck.hand.gate_stop.batches import first_contacts, lay_out, subset, trimmed, weigh
from feelcheck.hand.gate_stop.readings import report_interval_s, stick_readings
from feelcheck.hand.gate_stop.windows import StickReadings, cut_flick, find_limits, flick_windows, noise_variance
from feelcheck.model import (
    AxisScale,
    Estimate,
    HandView,
    Provenance,
    Recording,
    ReportClock,
    StickAxes,
    Stream,
    TimeBase,
)

OPEN = np.array([[-np.inf, np.inf], [-np.inf, np.inf]])


def flick_reports(
    interval_s: float = 1e-3,
    *,
    hold_s: float = 0.4,
    reach: float = 0.7,
    rise_s: float = 0.05,
    back: float = 0.0,
    at_rim_s: float = 0.0,
) -> StickReadings:
    """A straight flick to (reach, -reach), 0.2 s after the start; a part of the way is given back soon."""
    t = np.arange(0.0, 0.2 + rise_s + hold_s, interval_s)
    way = (
        reach
        * np.clip((t - 0.2) / rise_s, 0.0, 1.0)
        * (1.0 - back * np.clip((t - 0.2 - rise_s - at_rim_s) / 0.02, 0.0, 1.0))
    )
    xy = np.stack([way, -way])
    return StickReadings(t_s=t, xy=xy, nominal=xy, interval_s=interval_s)


def test_a_flick_is_turned_outward_and_placed_in_time() -> None:
    window = cut_flick(flick_reports(), 0.2, 0.65, OPEN, None)
    assert window.why_not == ""
    assert window.sign == (1, -1)
    assert window.direction_deg == pytest.approx(315.0, abs=0.1)
    assert window.y[1, -1] == pytest.approx(0.7)
    assert window.onset_s == pytest.approx(0.2015, abs=0.002)
    assert window.late_s == pytest.approx(0.2455, abs=0.002)


@pytest.mark.parametrize(("at_rim_s", "back"), [(0.2, 0.06), (0.1, 0.03)])
def test_a_hold_ends_where_the_thumb_lets_the_stick_sink_back(at_rim_s: float, back: float) -> None:
    window = cut_flick(flick_reports(at_rim_s=at_rim_s, back=back), 0.2, 0.65, OPEN, None)
    assert window.why_not == ""
    assert window.t_s[-1] == pytest.approx(0.25 + at_rim_s, abs=0.01)
    assert window.y[:, -20:] == pytest.approx(0.7, rel=0.006)


@pytest.mark.parametrize("back", [0.012, -0.02])
def test_a_rim_that_gives_ends_no_hold(back: float) -> None:
    window = cut_flick(flick_reports(at_rim_s=0.2, back=back), 0.2, 0.65, OPEN, None)
    assert window.t_s[-1] > 0.64


@pytest.mark.parametrize(
    ("reports", "why"),
    [
        (flick_reports(1 / 60), "too few reports"),
        (flick_reports(hold_s=0.02), "not held"),
        (flick_reports(back=0.06), "it came back"),
        (flick_reports(reach=0.1), "too few reports"),
    ],
)
def test_flicks_that_cannot_answer_say_why(reports: StickReadings, why: str) -> None:
    assert why in cut_flick(reports, 0.2, float(reports.t_s[-1]), OPEN, None).why_not


def test_an_axis_that_hardly_moves_is_left_out_alone() -> None:
    reports = flick_reports()
    reports.xy[1] *= 0.05
    window = cut_flick(reports, 0.2, 0.65, OPEN, None)
    assert window.why_not == ""
    assert window.why_not_axis == ("", "moves too little on this axis")


def test_a_clipped_axis_is_refused_and_both_make_a_refused_flick() -> None:
    limits = OPEN.copy()
    limits[0, 1] = 0.7
    window = cut_flick(flick_reports(), 0.2, 0.65, limits, None)
    assert window.why_not_axis[0] == "clipped before the rim"
    assert window.why_not == ""
    limits[1, 0] = -0.7
    assert cut_flick(flick_reports(), 0.2, 0.65, limits, None).why_not == "clipped before the rim"


def held(radius_noise: float, noise: float, seed: int = 3) -> tuple[StickReadings, list[tuple[float, float]]]:
    """Six holds at different angles."""
    rng = np.random.default_rng(seed)
    angle = np.repeat(np.radians([40.0, 50.0, 130.0, 140.0, 220.0, 310.0]), 100) + noise * rng.normal(size=600)
    radius = 0.99 + radius_noise * rng.normal(size=600)
    xy = np.stack([radius * np.cos(angle), radius * np.sin(angle)])
    t = np.linspace(0.0, 0.599, 600)
    return StickReadings(t_s=t, xy=xy, nominal=xy, interval_s=1e-3), [(0.1 * k, 0.1 * k + 0.099) for k in range(6)]


def test_a_radius_that_stands_stiller_than_the_noise_is_a_clamp() -> None:
    reports, holds = held(radius_noise=1e-6, noise=1e-3)
    assert find_limits(reports, holds, np.full(2, 1e-6))[1] == pytest.approx(0.989, abs=0.002)
    reports, holds = held(radius_noise=1e-3, noise=1e-3)
    assert find_limits(reports, holds, np.full(2, 1e-6))[1] is None


@pytest.mark.parametrize("still", [True, False])
def test_coarse_codes_on_a_diagonal_hold_no_radius_where_they_stand_still(still: bool) -> None:
    """A step of one axis goes with one of the other: the radius hardly moves, whoever holds the stick."""
    step, rng = 0.01, np.random.default_rng(4)
    place = rng.integers(-4, 5, 600) if not still else np.repeat(np.tile(np.arange(-4, 5), 4)[:30], 20)
    quadrant = np.repeat([[1, 1, -1, -1], [1, -1, 1, -1]], 150, axis=1)
    xy = quadrant * (0.5 + step * np.stack([place, -place]))
    reports = StickReadings(t_s=np.arange(600) / 1000.0, xy=xy, nominal=xy, interval_s=1e-3)
    holds = [(0.15 * k, 0.15 * k + 0.149) for k in range(4)]
    radius = find_limits(reports, holds, np.full(2, step**2 / 12))[1]
    assert (radius is None) == still


def driven_to_full_throw(
    tau_s: float, *, aim: float, codes: int = 2047
) -> tuple[StickReadings, list[tuple[float, float]]]:
    """Twenty flicks that a rim at `aim` stops, behind a pole, then held on a circle of full throw, in codes."""
    t = np.arange(0.0, 0.4, 1e-3)
    flicks = []
    for k in range(20):
        angle = np.radians(37.0 + 90.0 * (k % 4) + 1.3 * k)
        way, level = np.minimum(12.0 * np.maximum(t - 0.05 - 8e-5 * k, 0.0), aim), np.zeros(t.size)
        for n in range(1, t.size):
            level[n] = level[n - 1] - np.expm1(-1e-3 / tau_s) * (way[n] - level[n - 1])
        flicks.append(np.minimum(level, 1.0) * np.array([[np.cos(angle)], [np.sin(angle)]]))
    xy = np.round(np.concatenate(flicks, axis=1) * codes) / codes
    reports = StickReadings(t_s=np.arange(xy.shape[1]) / 1000.0, xy=xy, nominal=xy, interval_s=1e-3)
    return reports, [(0.4 * k + 0.05, 0.4 * k + 0.399) for k in range(20)]


@pytest.mark.parametrize("codes", [127, 2047])
def test_a_radius_held_at_full_throw_and_then_rounded_is_a_clamp_and_a_round_rim_there_is_none(codes: int) -> None:
    noise = np.full(2, 1.0 / codes**2 / 12.0)
    reports, spans = driven_to_full_throw(0.006, aim=1.1, codes=codes)
    radius = find_limits(reports, spans, noise)[1]
    assert radius == pytest.approx(1.0, abs=1.0 / codes)
    assert cut_flick(reports, spans[0][0], spans[0][1], OPEN, radius).why_not == "clipped before the rim"
    reports, spans = driven_to_full_throw(0.006, aim=1.0, codes=codes)
    assert find_limits(reports, spans, noise)[1] is None, "the flicks slow down towards it"
    reports, spans = driven_to_full_throw(0.006, aim=0.9, codes=codes)
    assert find_limits(reports, spans, noise)[1] is None, "no full throw"


def test_full_throw_is_a_limit_and_a_far_diagonal_is_not() -> None:
    reports, holds = held(radius_noise=1e-3, noise=1e-3)
    limits, _ = find_limits(reports, holds, np.full(2, 1e-6))
    assert np.all(np.isinf(limits))
    clipped = np.clip(1.4 * reports.xy, -1.0, 1.0)
    limits, _ = find_limits(
        StickReadings(t_s=reports.t_s, xy=clipped, nominal=clipped, interval_s=1e-3), holds, np.full(2, 1e-6)
    )
    assert limits[0].tolist() == [-1.0, 1.0]


def coarse(peak: float, codes: int = 250) -> tuple[StickReadings, list[tuple[float, float]]]:
    """Six flicks along x behind a pole of 9 ms that end at a peak, cut off at 1, in codes without noise."""
    t = np.arange(0.0, 0.3, 1e-3)[None] - 0.05 - np.linspace(0.0, 1e-3, 6, endpoint=False)[:, None]
    x = (np.rint(np.minimum(peak * -np.expm1(-np.maximum(t, 0.0) / 0.009), 1.0) * codes) / codes).ravel()
    xy = np.stack([x, np.zeros(x.size)])
    spans = [(0.3 * k + 0.04, 0.3 * k + 0.299) for k in range(6)]
    return StickReadings(t_s=np.arange(x.size) / 1000.0, xy=xy, nominal=xy, interval_s=1e-3), spans


@pytest.mark.parametrize("codes", [100, 250, 2000])
def test_an_extreme_that_flicks_slow_down_to_is_no_limit_and_one_that_cuts_them_off_is(codes: int) -> None:
    reports, spans = coarse(1.0, codes)
    assert np.isinf(find_limits(reports, spans, np.full(2, 1e-6))[0]).all()
    reports, spans = coarse(1.08, codes)
    assert find_limits(reports, spans, np.full(2, 1e-6))[0][0, 1] == 1.0


def test_a_stick_held_along_an_axis_shows_no_clamped_radius() -> None:
    reports, spans = coarse(0.9)
    xy = np.stack([reports.xy[0], 0.01 * np.random.default_rng(1).normal(size=reports.t_s.size)])
    assert find_limits(replace(reports, xy=xy, nominal=xy), spans, np.full(2, 1e-4))[1] is None


def test_noise_is_read_from_holds_but_never_below_the_step() -> None:
    rng = np.random.default_rng(1)
    t = np.linspace(0.0, 3.999, 4000)
    xy = np.stack([1e-3 * rng.normal(size=t.size), np.where(t < 2.0, 0.0, 0.01)])
    reports = StickReadings(t_s=t, xy=xy, nominal=xy, interval_s=1e-3)
    variance = noise_variance(reports, [(0.0, 4.0)])
    # 4000 samples: relative sampling error of a variance from second differences about 4 %
    assert variance[0] == pytest.approx(1e-6, rel=0.15)
    assert variance[1] >= 0.01**2 / 12


def test_holds_that_stand_still_take_the_step_from_the_motion_between_them() -> None:
    t = np.linspace(0.0, 1.999, 2000)
    moved = np.round(40 * np.clip((t - 0.9) / 0.2, 0.0, 1.0)) * 0.01
    reports = StickReadings(t_s=t, xy=np.stack([moved, moved]), nominal=np.stack([moved, moved]), interval_s=1e-3)
    # a uniform error over one step of 0.01
    assert noise_variance(reports, [(0.0, 0.5), (1.5, 2.0)]) == pytest.approx(np.full(2, 0.01**2 / 12))


def test_an_average_over_coarse_codes_is_as_uncertain_as_the_codes() -> None:
    levels = np.repeat(np.arange(12), 200) * 0.01
    averaged = np.convolve(levels, np.ones(4) / 4, mode="valid")
    t = np.linspace(0.0, 1e-3 * (averaged.size - 1), averaged.size)
    xy = np.stack([averaged, averaged])
    holds = [(0.2 * k + 0.01, 0.2 * k + 0.25) for k in range(11)]
    variance = noise_variance(StickReadings(t_s=t, xy=xy, nominal=xy, interval_s=1e-3), holds)
    # the averaged value moves by quarters of a code
    assert variance == pytest.approx(np.full(2, 0.01**2 / 12))


def test_few_places_on_coarse_codes_are_no_clamp() -> None:
    angle = np.repeat(np.radians([40.0, 50.0, 40.0, 50.0, 40.0, 50.0]), 100)
    xy = np.round(np.stack([0.93 * np.cos(angle), 0.93 * np.sin(angle)]) / 0.008) * 0.008
    t = np.linspace(0.0, 0.599, 600)
    reports = StickReadings(t_s=t, xy=xy, nominal=xy, interval_s=1e-3)
    assert find_limits(reports, [(0.1 * k, 0.1 * k + 0.099) for k in range(6)], np.full(2, 0.008**2 / 12))[1] is None


def view_of(t_s: np.ndarray, x: np.ndarray, *, reports: str = "every", interval_s: float | None = 1e-3) -> HandView:
    stream = Stream(
        name="x",
        time=TimeBase.from_instants(t_s),
        codes=x,
        scale=AxisScale(reach=100.0),
        reports="on_change" if reports == "on_change" else "every",
    )
    unknown = Estimate.not_resolved("interval", unit="s")
    interval = unknown if interval_s is None else Estimate.measured("interval", interval_s, u=0.0, unit="s")
    clock = ReportClock(
        interval=interval,
        jitter=unknown,
        lost_fraction=unknown,
        report_t_s=MappingProxyType({"x": stream.time.t_s}),
        trusted=True,
    )
    recording = Recording(streams=(stream,), provenance=Provenance(), sticks=(StickAxes(stick="left", x="x", y=""),))
    return HandView(recording=recording, clock=clock, sticks=recording.sticks, segments=())


def test_silent_reports_are_put_back_where_nothing_can_have_been_lost() -> None:
    codes = np.array([0, 1, 2, 3, 60, 61], dtype=np.int64)
    t = np.array([0, 1, 2, 10, 11, 20]) * 1e-3
    view = view_of(t, codes, reports="on_change")
    readings = stick_readings(view, view.sticks[0])
    np.testing.assert_allclose(readings.t_s, np.arange(21) * 1e-3, atol=1e-12)
    assert np.all(np.isnan(readings.xy[1]))
    np.testing.assert_allclose(readings.nominal[0, [2, 5, 9, 10, 19]], [0.02, 0.02, 0.02, 0.03, 0.60])


def test_a_gap_before_a_leap_stays_a_gap() -> None:
    codes = np.array([0, 1, 2, 50, 51, 52], dtype=np.int64)
    view = view_of(np.array([0, 1, 2, 8, 9, 10]) * 1e-3, codes, reports="on_change")
    assert stick_readings(view, view.sticks[0]).t_s.size == 6


def test_doubled_reports_count_once() -> None:
    view = view_of(np.array([0, 1, 1.0001, 2, 3]) * 1e-3, np.array([0, 1, 1, 2, 3], dtype=np.int64))
    assert stick_readings(view, view.sticks[0]).t_s.size == 4


def test_an_unknown_rate_is_taken_from_close_reports() -> None:
    t = np.concatenate([np.arange(50) * 4e-3, 5.0 + np.arange(50) * 4e-3])
    view = view_of(t, np.arange(100, dtype=np.int64), interval_s=None)
    assert report_interval_s(view, t) == pytest.approx(4e-3)


def laid_out(n: int = 3):  # type: ignore[no-untyped-def]
    window = cut_flick(flick_reports(), 0.2, 0.65, OPEN, None)
    return lay_out([window] * n, np.full(2, 1e-6), 1e-3)


def test_flicks_are_laid_out_two_rows_each_from_their_late_instant() -> None:
    batch, onset = laid_out()
    assert batch.y.shape[0] == 6
    assert batch.group.tolist() == [0, 3] * 3
    assert batch.angle_rad == pytest.approx(np.full(3, np.pi / 4), abs=1e-3)
    assert np.all(onset < 0)


def test_a_trembling_tail_is_gathered_in_blocks_that_weigh_as_many_readings_as_they_hold() -> None:
    window = cut_flick(flick_reports(), 0.2, 0.65, OPEN, None)
    trembling = replace(window, y=window.y + np.random.default_rng(1).normal(0.0, 1e-3, window.y.shape))
    batch, _ = lay_out([trembling], np.full(2, 1e-6), 1e-3)
    assert batch.weight.max() > 3e6


def test_a_run_of_equal_codes_tells_no_more_than_three_readings() -> None:
    batch, _ = laid_out(1)
    flat = np.abs(batch.y[0] - batch.y[0, -1]) < 1e-9
    assert flat.sum() > 20
    # the first of them differs from the rest by rounding and is a run of its own
    assert 3e6 <= batch.weight[0, flat].sum() <= 4.01e6


def test_scattered_stamps_count_where_the_stick_moves() -> None:
    window = cut_flick(flick_reports(), 0.2, 0.65, OPEN, None)
    exact, _ = lay_out([window], np.full(2, 1e-6), 1e-3)
    scattered, _ = lay_out([window], np.full(2, 1e-6), 1e-3, scatter_s=2e-4)
    moving = np.abs(np.gradient(exact.y[0], exact.t_s[0])) > 10.0
    still = np.abs(np.gradient(exact.y[0], exact.t_s[0])) < 1e-9
    # 10 a second for 0.2 ms are 2e-3, four times the variance on top of 1e-6
    assert np.all(scattered.weight[0, moving] < 0.21 * exact.weight[0, moving])
    np.testing.assert_allclose(scattered.weight[0, still][5:], exact.weight[0, still][5:])


def test_contact_is_guessed_where_the_undone_lag_comes_to_rest() -> None:
    batch, _ = laid_out()
    # undelayed straight flick: rest is reached 5 ms after nine tenths of the way
    np.testing.assert_allclose(first_contacts(batch, np.zeros(len(batch.y))), 0.003, atol=0.0015)


def test_readings_far_from_contact_weigh_less_and_are_cut_off() -> None:
    batch, onset = laid_out()
    contact = np.full(3, 0.004)
    weighed = weigh(batch, batch.weight, contact, onset, np.ones(3))
    assert weighed.weight[0, 0] < 1e-3 * weighed.weight[0].max()
    cut, plain = trimmed(weighed, batch.weight)
    assert cut.y.shape[1] < batch.y.shape[1]
    assert plain.shape == cut.weight.shape


def test_the_fastest_flicks_are_looked_at_first() -> None:
    slow = cut_flick(flick_reports(rise_s=0.1), 0.2, 0.7, OPEN, None)
    fast = cut_flick(flick_reports(), 0.2, 0.65, OPEN, None)
    batch, onset = lay_out([slow, fast, slow], np.full(2, 1e-6), 1e-3)
    assert subset(batch, onset, 1).tolist() == [1]
    assert batch.of_flicks(np.array([1])).n_flicks == 1


def test_a_flick_far_slower_than_the_others_is_set_aside() -> None:
    parts = [flick_reports(rise_s=rise_s, reach=0.7 + 0.1 * rise_s) for rise_s in (0.05, 0.06, 0.4, 0.08, 0.12)]
    starts = np.cumsum([0.0] + [part.t_s[-1] + 1e-3 for part in parts[:-1]])
    t = np.concatenate([start + part.t_s for start, part in zip(starts, parts, strict=True)])
    xy = np.concatenate([part.xy for part in parts], axis=1)
    xy += 0.001 * np.random.default_rng(3).standard_normal(xy.shape)
    reports = StickReadings(t_s=t, xy=xy, nominal=xy, interval_s=1e-3)
    spans = [(start + 0.2, start + float(part.t_s[-1])) for start, part in zip(starts, parts, strict=True)]
    windows, _ = flick_windows(reports, spans)
    assert [window.why_not for window in windows] == ["", "", "far slower than the others", "", ""]
