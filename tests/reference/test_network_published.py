"""Networks against published values and a circuit simulator.

Sources: NXP UM10204 rev. 5 (2012) sect. 7.1 (0.3 to 0.7 of the supply in 0.8473 RC; resistance limits for 300 ns and
1000 ns); equal-pole table computed as quantiles of the gamma distribution (scipy.stats.gamma); IEC 60063:2015 through
two public listings; EIA-198 letter codes through public tables. Bench facts: common practice, no source. ngspice is the
Debian package.
"""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from feelcheck.model import Estimate
from feelcheck.model.parts import BoardNetwork, OutputStage
from feelcheck.network import class_2_factors, edge, infer_capacitance, nearest_preferred, poles_s, predict
from feelcheck.network.preferred import decade

pytestmark = pytest.mark.reference


def r_c(ohm: float, farad: float) -> BoardNetwork:
    return BoardNetwork(series_ohm=ohm, behind_f=farad)


def test_one_pole_takes_ln_9_time_constants_from_10_to_90_per_cent() -> None:
    found = predict(r_c(4700.0, 1e-6))
    assert found.transition_10_90.value == pytest.approx(math.log(9) * 4.7e-3, rel=1e-5)
    assert found.corner_frequency.value == pytest.approx(1 / (2 * math.pi * 4.7e-3), rel=1e-5)


@pytest.mark.parametrize(
    ("rise_s", "farad", "ohm"), [(300e-9, 200e-12, 1770), (1e-6, 400e-12, 2951), (300e-9, 400e-12, 885)]
)
def test_bus_rise_time_limits(rise_s: float, farad: float, ohm: float) -> None:
    found = edge(BoardNetwork(series_ohm=ohm, behind_f=farad, low_v=0.0, high_v=1.0), rising=True)
    assert found.crossing_s(0.7) - found.crossing_s(0.3) == pytest.approx(rise_s, rel=1e-3)


@pytest.mark.parametrize(("n", "percent"), [(1, 63.2121), (2, 86.4665), (3, 95.0213), (4, 98.1684), (5, 99.3262)])
def test_charge_after_n_time_constants(n: int, percent: float) -> None:
    found = edge(BoardNetwork(series_ohm=1000.0, behind_f=1e-6, low_v=0.0, high_v=1.0), rising=True)
    assert 100 * found.output_v(n * 1e-3)[0] == pytest.approx(percent, abs=2e-3)


def test_two_sections_have_the_poles_of_their_characteristic_polynomial() -> None:
    network = BoardNetwork(stage=OutputStage(source_ohm=1e3), pin_f=1e-6, series_ohm=2e3, behind_f=5e-7)
    # s^2 R1 C1 R2 C2 + s (R1 C1 + R1 C2 + R2 C2) + 1, any network text
    roots = np.roots([1e-3 * 1e-3, 1e-3 + 5e-4 + 1e-3, 1.0])
    assert poles_s(network, rising=True) == pytest.approx(sorted((-1 / roots).tolist(), reverse=True), rel=1e-4)


def test_area_is_the_sum_of_elmore_terms() -> None:
    network = BoardNetwork(stage=OutputStage(source_ohm=1e3), pin_f=1e-6, series_ohm=2e3, behind_f=5e-7)
    assert edge(network, rising=True).area_s() == pytest.approx(1e3 * (1e-6 + 5e-7) + 2e3 * 5e-7, rel=1e-5)


def test_nearly_equal_poles_follow_the_gamma_quantiles() -> None:
    network = BoardNetwork(stage=OutputStage(source_ohm=1.0), pin_f=1e-3, series_ohm=1e5, behind_f=1e-8)
    found = edge(network, rising=True)
    t_10, t_90 = (stats.gamma.ppf(p, 2) * 1e-3 for p in (0.1, 0.9))
    assert found.crossing_s(0.9) - found.crossing_s(0.1) == pytest.approx(t_90 - t_10, rel=2e-3)


@pytest.mark.parametrize(
    ("series", "count"), [("E3", 3), ("E6", 6), ("E12", 12), ("E24", 24), ("E48", 48), ("E96", 96), ("E192", 192)]
)
def test_series_have_their_counts(series: str, count: int) -> None:
    assert len(decade(series)) == count


@pytest.mark.parametrize(
    ("series", "value", "nearest"),
    [
        ("E24", 319, 330),
        ("E96", 168, 169),
        ("E96", 186.9, 187),
        ("E24", 5000, 5100),
        ("E12", 51.4, 56),
        ("E12", 51.2, 47),
    ],
)
def test_nearest_by_ratio(series: str, value: float, nearest: float) -> None:
    assert nearest_preferred(value, series) == pytest.approx(nearest, rel=1e-12)


def test_exceptions_from_the_formula_are_kept() -> None:
    assert 9.2 in decade("E192")
    assert {2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2} <= set(decade("E24"))


def test_a_constant_current_sink_ramps_at_i_over_c() -> None:
    stage = OutputStage(source_ohm=10.0, sink="current", sink_a=20e-6)
    found = edge(BoardNetwork(stage=stage, pin_f=1e-6, low_v=0.2, high_v=1.6), rising=False)
    assert found.output_v(0.035)[0] == pytest.approx(1.6 - 20.0 * 0.035, rel=1e-4)


def test_a_pull_down_aims_at_ground() -> None:
    stage = OutputStage(source_ohm=10.0, sink="pull_down", sink_ohm=47e3)
    found = edge(BoardNetwork(stage=stage, pin_f=1e-6, low_v=0.2, high_v=1.6), rising=False)
    assert found.output_v(0.047)[0] == pytest.approx(1.6 * math.exp(-1), rel=1e-3)


def test_facts_of_the_trade() -> None:
    """Common practice, no source: 4.7 kohm with about 1 uF reads about 10 ms from 10 to 90 %; 10 kohm with about
    0.56 uF is read at 8 to 9 ms where the marked values say 12.3 ms, so the derating band must hold that reading."""
    assert predict(r_c(4700.0, 1e-6)).transition_10_90.value == pytest.approx(0.010, rel=0.05)
    marked = predict(r_c(10e3, 0.56e-6)).transition_10_90.value
    assert marked is not None
    assert marked == pytest.approx(0.0123, rel=0.005)
    low, high = class_2_factors(1.8)
    assert low * marked < 0.008
    assert high * marked > 0.009


def test_a_passive_network_cannot_fall_slower_than_it_rises() -> None:
    found = predict(BoardNetwork(stage=OutputStage(source_ohm=300.0), pin_f=1e-7, series_ohm=4700.0, behind_f=1e-6))
    assert found.rising is not None
    assert found.falling is not None
    assert found.rising.mean_delay.value == pytest.approx(found.falling.mean_delay.value, rel=1e-9)


def test_inference_inverts_prediction() -> None:
    tau = predict(r_c(4700.0, 0.82e-6)).time_constant
    assert tau.value is not None
    measured = Estimate.measured("time_constant", tau.value, u=0.01 * tau.value, unit="s")
    found = infer_capacitance(measured, 4700.0, class_2=False).capacitance
    assert found is not None
    assert found.value == pytest.approx(0.82e-6, rel=1e-4)


@pytest.mark.ngspice
def test_edges_agree_with_a_circuit_simulator_within_half_a_per_cent() -> None:
    path = Path(__file__).with_name("ngspice_agreement.py")
    spec = importlib.util.spec_from_file_location("ngspice_agreement", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    if not module.available():
        pytest.skip("ngspice is not installed")
    for name, network in module.NETWORKS.items():
        for rising in (True, False):
            assert module.worst_share(network, rising) < 0.005, name
