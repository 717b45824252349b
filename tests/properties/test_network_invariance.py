"""What a network of resistors and capacitors must not care about: units, levels, order of like parts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.model.parts import BoardNetwork, OutputStage
from feelcheck.network import edge, poles_s

OHM = st.floats(10.0, 1e5)
FARAD = st.floats(1e-9, 1e-5)


@st.composite
def networks(draw: Any, *, weak: bool = True) -> BoardNetwork:
    sinks = ["source", "resistance", *(["current", "pull_down"] if weak else [])]
    sink = draw(st.sampled_from(sinks))
    value = {"resistance": {"sink_ohm": draw(OHM)}, "pull_down": {"sink_ohm": draw(OHM)}}
    stage = OutputStage(
        source_ohm=draw(OHM), sink=sink, **({"sink_a": draw(st.floats(1e-6, 1e-3))} if sink == "current" else {}),
        **value.get(sink, {}),
    )  # fmt: skip
    load = draw(st.one_of(st.none(), OHM))
    return BoardNetwork(stage=stage, pin_f=draw(FARAD), series_ohm=draw(OHM), behind_f=draw(FARAD), load_ohm=load)


def times_of(network: BoardNetwork, rising: bool) -> tuple[float, float, float]:
    found = edge(network, rising=rising)
    return found.crossing_s(0.1), found.crossing_s(0.9), found.area_s()


def moves(network: BoardNetwork) -> bool:
    """Whether a falling edge has a swing worth timing (a small load may leave hardly any)."""
    return edge(network, rising=False).first_v - edge(network, rising=False).last_v > 1e-3


@settings(max_examples=15)
@given(network=networks(), factor=st.floats(0.01, 100.0), rising=st.booleans())
def test_times_grow_with_the_capacitors(network: BoardNetwork, factor: float, rising: bool) -> None:
    larger = replace(network, pin_f=network.pin_f * factor, behind_f=network.behind_f * factor)
    if moves(network):
        assert times_of(larger, rising) == pytest.approx([factor * t for t in times_of(network, rising)], rel=1e-6)


@settings(max_examples=15)
@given(network=networks(), factor=st.floats(0.1, 10.0), rising=st.booleans())
def test_the_level_of_impedance_does_not_matter(network: BoardNetwork, factor: float, rising: bool) -> None:
    stage = network.stage
    scaled = replace(
        network,
        stage=replace(
            stage,
            source_ohm=stage.source_ohm * factor,
            sink_ohm=None if stage.sink_ohm is None else stage.sink_ohm * factor,
            sink_a=None if stage.sink_a is None else stage.sink_a / factor,
        ),
        pin_f=network.pin_f / factor,
        series_ohm=network.series_ohm * factor,
        behind_f=network.behind_f / factor,
        load_ohm=None if network.load_ohm is None else network.load_ohm * factor,
    )
    if moves(network):
        assert times_of(scaled, rising) == pytest.approx(times_of(network, rising), rel=1e-6)


@settings(max_examples=15)
@given(network=networks(weak=False), low=st.floats(0.0, 1.0), swing=st.floats(0.1, 5.0), rising=st.booleans())
def test_a_linear_network_does_not_care_about_the_levels(
    network: BoardNetwork, low: float, swing: float, rising: bool
) -> None:
    network = replace(network, stage=replace(network.stage, sink="source", sink_ohm=None))
    other = replace(network, low_v=low, high_v=low + swing)
    assert times_of(other, rising) == pytest.approx(times_of(network, rising), rel=1e-6)


@settings(max_examples=15)
@given(network=networks(), rising=st.booleans())
def test_the_output_moves_one_way_only_and_arrives(network: BoardNetwork, rising: bool) -> None:
    found = edge(network, rising=rising)
    shares = [found.crossing_s(share) for share in (0.1, 0.3, 0.5, 0.7, 0.9)]
    if moves(network):
        assert shares == sorted(shares)
        assert found.output_v(found.end_s)[0] == pytest.approx(found.last_v, abs=1e-6)
        assert found.first_v < found.last_v if rising else found.first_v > found.last_v


@settings(max_examples=15)
@given(network=networks(weak=False))
def test_poles_of_a_chain_are_positive_and_sum_to_the_area_without_a_load(network: BoardNetwork) -> None:
    # Elmore: the area above the step is the first moment, which is the sum of the time constants.
    alone = replace(network, load_ohm=None)
    poles = poles_s(alone, rising=True)
    assert len(poles) == 2
    assert min(poles) > 0
    assert edge(alone, rising=True).area_s() == pytest.approx(sum(poles), rel=1e-6)
