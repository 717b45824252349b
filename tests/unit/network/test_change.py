"""Which part a change of delay fits. The delay of one resistor and one capacitor is their product (closed form)."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from feelcheck.model import Estimate
from feelcheck.model.parts import BoardNetwork, OutputStage
from feelcheck.network import change_from, changed_network, changes_that_fit, edge, fitted, single_filter

RC = BoardNetwork(series_ohm=4700.0, behind_f=1e-6)


def delays(*values_ms: float, u_ms: float = 0.005) -> Mapping[str, Estimate]:
    both = values_ms if len(values_ms) == 2 else values_ms * 2
    return {
        direction: Estimate.measured("smoothing_delay", ms / 1e3, u=u_ms / 1e3, unit="s")
        for direction, ms in zip(("rising", "falling"), both, strict=True)
    }


def bounds(ms: float) -> Mapping[str, Estimate]:
    return {way: Estimate.at_most("smoothing_delay", ms / 1e3, unit="s") for way in ("rising", "falling")}


@pytest.mark.parametrize("now", [delays(0.04), bounds(0.2)])
def test_a_filter_that_is_gone_fits_its_capacitor_lifted(now: Mapping[str, Estimate]) -> None:
    found = changes_that_fit(RC, delays(4.7), now)
    assert [change.change for change in found] == ["1 uF lifted", "4.7 kohm bridged"]
    assert all(change.fits for change in found)
    assert found[0].predicted["rising"].value == pytest.approx(0.0, abs=1e-6)


def test_an_exchanged_value_is_the_ratio_of_the_delays() -> None:
    found = changes_that_fit(RC, delays(4.7), delays(0.47), names={"behind_f": "c3", "series_ohm": "r2"})
    words = ["c3, 1 uF exchanged for 100 nF", "r2, 4.7 kohm exchanged for 470 ohm"]
    assert [change.change for change in found] == words
    assert found[0].network.behind_f == pytest.approx(1e-7, rel=0.01)


def test_a_measured_delay_before_calibrates_a_derated_capacitor() -> None:
    """At 70 % of its mark before, a tenth of the delay is still a tenth of the mark."""
    found = changes_that_fit(RC, delays(0.7 * 4.7), delays(0.07 * 4.7))
    assert found[0].change == "1 uF exchanged for 100 nF"


def test_nothing_is_named_where_nothing_changed_or_the_parts_are_not_those_of_that_board() -> None:
    assert changes_that_fit(RC, delays(4.7), delays(4.75)) == ()
    assert changes_that_fit(RC, delays(4.7, u_ms=0.5), delays(4.0, u_ms=0.5)) == ()
    assert changes_that_fit(RC, delays(47.0), delays(0.04)) == ()


def test_a_change_of_one_direction_only_fits_no_part_of_a_plain_filter() -> None:
    assert changes_that_fit(RC, delays(4.7), delays(4.7, 1.0)) == ()


def test_directions_tell_the_pin_capacitor_from_the_one_behind_the_resistor() -> None:
    """A weak sink discharges the pin slowly: lifting that capacitor takes most off the fall, closed form per part."""
    stage = OutputStage(source_ohm=100.0, sink="pull_down", sink_ohm=50e3)
    board = BoardNetwork(stage=stage, pin_f=1e-6, series_ohm=4700.0, behind_f=0.1e-6)
    before, now = (
        {way: Estimate.measured("d", edge(n, rising=way == "rising").area_s(), u=1e-5, unit="s")
         for way in ("rising", "falling")}
        for n in (board, changed_network(board, "pin_f", None))
    )  # fmt: skip
    assert [change.change for change in changes_that_fit(board, before, now)] == ["1 uF lifted"]
    assert changes_that_fit(board, before, now)[0].network.pin_f == 0.0


def test_a_noted_change_is_held_against_what_was_measured() -> None:
    lifted = changed_network(RC, "behind_f", None)
    for ms, fits in ((0.05, True), (2.0, False)):
        found = change_from(RC, lifted, "c3 lifted", delays(4.7), delays(ms))
        assert found is not None
        assert (found.change, found.fits) == ("c3 lifted", fits)
    assert change_from(RC, lifted, "c3 lifted", bounds(0.2), delays(0.1)) is None


def test_a_small_change_is_held_to_a_share_of_what_it_changes() -> None:
    """4.3 for 4.7 kohm takes 0.4 of 4.7 ms off: 4.5 ms is another change."""
    smaller = changed_network(RC, "series_ohm", 4300.0)
    for ms, fits in ((4.32, True), (4.5, False)):
        found = change_from(RC, smaller, "r2 exchanged", delays(4.7), delays(ms))
        assert found is not None
        assert found.fits == fits


def test_a_slow_capture_alone_stands_for_one_filter() -> None:
    known = single_filter(delays(4.69), resistor_ohm=4700.0, capacitor_f=None)
    assert known is not None
    assert known.behind_f == pytest.approx(4.69e-3 / 4700)
    named = changes_that_fit(known, delays(4.69), delays(0.05), inferred="behind_f")
    assert named[0].change == "1 uF lifted"
    unknown = single_filter(delays(4.69), resistor_ohm=None, capacitor_f=None)
    assert unknown is not None
    found = changes_that_fit(unknown, delays(4.69), delays(0.05), by_value=False)
    assert [change.change for change in found] == ["the filter (its capacitor, say) lifted"]
    assert single_filter(delays(4.7, 90.0), resistor_ohm=4700.0, capacitor_f=None) is None
    assert single_filter(bounds(0.1), resistor_ohm=4700.0, capacitor_f=None) is None


def test_the_other_way_round_a_part_was_fitted() -> None:
    (first, *_) = changes_that_fit(RC, delays(4.7), delays(0.05))
    assert fitted(first, RC).change == "1 uF fitted"
    assert fitted(first, RC).network is RC
    assert not fitted(first, RC).predicted, "the value comes from the slower response: a prediction would be circular"
