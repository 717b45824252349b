"""Predictions against closed forms written down by hand; bands and derating carried as the notes say."""

from __future__ import annotations

import math
from typing import Any

import pytest

from feelcheck.model import Status
from feelcheck.model.parts import BoardNetwork, OutputStage
from feelcheck.network import changed_network, edge, predict, what_if

R, C = 4700.0, 1e-6
TAU = R * C
PLAIN = BoardNetwork(series_ohm=R, behind_f=C)
RAMP = BoardNetwork(stage=OutputStage(source_ohm=10.0, sink="current", sink_a=20e-6), pin_f=C)
TO_GROUND = BoardNetwork(stage=OutputStage(source_ohm=10.0, sink="pull_down", sink_ohm=47e3), pin_f=C)


def test_one_pole_both_ways() -> None:
    found = predict(PLAIN)
    assert found.rising is not None
    assert found.falling is not None
    for side, swing in ((found.rising, 1.4), (found.falling, -1.4)):
        assert side.shape == "pole"
        assert side.swing == pytest.approx(swing, rel=1e-9)
        assert side.time_constant.value == pytest.approx(TAU, rel=1e-5)
        assert side.mean_delay.value == pytest.approx(TAU, rel=1e-5)
        assert side.transition_10_90.value == pytest.approx(math.log(9) * TAU, rel=1e-5)
    assert found.caveats == ()


def test_bands_add_in_squares_as_95_per_cent_limits() -> None:
    # R +- 5 % and C +- 20 %: u = tau hypot(0.05, 0.20) / 1.96, since tau is their product.
    bands = {"series_ohm": (0.95, 1.05), "behind_f": (0.8, 1.2)}
    found = predict(BoardNetwork(series_ohm=R, behind_f=C, bands=bands))
    relative = math.hypot(0.05, 0.20) / 1.959964
    for estimate in (found.time_constant, found.transition_10_90, found.mean_delay):
        assert estimate.u is not None
        assert estimate.value is not None
        assert estimate.u / estimate.value == pytest.approx(relative, rel=1e-4)
    assert found.corner_frequency.u == pytest.approx(relative / (2 * math.pi * TAU), rel=1e-4)


@pytest.mark.parametrize("part", ["source_ohm", "sink_ohm", "sink_a"])
def test_a_band_of_the_stage_acts_where_that_part_does(part: str) -> None:
    # The ramp lasts as 1 / sink_a, the discharge as sink_ohm; the 10 ohm source hardly matters to either.
    network = {"sink_a": RAMP, "sink_ohm": TO_GROUND, "source_ohm": RAMP}[part]
    bands = {part: (0.9, 1.1)}
    found = predict(BoardNetwork(stage=network.stage, pin_f=C, bands=bands)).falling
    assert found is not None
    delay = found.mean_delay
    assert delay.value is not None
    share = {"sink_a": (1 / 0.9 - 1 / 1.1) / 2, "sink_ohm": 0.1, "source_ohm": 0.0}[part]
    assert delay.u == pytest.approx(delay.value * share / 1.959964, abs=2e-3 * delay.value)


def test_a_constant_current_makes_a_ramp_without_a_time_constant() -> None:
    # 1.4 V at 20 uA into 1 uF: 70 ms, of which 10 to 90 % are 56 ms; the area above a ramp is half its length.
    found = predict(RAMP)
    assert found.falling is not None
    assert found.falling.shape == "ramp"
    assert found.falling.transition_10_90.value == pytest.approx(0.056, rel=1e-3)
    assert found.falling.mean_delay.value == pytest.approx(0.035, rel=1e-3)
    assert found.falling.time_constant.status is Status.NOT_PRESENT
    assert [caveat.code for caveat in found.falling.time_constant.caveats] == ["no_single_pole"]
    assert [caveat.code for caveat in found.caveats] == ["directions_differ"]
    # A plain connection counts as 0.01 ohm, a thousandth of the source.
    assert found.time_constant.value == pytest.approx(10.0 * C, rel=2e-3)


def test_a_pull_down_falls_towards_ground_and_is_cut_at_the_target() -> None:
    # 1.6 V exp(-t / tau) passes 10 % of the way at 1.46 V and 90 % at 0.34 V.
    falling = predict(TO_GROUND).falling
    assert falling is not None
    assert falling.shape == "exponential_to_ground"
    assert falling.time_constant.value == pytest.approx(0.047, rel=1e-6)
    assert falling.transition_10_90.value == pytest.approx(0.047 * math.log(1.46 / 0.34), rel=1e-3)


