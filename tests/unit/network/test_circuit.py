from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from feelcheck.model.parts import BoardNetwork, OutputStage
from feelcheck.network import edge, poles_s

WEAK = OutputStage(source_ohm=100.0, sink="current", sink_a=20e-6)


def integrated(network: BoardNetwork, t_s: Any) -> Any:
    """Return the falling output by brute force: two capacitors, one-sided stage."""
    stage = network.stage

    def slope(_: float, volts: Any) -> list[float]:
        pin, out = volts
        push = (network.low_v - pin) / stage.source_ohm
        into = max(push, -(stage.sink_a or 0.0)) if stage.sink == "current" else max(push, -pin / (stage.sink_ohm or 1))
        through = (pin - out) / network.series_ohm
        load = 0.0 if network.load_ohm is None else out / network.load_ohm
        return [(into - through) / network.pin_f, (through - load) / network.behind_f]

    first = edge(network, rising=False)
    start = [first.pin_v(0.0)[0], first.output_v(0.0)[0]]
    return solve_ivp(slope, (0, t_s[-1]), start, method="LSODA", t_eval=t_s, rtol=1e-9, atol=1e-12).y[1]


@pytest.mark.parametrize(
    "stage", [WEAK, OutputStage(source_ohm=100.0, sink="pull_down", sink_ohm=5e4)], ids=["current", "pull_down"]
)
@pytest.mark.parametrize("load_ohm", [None, 1e5])
def test_weak_falls_agree_with_brute_force_integration(stage: OutputStage, load_ohm: float | None) -> None:
    network = BoardNetwork(stage=stage, pin_f=1e-6, series_ohm=4700.0, behind_f=1e-6, load_ohm=load_ohm)
    found = edge(network, rising=False)
    t_s = np.linspace(0.0, 1.5 * found.crossing_s(0.99), 200)
    assert found.output_v(t_s) == pytest.approx(integrated(network, t_s), abs=1e-6)


def test_a_current_that_nothing_leads_away_is_no_endless_pole() -> None:
    stage = OutputStage(source_ohm=10.0, sink="current", sink_a=0.0008157695600899309)
    network = BoardNetwork(stage=stage, pin_f=8.547101359782554e-06, series_ohm=81005.5, behind_f=1.683737838039502e-05)
    found = edge(network, rising=False)
    assert found.end_s == pytest.approx(25 * network.series_ohm * network.behind_f, rel=1e-3)
    t_s = np.linspace(0.0, found.crossing_s(0.9), 50)
    assert found.output_v(t_s) == pytest.approx(integrated(network, t_s), abs=1e-6)


def test_the_edge_is_continuous_where_the_sink_lets_go() -> None:
    found = edge(BoardNetwork(stage=WEAK, pin_f=1e-6, series_ohm=4700.0, behind_f=1e-6), rising=False)
    at = found.pieces[1].start_s
    around = found.output_v([at * (1 - 1e-9), at])
    assert around[0] == pytest.approx(around[1], abs=1e-7)


def test_rises_and_falls_are_alike_without_a_weak_sink() -> None:
    network = BoardNetwork(stage=OutputStage(source_ohm=100.0), pin_f=1e-6, series_ohm=4700.0, behind_f=1e-6)
    up, down = edge(network, rising=True), edge(network, rising=False)
    t_s = np.linspace(0, 0.03, 50)
    middle = network.low_v + network.high_v
    assert up.output_v(t_s) + down.output_v(t_s) == pytest.approx(np.full(50, middle), abs=1e-9)


def test_area_is_the_integral_of_what_is_missing() -> None:
    found = edge(BoardNetwork(stage=WEAK, pin_f=1e-6, series_ohm=4700.0, behind_f=1e-6), rising=False)
    t_s = np.linspace(0, found.end_s, 200_001)
    missing = (found.output_v(t_s) - found.last_v) / (found.first_v - found.last_v)
    assert found.area_s() == pytest.approx(np.trapezoid(missing, t_s), rel=1e-6)


def test_a_load_divides_the_swing_and_speeds_the_pole() -> None:
    network = BoardNetwork(series_ohm=1e4, behind_f=1e-6, load_ohm=1e4)
    found = edge(network, rising=True)
    assert found.last_v == pytest.approx(network.high_v / 2, rel=1e-5)
    assert poles_s(network, rising=True) == pytest.approx((5e-3,), rel=1e-5)


@pytest.mark.parametrize("stage", [OutputStage(), WEAK])
def test_without_a_capacitor_the_edge_is_a_step(stage: OutputStage) -> None:
    for rising in (True, False):
        found = edge(BoardNetwork(stage=stage, series_ohm=4700.0), rising=rising)
        assert found.crossing_s(0.9) == found.area_s() == found.end_s == 0.0
    assert poles_s(BoardNetwork(stage=stage, series_ohm=4700.0), rising=True) == ()


def test_capacitors_on_one_node_add_up() -> None:
    apart = BoardNetwork(stage=OutputStage(source_ohm=1000.0), pin_f=1e-6, behind_f=2e-6)
    assert poles_s(apart, rising=True) == pytest.approx((3e-3,), rel=1e-4)


def test_another_pull_down_resistance_is_a_pole_of_its_own() -> None:
    stage = OutputStage(source_ohm=1000.0, sink="resistance", sink_ohm=5000.0)
    network = BoardNetwork(stage=stage, pin_f=1e-6)
    assert poles_s(network, rising=True) == pytest.approx((1e-3,), rel=1e-4)
    assert poles_s(network, rising=False) == pytest.approx((5e-3,), rel=1e-4)


@pytest.mark.parametrize("wrong", [{"sink": "current"}, {"sink": "pull_down", "sink_ohm": 0.0}, {"source_ohm": -1.0}])
def test_an_output_stage_needs_the_value_of_its_sink(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="needs its positive value"):
        OutputStage(**wrong)


@pytest.mark.parametrize(
    ("wrong", "text"),
    [({"pin_f": -1e-6}, "must not be negative"), ({"load_ohm": 0.0}, "negative"), ({"low_v": 2.0}, "low_v < high_v")],
)
def test_networks_refuse_values_that_make_no_sense(wrong: dict[str, Any], text: str) -> None:
    with pytest.raises(ValueError, match=text):
        BoardNetwork(**wrong)
