"""A button at the rim: its edges on the report clock, which contacts they belong to, what the delay is."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from feelcheck.hand.gate_stop import contacts as of_rim
from feelcheck.hand.gate_stop import stick_fit
from feelcheck.hand.gate_stop.metric import METRIC
from feelcheck.hand.lag import marker
from feelcheck.hand.lag.marker import button_edges, marker_lag, matched
from feelcheck.hand.view import prepare
from feelcheck.model import ButtonEvent, HandView, MarkerLag, Recording, Status, Trace
from feelcheck.sources.synthetic import quick_script, simulate_recording, world_with


def press(t_s: float, wide_s: float = 0.0) -> ButtonEvent:
    return ButtonEvent(t_lo_s=t_s - wide_s, t_hi_s=t_s, name="rim", value=1)


@cache
def rim_log(button: str = "rim", effect: str = "plain") -> Recording:
    rng = np.random.default_rng(11)
    world = replace(world_with(effect, rng, tau_s=0.005), rim_button=button, rim_button_delay_s=0.001)
    return simulate_recording(world, quick_script(10, rng), rng)


@cache
def timed(effect: str = "plain") -> tuple[MarkerLag, tuple[Trace, ...]]:
    return marker_lag(prepare(rim_log(effect=effect)))


@cache
def rim_view() -> HandView:
    return prepare(rim_log())


@cache
def contacts() -> of_rim.Contacts | None:
    return of_rim.rim_contacts(rim_view(), rim_view().sticks[0])


def pressed(buttons: tuple[ButtonEvent, ...], monkeypatch: pytest.MonkeyPatch) -> MarkerLag:
    """What is said where the same flicks come with other closings: the sticks' fit knows nothing of them."""
    monkeypatch.setattr(marker, "rim_contacts", lambda *_: contacts())
    return marker_lag(prepare(replace(rim_log(), buttons=buttons)))[0]


def test_edges_that_come_in_reports_are_put_on_their_instants() -> None:
    reports = np.linspace(0.0, 0.099, 100)
    edges = button_edges([press(t) for t in (0.01004, 0.02001, 0.03008)], reports, 0.001)
    assert edges.clocked
    assert edges.t_s == pytest.approx([0.010, 0.020, 0.030], abs=1e-9)


def test_edges_in_silence_are_counted_on_from_the_last_report() -> None:
    reports = np.array([0.0, 0.001, 0.002])
    edges = button_edges([press(0.01203), press(0.05002)], reports, 0.001)
    assert edges.t_s == pytest.approx([0.012, 0.050], abs=1e-9)


def test_edges_at_any_instant_are_off_the_clock() -> None:
    reports = np.linspace(0.0, 0.999, 1000)
    stamps = 0.1 + np.arange(8) * 0.0501375
    edges = button_edges([press(float(t)) for t in stamps], reports, 0.001)
    assert not edges.clocked
    assert edges.t_s == pytest.approx(stamps)


def test_edges_in_a_bracket_wider_than_a_report_are_left_out() -> None:
    assert button_edges([press(0.01, wide_s=0.004)], np.linspace(0.0, 0.019, 20), 0.001).t_s.size == 0


def test_contacts_find_the_nearest_edge_or_none() -> None:
    assert matched(np.array([1.0, 1.06]), np.array([1.05, 1.3])).tolist() == [1, -1]
    assert matched(np.array([1.0]), np.array([1.05, 0.99])).tolist() == [-1, 0], "an edge belongs to one contact"
    assert matched(np.empty(0), np.array([1.0])).tolist() == [-1]


def test_the_delay_behind_a_rim_button_is_the_truth_less_the_buttons_own() -> None:
    lag, traces = timed()
    # 5 ms pole, 0.2 ms latency, 1 ms of the button's own path; the goal is 0.3 ms
    assert lag.delay.value == pytest.approx(0.0042, abs=0.0003)
    assert lag.onset_delay.value == pytest.approx(-0.0008, abs=0.0003)
    assert (lag.button, lag.stick) == ("rim", "left")
    assert set(lag.directions) == {(f"left_{a}", d) for a in "xy" for d in ("rising", "falling")}
    assert {"less_button_delay"} <= {caveat.code for caveat in lag.delay.caveats}
    assert traces[0].arrays["flicks_fs"].shape == (lag.delay.n, 161)