def test_nothing_to_charge_is_a_step_without_a_corner() -> None:
    found = predict(BoardNetwork(series_ohm=R), class_2=True)
    assert found.rising is not None
    assert found.rising.shape == "step"
    assert found.mean_delay.value == 0.0
    assert found.corner_frequency.status is Status.NOT_PRESENT
    assert found.derated == {}


def test_derated_figures_sit_in_the_middle_of_the_class_2_band() -> None:
    # At 1.6 V a class-2 part is taken to keep 0.5 to 1.05 of its mark.
    found = predict(PLAIN, class_2=True).derated
    assert set(found) == {"time_constant", "transition_10_90", "mean_delay"}
    middle = found["time_constant"]
    assert middle.value == pytest.approx(TAU * math.sqrt(0.5 * 1.05), rel=1e-5)
    assert middle.u == pytest.approx((middle.value or 0.0) * math.log(2.1) / (2 * 1.959964), rel=1e-5)
    assert predict(PLAIN).derated == {}


def test_the_trace_runs_from_level_to_level_both_ways() -> None:
    (trace,) = predict(PLAIN).traces
    rising, falling = trace.arrays["rising_v"], trace.arrays["falling_v"]
    assert (rising[0], falling[0]) == pytest.approx((0.2, 1.6))
    assert (rising[-1], falling[-1]) == pytest.approx((1.6, 0.2), abs=2e-3)
    assert trace.arrays["t_s"].shape == rising.shape == falling.shape


@pytest.mark.parametrize(
    ("part", "value", "words", "tau_s"),
    [
        ("behind_f", None, "the capacitor behind the resistor is lifted", 0.0),
        ("series_ohm", None, "the series resistor is bridged", 0.0),
        ("series_ohm", 2200.0, "the series resistor becomes 2.2 kohm", 2200.0 * C),
        ("behind_f", 1e-7, "the capacitor behind the resistor becomes 100 nF", R * 1e-7),
        ("load_ohm", R, "the load becomes 4.7 kohm", TAU / 2),
    ],
)
def test_a_change_says_what_it_is_and_what_it_does(part: str, value: float | None, words: str, tau_s: float) -> None:
    found = what_if(PLAIN, part, value)
    assert found.change == words
    assert found.before.time_constant.value == pytest.approx(TAU, rel=1e-5)
    assert found.after.time_constant.value == pytest.approx(tau_s, rel=1e-4, abs=1e-7)


def test_a_lifted_part_takes_its_tolerance_along() -> None:
    network = BoardNetwork(series_ohm=R, behind_f=C, bands={"behind_f": (0.8, 1.2), "series_ohm": (0.95, 1.05)})
    assert set(changed_network(network, "behind_f", None).bands) == {"series_ohm"}
    assert set(changed_network(network, "behind_f", 2 * C).bands) == {"series_ohm", "behind_f"}
    assert changed_network(network, "load_ohm", None).load_ohm is None


def test_only_parts_of_the_network_can_be_changed() -> None:
    for change in (changed_network, what_if):
        with pytest.raises(KeyError, match="fuse"):
            change(PLAIN, "fuse", None)


STAGES: list[dict[str, Any]] = [
    {},
    {"sink": "resistance", "sink_ohm": 5000.0},
    {"sink": "current", "sink_a": 1e-3},
    {"sink": "pull_down", "sink_ohm": 2e4},
]


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: str(stage.get("sink", "source")))
def test_one_edge_begins_where_the_other_ended(stage: dict[str, Any]) -> None:
    """With a load the low level depends on how the stage sinks: the rise must start from it."""
    network = BoardNetwork(
        stage=OutputStage(source_ohm=1000.0, **stage), pin_f=C, series_ohm=R, behind_f=C / 3, load_ohm=2e4
    )
    rise, fall = edge(network, rising=True), edge(network, rising=False)
    assert rise.first_v == pytest.approx(fall.last_v, rel=1e-12)
    assert fall.first_v == pytest.approx(rise.last_v, rel=1e-12)
    assert rise.output_v(0.0)[0] == pytest.approx(rise.first_v, rel=1e-9)


def test_before_the_step_the_output_stands_at_its_first_level() -> None:
    found = edge(PLAIN, rising=True)
    assert found.output_v([-1.0, -1e-9]) == pytest.approx([0.2, 0.2])
    assert found.crossing_s(0.0) == 0.0
