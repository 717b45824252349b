"""The truth that travels with a simulated log."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.sources.synthetic import World, named_world, quick_script, simulate_device, world_with
from feelcheck.sources.synthetic.electronics import Network
from feelcheck.sources.synthetic.firmware import Firmware
from feelcheck.sources.synthetic.truth import Truth, step_counts

RNG = np.random.default_rng
SCRIPT = quick_script(2, RNG(1))


def truth(world: World) -> Truth:
    return dict(simulate_device(world, SCRIPT, RNG(2)).truth)


def test_directions_have_their_own_entries() -> None:
    birch = truth(named_world("birch"))
    assert (birch["left_x.rising.tau_s"], birch["left_x.falling.tau_s"]) == (0.009, 0.014)
    assert birch["right_y.falling.smoothing_delay_s"] == 0.014


def test_the_slowest_pole_is_the_time_constant_and_all_poles_are_the_delay() -> None:
    world = replace(world_with("plain", RNG(1)), network=Network(poles_s=((0.002, 0.002), (0.007, 0.007))))
    told = truth(world)
    assert told["left_x.rising.tau_s"] == 0.007
    assert told["left_x.rising.poles_s"] == "0.007 0.002"
    assert told["left_x.rising.smoothing_delay_s"] == pytest.approx(0.009)


def test_no_poles_are_no_delay() -> None:
    told = truth(replace(world_with("plain", RNG(1)), network=Network(poles_s=())))
    assert told["left_x.rising.tau_s"] == 0.0
    assert told["left_x.rising.poles_s"] == ""


def test_dead_time_stands_apart() -> None:
    world = world_with("plain", RNG(1), tau_s=0.004)
    told = truth(replace(world, network=replace(world.network, dead_time_s=0.003)))
    assert told["left_x.falling.dead_time_s"] == 0.003
    assert told["left_x.falling.smoothing_delay_s"] == 0.004


def test_an_adaptive_filter_is_told_by_its_ends() -> None:
    world = world_with("adaptive_filter", RNG(1), tau_s=0.004)
    told = truth(world)
    assert world.firmware.adaptive is not None
    assert told["left_x.adaptive.slow_s"] == world.firmware.adaptive.slow_s
    assert told["left_x.rising.tau_s"] == 0.004
    assert "left_x.adaptive.slow_s" not in truth(world_with("plain", RNG(1)))


def test_the_ring_is_told_as_it_can_be_seen() -> None:
    world = world_with("plain", RNG(1))
    told = truth(replace(world, gimbal=replace(world.gimbal, natural_hz=50.0, damping=0.6)))
    assert told["release.natural_hz"] == 50.0
    assert told["release.ring_hz"] == pytest.approx(40.0)


def test_the_update_interval_is_the_slowest_of_the_chain() -> None:
    assert truth(named_world("elm"))["left_x.update_interval_s"] == pytest.approx(0.001, rel=1e-4)
    refreshed = world_with("refresh", RNG(1))
    assert truth(refreshed)["left_x.update_interval_s"] == refreshed.sensor.refresh_s > 0.001


def test_the_clock_error_is_part_of_the_true_interval() -> None:
    assert truth(named_world("cedar"))["report_interval_s"] == pytest.approx(0.00100004, rel=1e-9)


def test_contacts_and_releases_are_counted_and_timed() -> None:
    told = truth(world_with("plain", RNG(1)))
    assert told["left.n_contacts"] == 2.0
    times = [told[key] for key in ("left.contact_0.t_s", "left.release_0.t_s", "left.contact_1.t_s")]
    assert times == sorted(times, key=float)


@pytest.mark.parametrize(("gain", "dead"), [(1.0, 0.0), (1.06, 0.0), (1.0, 0.05)])
def test_the_step_is_the_spacing_of_the_levels_that_are_seen(gain: float, dead: float) -> None:
    world = world_with("plain", RNG(1), tau_s=0.001, bits=8)
    world = replace(world, firmware=Firmware(edge_gain=gain, dead_zone_fraction=dead))
    codes = simulate_device(world, SCRIPT, RNG(2)).codes[:, 0]
    levels = np.unique(codes[codes > 0.1 * 32767])
    spacing = np.diff(levels)
    step = step_counts(world, "left_x")
    assert np.abs(spacing / step - np.round(spacing / step)).max() < 1.5 / step
    assert spacing.min() == pytest.approx(step, abs=1.0)


def test_native_codes_step_by_one() -> None:
    world = replace(world_with("plain", RNG(1)), firmware=Firmware(output="native"))
    assert step_counts(world, "left_x") == 1.0


def test_truth_is_plain_numbers_and_words() -> None:
    assert {type(value) for value in truth(named_world("alder")).values()} == {float, str}
