"""The second world's logs: rows, hosts, radio, files, and what they say of themselves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from feelcheck.pipeline._hand import read_recording as read
from feelcheck.testing.in_hand import EFFECTS, HandLog, HandWorld, draw_world, simulate_log
from feelcheck.testing.in_hand.aim import flick_aims
from feelcheck.testing.in_hand.reports import arrivals, logged_rows, report_instants
from feelcheck.testing.in_hand.world import Firmware, Host, Link, Stage, Thumb

POLE = ((0.005, 0.005),)


def small(world: HandWorld) -> HandLog:
    quick = replace(world.thumb, push_s=(0.05, 0.06), hold_s=(0.15, 0.2))
    return simulate_log(replace(world, n_flicks=1, thumb=quick), np.random.default_rng(4))


@pytest.mark.parametrize("effect", EFFECTS)
def test_each_effect_changes_the_world_and_states_its_truth(effect: str) -> None:
    rng = np.random.default_rng(7)
    world = draw_world(effect, rng)
    plain = draw_world("plain", np.random.default_rng(7))
    assert (world != plain) == (effect != "plain")
    assert world.smoothing_delay_s("x", "rising") > 0.0


def test_one_seed_gives_one_log() -> None:
    world = HandWorld(poles_x_s=POLE, poles_y_s=POLE)
    first, second = small(world), small(world)
    assert np.array_equal(first.x, second.x)
    assert np.array_equal(first.t_s, second.t_s)


def test_the_truth_is_the_sum_of_poles_and_filters() -> None:
    stages = (Stage(kind="recursive", order=3), Stage(kind="boxcar", order=5))
    world = HandWorld(poles_x_s=((0.004, 0.006),), firmware=Firmware(stages=stages, update_s=0.0005))
    assert world.smoothing_delay_s("x", "falling") == pytest.approx(0.006 + 7 * 0.0005 + 2 * 0.0005)
    assert world.smoothing_delay_s("y", "rising") == pytest.approx(7 * 0.0005 + 2 * 0.0005)
    assert world.time_constant_s("x", "rising") == pytest.approx(0.004)
    assert HandWorld().time_constant_s("x", "rising") is None


def test_a_log_is_late_against_the_stick_by_its_smoothing_delay() -> None:
    """The area between two logs of one push, with and without electronics, is the push times the mean delay."""
    bare = HandWorld(host=Host(late_s=1e-9), firmware=Firmware(noise_codes=0.0))
    smoothed = replace(bare, poles_x_s=((0.004, 0.004),), poles_y_s=((0.009, 0.009),))
    fast, slow = small(bare), small(smoothed)
    held = int(0.4 / 0.001)
    for axis, delay_s in (("x", 0.004), ("y", 0.009)):
        ahead, behind = getattr(fast, axis).astype(float), getattr(slow, axis).astype(float)
        swing = ahead[held] - ahead[0]
        assert abs(swing) > 10_000
        assert np.sum(ahead[:held] - behind[:held]) / swing * 0.001 == pytest.approx(delay_s, rel=0.02)


def test_y_is_converted_later_than_x() -> None:
    base = HandWorld(host=Host(late_s=1e-9), firmware=Firmware(noise_codes=0.0))
    late = replace(base, firmware=replace(base.firmware, scan_delay_s=0.0008))
    at_once, scanned = small(base), small(late)
    assert np.array_equal(at_once.x, scanned.x)
    steep = slice(100, 330)
    moved = np.interp(at_once.t_s[steep] + 0.0008, at_once.t_s, at_once.y.astype(float))
    assert np.sqrt(np.mean((scanned.y[steep] - moved) ** 2)) < 0.3 * np.sqrt(
        np.mean((scanned.y[steep] - at_once.y[steep]) ** 2)
    )


def test_retries_delay_and_losses_drop() -> None:
    link = Link(report_s=0.004, retry_chance=0.2, retry_s=0.001, loss_chance=0.1)
    rng = np.random.default_rng(5)
    sent_s = report_instants(80.0, link, rng)
    arrived_s, kept = arrivals(sent_s, link, rng)
    late = np.rint((arrived_s - sent_s) / 0.001)
    assert np.mean(late >= 1) == pytest.approx(0.2, abs=0.02)
    assert np.mean(~kept) == pytest.approx(0.1, abs=0.02)
    assert np.all(np.diff(arrived_s) >= 0.0)


@pytest.mark.parametrize("style", ["every", "changes", "poller"])
def test_hosts_log_in_their_style(style: str) -> None:
    arrived_s = 0.004 * np.arange(1000.0)
    codes = np.repeat(np.arange(500), 2)[:, None] * np.ones((1, 2), dtype=int)
    host = Host(style=style, poll_s=0.001, late_s=1e-6)  # type: ignore[arg-type]
    t_s, rows = logged_rows(arrived_s, codes, host, np.random.default_rng(2))
    assert np.all(np.diff(t_s) >= 0.0)
    assert rows.size == pytest.approx({"every": 1000, "changes": 500, "poller": 3995}[style], abs=2)
    assert np.all(arrived_s[rows] <= t_s)
    assert np.all(np.diff(rows) == 2) if style == "changes" else np.all(np.diff(rows) <= 1)


def test_directions_are_as_asked() -> None:
    world = HandWorld(directions="eight", n_flicks=16, thumb=Thumb(aim_sd_deg=0.0))
    aim = flick_aims(world, 0.001, np.random.default_rng(1))
    middle = aim.x.shape[0] // 2
    asked = np.rad2deg(np.arctan2(aim.y[middle], aim.x[middle])) % 360
    assert np.allclose(np.sort(asked), np.repeat(np.arange(8) * 45.0, 2), atol=1e-6) or np.allclose(
        np.cos(np.deg2rad(8 * asked)), 1.0
    )


def test_a_file_reads_back_as_the_same_codes(tmp_path: Path) -> None:
    log = small(HandWorld(poles_x_s=POLE, poles_y_s=POLE))
    log.write_csv(tmp_path / "alder.csv")
    again = read(tmp_path / "alder.csv")
    memory = log.recording()
    for stream in memory.streams:
        other = again.stream(stream.name)
        assert np.array_equal(other.codes, stream.codes)
        assert np.allclose(other.time.t_s - other.time.t_s[0], stream.time.t_s - stream.time.t_s[0], atol=1e-6)
    assert memory.provenance.simulated
