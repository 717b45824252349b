"""Repeats agree; captures of a change do not, whatever their statuses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.comparison import disagreements
from feelcheck.model import BenchDirection, BenchResult, Capture, Channel, Estimate, Provenance


def ms(value: float, u: float = 0.002, name: str = "smoothing_delay") -> Estimate:
    return Estimate.measured(name, value / 1e3, u=u / 1e3, unit="s")


def side(delay: Estimate) -> BenchDirection:
    blank = Estimate.not_resolved("x", unit="s")
    return BenchDirection(
        time_constant=delay.renamed("time_constant"), transition_10_90=blank, step_transition_10_90=blank,
        dead_time=blank, smoothing_delay=delay, mean_delay=blank, settled_fraction=blank,
    )  # fmt: skip


def capture(rising: Estimate, swing_v: float = 1.4, unit: str = "V") -> BenchResult:
    channel = Channel(name="out", values=np.zeros(2), unit=unit)
    return BenchResult(
        capture=Capture(t_s=np.arange(2.0), interval_s=1.0, channels=(channel,), provenance=Provenance()),
        drive_name=None, output_name="out", drive_transition=None, drive_swing=None, drive_kind="none",
        rising=side(rising), falling=None, asymmetry=Estimate.not_resolved("asymmetry", unit="ratio"),
        update_interval=Estimate.not_present("update_interval", unit="s"),
        noise=Estimate.measured("noise", 0.003, u=1e-4, unit=unit),
        swing=Estimate.measured("swing", swing_v, u=0.001, unit=unit),
    )  # fmt: skip


def named(*results: BenchResult) -> set[str]:
    return {one.quantity for one in disagreements(results)}


def test_repeats_agree_though_their_own_intervals_are_narrower_than_their_scatter() -> None:
    assert not named(capture(ms(4.70)), capture(ms(4.74)), capture(ms(4.66)))
    assert not named(capture(ms(0.020)), capture(ms(0.050)))
    assert not named(capture(ms(4.0, u=1.0)), capture(ms(6.0, u=1.0)))


@pytest.mark.parametrize("now", [ms(5.0), ms(0.01), Estimate.at_most("smoothing_delay", 2e-3, unit="s")])
def test_a_change_is_no_repeat(now: Estimate) -> None:
    assert named(capture(ms(4.7)), capture(ms(4.71)), capture(now)) == {"smoothing_delay", "time_constant"}


def test_a_bound_that_holds_the_other_value_agrees() -> None:
    assert not named(capture(ms(0.3)), capture(Estimate.at_most("smoothing_delay", 0.4e-3, unit="s")))
    assert not named(capture(ms(0.3)), capture(Estimate.not_resolved("smoothing_delay", unit="s")))


def test_swing_and_stairs_count_where_they_are_known_in_one_unit() -> None:
    assert named(capture(ms(4.7)), capture(ms(4.7), swing_v=1.2)) == {"swing"}
    assert not named(capture(ms(4.7)), capture(ms(4.7), swing_v=1400.0, unit="counts"))
    held = replace(capture(ms(4.7)), update_interval=ms(0.65, name="update_interval"))
    other = replace(capture(ms(4.7)), update_interval=ms(1.0, name="update_interval"))
    assert named(held, other) == {"update_interval"}
    assert not named(held, capture(ms(4.7)))


def test_the_pair_and_its_values_are_told() -> None:
    found = disagreements([capture(ms(4.7)), capture(ms(4.7)), capture(ms(9.0))])
    assert {(one.first, one.second, one.direction) for one in found} == {(0, 2, "rising"), (1, 2, "rising")}
    assert found[0].values[1].value == pytest.approx(9e-3)


def test_repeats_are_apart_only_beyond_their_wide_intervals() -> None:
    """0.65 ms apart with u 0.1 ms each: 95 % intervals are apart by more than a twentieth, those of 99.9 % touch."""
    assert not named(capture(ms(4.0, u=0.1)), capture(ms(4.65, u=0.1)))
    assert named(capture(ms(4.0, u=0.1)), capture(ms(5.0, u=0.1)))