def test_a_rim_that_gives_is_told_with_the_delay() -> None:
    gives = {effect: timed(effect)[0].delay for effect in ("plain", "compliance")}
    told = {effect: "rim_gives" in {caveat.code for caveat in delay.caveats} for effect, delay in gives.items()}
    assert told == {"plain": False, "compliance": True}


def test_a_button_seen_by_rare_polls_only_is_not_resolved(monkeypatch: pytest.MonkeyPatch) -> None:
    lag = pressed(tuple(replace(button, t_lo_s=button.t_hi_s - 0.012) for button in rim_log().buttons), monkeypatch)
    assert lag.delay.status is Status.NOT_RESOLVED
    assert lag.delay.caveats[0].code == "marker_blurred"


def test_a_stick_that_goes_on_after_its_rim_has_no_instant_to_count_from(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(of_rim, "creeps_on", lambda chosen: True)
    lag, traces = marker_lag(prepare(rim_log()))
    assert lag.delay.status is Status.NOT_RESOLVED
    assert lag.delay.caveats[0].code == "no_clear_stop"
    assert traces == ()


def test_a_pole_below_the_report_interval_is_unsure_by_what_rebounds_may_hide() -> None:
    found = contacts()
    assert found is not None
    rows = [np.flatnonzero(np.any((found.group == 0) & found.used, axis=1))]
    short = replace(found, smoothing_s=np.full(4, 0.0002))
    assert math.hypot(*found.terms_s(rows, [0]).values()) < 0.0003
    assert math.hypot(*short.terms_s(rows, [0]).values()) >= 1.05 * found.interval_s - 0.0002


def test_the_flicks_are_fitted_once_for_marker_and_smoothing(monkeypatch: pytest.MonkeyPatch) -> None:
    found = contacts()
    assert found is not None
    monkeypatch.setattr(stick_fit, "choose_from_few", lambda *_: pytest.fail("fitted again"))
    told = {f.axis + f.direction: f.estimate for f in METRIC.measure(rim_view()).findings if f.direction}
    assert told["left_yfalling"].n == np.count_nonzero(np.any((found.group == 3) & found.used, axis=1))


def test_flicks_that_others_stand_for_do_not_speak_against_a_marker() -> None:
    found, view = contacts(), rim_view()
    assert found is not None
    few = {name: getattr(found, name)[:5] for name in ("contact_s", "group", "used", "moved_s")}
    button = rim_log().buttons[0]
    for n_set_aside, is_marker in ((0, False), (found.contact_s.size - 5, True)):
        some = replace(found, **few, n_set_aside=n_set_aside)
        assert (marker._match(view, view.sticks[0], some, button.name, 1) is not None) == is_marker


def test_without_a_button_there_is_no_marker() -> None:
    lag, traces = marker_lag(prepare(rim_log("")))
    assert lag.delay.status is Status.NOT_PRESENT
    assert "feelcheck guide lag" in lag.delay.caveats[0].advice
    assert traces == ()


def test_a_thumb_that_presses_along_with_the_flick_is_no_marker(monkeypatch: pytest.MonkeyPatch) -> None:
    buttons = rim_log().buttons
    rng = np.random.default_rng(5)
    late = [
        replace(b, t_lo_s=b.t_lo_s + shift, t_hi_s=b.t_hi_s + shift)
        for b, shift in zip(buttons, rng.normal(0.0, 0.02, len(buttons)).tolist(), strict=True)
    ]
    lag = pressed(tuple(late), monkeypatch)
    assert lag.delay.status is Status.NOT_RESOLVED
    assert lag.delay.caveats[0].code == "marker_loose"
