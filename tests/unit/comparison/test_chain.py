"""Links of the chain: agreement, disagreement with hints, and when nothing can be told."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.comparison.chain import Circumstances, joined_direction, judge_link
from feelcheck.comparison.prediction import predict_tail, prediction_trace
from feelcheck.model import ChainLink, Estimate


def delay(value_ms: float, u_ms: float = 0.1) -> Estimate:
    return Estimate.measured("smoothing_delay", value_ms / 1e3, u=u_ms / 1e3, unit="s", n=8)


def link(
    predicted: Estimate, measured: Estimate, kind: str = "bench-hand", known: Circumstances | None = None
) -> ChainLink:
    return judge_link(
        predicted,
        measured,
        specimen="birch",
        axis="left_x",
        state="as_found",
        direction="rising",
        link=kind,
        margin_s=0.001,
        circumstances=known,
    )


@pytest.mark.parametrize(
    ("predicted", "measured", "verdict"),
    [
        (delay(9.0), delay(9.2), "agree"),
        (delay(9.0), delay(12.0), "disagree"),
        (delay(9.0, 1.0), delay(9.5, 1.0), "cannot_tell"),
        (Estimate.at_most("d", 0.0004, unit="s"), Estimate.at_most("d", 0.0007, unit="s"), "agree"),
        (Estimate.at_most("d", 0.0004, unit="s"), delay(5.0), "disagree"),
        (Estimate.at_most("d", 0.004, unit="s"), delay(3.0), "cannot_tell"),
        (delay(9.0), Estimate.not_resolved("d", unit="s"), "cannot_tell"),
        (Estimate.at_least("d", 0.050, unit="s"), delay(9.0), "disagree"),
        (Estimate.at_most("d", 0.0004, unit="s"), delay(1.2), "cannot_tell"),
        (Estimate.not_present("d", unit="s"), delay(0.5), "agree"),
        (delay(0.5), Estimate.not_present("d", unit="s"), "agree"),
    ],
)
def test_verdicts(predicted: Estimate, measured: Estimate, verdict: str) -> None:
    assert link(predicted, measured).verdict == verdict


def test_a_slower_hand_points_at_the_firmware() -> None:
    assert "firmware" in link(delay(3.0), delay(7.0)).look_at[0]


def test_a_faster_bench_than_its_parts_points_at_the_derated_capacitor() -> None:
    found = link(delay(10.0), delay(5.0), "parts-bench", Circumstances(class_2_capacitor=True))
    assert "class-2" in found.look_at[0]


def test_a_slow_fall_points_at_the_weak_sink() -> None:
    found = link(delay(5.0), delay(30.0), "parts-bench", Circumstances(other_direction_ratio=6.0))
    assert any("sinks weakly" in hint for hint in found.look_at)
    alike = link(delay(5.0), delay(30.0), "parts-bench", Circumstances(other_direction_ratio=1.2))
    assert not any("sinks weakly" in hint for hint in alike.look_at)


def test_agreement_gives_no_hints() -> None:
    assert link(delay(9.0), delay(9.1)).look_at == ()


def test_the_parts_own_band_widens_the_margin() -> None:
    found = link(delay(10.0), delay(8.6), "parts-bench", Circumstances(band_s=0.003))
    assert (found.margin, found.verdict) == (0.003, "agree")


def test_a_band_within_the_margin_takes_nothing_back() -> None:
    assert link(delay(0.4), delay(0.5), "parts-bench", Circumstances(band_s=0.0005)).verdict == "agree"


def test_a_band_that_allows_anything_agrees_with_nothing() -> None:
    assert link(delay(10.0), delay(8.6), "parts-bench", Circumstances(band_s=0.009)).verdict == "cannot_tell"


@pytest.mark.parametrize(
    ("direction", "polarity", "bench"),
    [("rising", 1, "rising"), ("rising", -1, "falling"), ("falling", -1, "rising"), ("falling", None, None)],
)
def test_polarity_joins_codes_and_volts(direction: str, polarity: int | None, bench: str | None) -> None:
    assert joined_direction(direction, polarity) == bench


@pytest.mark.parametrize("tau_s", [0.003, 0.010, 0.040])
def test_the_band_holds_a_tail_of_the_predicted_response(tau_s: float) -> None:
    rng = np.random.default_rng(5)
    t_s = np.arange(0, 6 * tau_s, 0.001)
    step = 2 / 4095
    clean = 0.7 - 0.4 * np.exp(-t_s / tau_s)
    recorded = np.round((clean + rng.normal(0, 0.2 * step, t_s.size)) / step) * step
    tail = predict_tail(t_s, recorded, tau_s, u_relative=0.02, step_fs=step, noise_fs=0.2 * step, jitter_s=2e-5)
    assert tail.inside_fraction >= 0.9
    assert tail.mean_width_fraction < 0.1


def test_the_band_leaves_out_a_tail_twice_as_slow() -> None:
    t_s = np.arange(0, 0.08, 0.001)
    recorded = 0.7 - 0.4 * np.exp(-t_s / 0.012)
    tail = predict_tail(t_s, recorded, 0.006, u_relative=0.02, step_fs=5e-4, noise_fs=1e-4, jitter_s=2e-5)
    assert tail.inside_fraction < 0.6
    assert prediction_trace(tail, "left_x", "rising").marks["inside_fraction"] == tail.inside_fraction
