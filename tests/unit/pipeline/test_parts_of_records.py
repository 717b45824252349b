"""From a specimen's parts to the network on its board in any state, and to the delay they predict."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from feelcheck.errors import FormatError, ProfileError
from feelcheck.model import Part, Profile, SensorFound, StateRecord
from feelcheck.pipeline import PartsAsked, parts, parts_what_if
from feelcheck.pipeline._parts import axes_with_parts, delay_from_parts, network_of
from feelcheck.pipeline._specimens import Specimen

OHM = {"unit": "ohm", "role": "series_resistor"}
FARAD = {"unit": "F", "role": "capacitor"}


def part(position: str, value: float, **more: Any) -> Part:
    """A part measured off the board that keeps its value (C0G) within 10 %."""
    known = {"measured": "out_of_circuit", "tolerance_fraction": 0.1, "dielectric": "C0G", "axis": "left_x"}
    return Part(position=position, value=value, **{**known, **more})


R1, C1 = part("r1", 4700.0, **OHM), part("c1", 1e-6, **FARAD)


def specimen(*found: Part, states: tuple[StateRecord, ...] = (), state: str = "as_found", **more: Any) -> Specimen:
    return Specimen(profile=Profile(specimen="elm", parts=found, states=states, **more), state=state)


def values(found: Specimen, axis: str = "left_x") -> tuple[float, float, float, float | None]:
    network, _ = network_of(found, axis) or pytest.fail("no network")
    return network.pin_f, network.series_ohm, network.behind_f, network.load_ohm


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ([R1, C1], (0.0, 4700.0, 1e-6, None)),
        ([C1, part("c2", 5e-7, **FARAD)], (0.0, 0.0, 1.5e-6, None)),
        ([R1, part("r2", 300.0, **OHM)], (0.0, 5000.0, 0.0, None)),
        ([part("l1", 3e4, unit="ohm", role="load"), part("l2", 6e4, unit="ohm", role="load")], (0, 0, 0, 2e4)),
        ([part("c0", 1e-7, unit="F", role="pin_capacitor"), C1], (1e-7, 0.0, 1e-6, None)),
        ([C1, part("c9", 1e-5, unit="F", role="supply_capacitor")], (0.0, 0.0, 1e-6, None)),
        ([C1, part("c2", 5e-7, **{**FARAD, "axis": "left_y"})], (0.0, 0.0, 1e-6, None)),
        ([C1, part("c2", 5e-7, **{**FARAD, "axis": ""})], (0.0, 0.0, 1.5e-6, None)),
        ([R1, replace(C1, fitted=False)], (0.0, 4700.0, 0.0, None)),
    ],
)
def test_parts_at_one_place_count_together(parts: list[Part], expected: tuple[Any, ...]) -> None:
    assert values(specimen(*parts)) == pytest.approx(expected)


STATES = (
    StateRecord(name="lifted", changes={"c1": "lifted"}),
    StateRecord(name="slip", changes={"r1": "1k"}, undone=True),
    StateRecord(name="smaller", changes={"c1": "100n"}),
)


@pytest.mark.parametrize(
    ("state", "ohm", "farad"),
    [("as_found", 4700.0, 1e-6), ("lifted", 4700.0, 0.0), ("slip", 4700.0, 0.0), ("smaller", 4700.0, 1e-7)],
)
def test_states_add_up_and_undone_ones_do_not_count(state: str, ohm: float, farad: float) -> None:
    """A part that was lifted and then replaced is on the board again."""
    _, series, behind, _ = values(specimen(R1, C1, states=STATES, state=state))
    assert (series, behind) == pytest.approx((ohm, farad))


def test_a_change_that_is_no_value_is_refused_where_it_is_used() -> None:
    states = (StateRecord(name="odd", changes={"c1": "banana"}),)
    with pytest.raises(ProfileError, match="lifted or has a value"):
        network_of(specimen(R1, C1, states=states, state="odd"), "left_x")


@pytest.mark.parametrize(
    ("sensor", "sink"),
    [
        (SensorFound(), "source"),
        (SensorFound(source_ohm=100.0, sink_a=2e-5), "current"),
        (SensorFound(sink_ohm=5e4), "pull_down"),
    ],
)
def test_the_sensor_found_sets_the_output_stage(sensor: SensorFound, sink: str) -> None:
    network, own = network_of(specimen(C1, sensor=sensor), "left_x") or pytest.fail("no network")
    assert (network.stage.sink, network.stage.source_ohm) == (sink, sensor.source_ohm or 0.0)
    assert own == (C1,)


@pytest.mark.parametrize(("supply_v", "low", "high"), [(None, 0.018, 1.62), (3.0, 0.03, 2.7)])
def test_levels_follow_the_supply(supply_v: float | None, low: float, high: float) -> None:
    network, _ = network_of(specimen(C1, sensor=SensorFound(supply_v=supply_v)), "left_x") or pytest.fail("none")
    assert (network.low_v, network.high_v) == pytest.approx((low, high))


def test_without_a_filter_part_there_is_no_network() -> None:
    bare = specimen(part("c9", 1e-5, unit="F", role="supply_capacitor"))
    assert network_of(bare, "left_x") is None
    assert delay_from_parts(bare, "left_x", "rising") is None
    assert axes_with_parts(bare) == []


def test_axes_with_parts_are_named_once_and_shared_parts_stand_for_an_output() -> None:
    shared = part("c2", 1e-7, **{**FARAD, "axis": ""})
    assert axes_with_parts(specimen(R1, C1, shared)) == ["left_x", "output"]


@pytest.mark.parametrize("direction", ["rising", "falling"])
def test_the_predicted_delay_lies_amid_its_band(direction: str) -> None:
    # R within 10 % and C within 10 %: tau from 0.81 to 1.21 of 4.7 ms.
    found = delay_from_parts(specimen(R1, C1), "left_x", direction)
    assert found is not None
    assert found.estimate.value == pytest.approx(4.7e-3 * 1.01, rel=1e-4)
    assert found.band_s == pytest.approx(4.7e-3 * 0.20, rel=1e-4)
    assert found.whole.u == pytest.approx(found.band_s / 1.959964)
    assert (found.class_2, found.measured) == (False, True)


@pytest.mark.parametrize(
    ("capacitor", "low", "high"),
    [
        (replace(C1, dielectric="X7R", measured="marked"), 0.9 * 0.5, 1.1),
        (replace(C1, dielectric="X7R"), 0.9, 1.1),
        (replace(C1, tolerance_fraction=None), 0.8, 1.2),
        (replace(C1, tolerance_fraction=0.0), 1.0, 1.0),
    ],
)
def test_bands_hold_what_is_known_of_a_part(capacitor: Part, low: float, high: float) -> None:
    """A marked class-2 part keeps 0.5 to 1.05 of its mark at 1.8 V; a measured one only has its tolerance."""
    network, _ = network_of(specimen(capacitor), "left_x") or pytest.fail("none")
    assert network.bands["behind_f"] == pytest.approx((low, high))


def test_the_band_of_parts_together_weighs_each_by_its_share() -> None:
    exact = part("c2", 3e-6, **FARAD)
    network, _ = network_of(specimen(replace(C1, tolerance_fraction=0.2), replace(exact, tolerance_fraction=0.0)),
                            "left_x") or pytest.fail("none")  # fmt: skip
    assert network.bands["behind_f"] == pytest.approx((0.95, 1.05))


def test_tolerances_that_were_assumed_are_said() -> None:
    asked = PartsAsked(resistor="4k7", capacitor="1u", dielectric="C0G")
    assert "assumed_tolerance" in {caveat.code for caveat in parts(asked).caveats}
    known = replace(asked, resistor_tolerance=0.01, capacitor_tolerance=0.05)
    assert parts(known).caveats == ()
    assert parts(known).derated == {}


def test_several_changes_are_each_held_against_the_board_as_it_is() -> None:
    asked = PartsAsked(resistor="4.7k", capacitor="1u")
    lifted, smaller = parts_what_if(asked, ["capacitor=lifted", "resistor=2.2k"])
    assert lifted.before.time_constant.value == smaller.before.time_constant.value == pytest.approx(4.7e-3, rel=1e-4)
    assert lifted.after.time_constant.value == 0.0
    assert smaller.after.time_constant.value == pytest.approx(2.2e-3, rel=1e-4)


@pytest.mark.parametrize("change", ["capacitor", "capacitor=", "fuse=lifted", "=lifted"])
def test_a_change_names_a_part_and_what_becomes_of_it(change: str) -> None:
    with pytest.raises(FormatError, match="part=lifted or part=value"):
        parts_what_if(PartsAsked(resistor="4.7k", capacitor="1u"), [change])
