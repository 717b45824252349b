"""Each effect can be measured in what the pad sends or the host logs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from feelcheck.model import Recording
from feelcheck.sources.synthetic import (
    DeviceRun,
    World,
    quick_script,
    simulate_device,
    simulate_recording,
    world_with,
)
from feelcheck.sources.synthetic.host import Host

RNG = np.random.default_rng
SCRIPT = quick_script(4, RNG(1))


def world(effect: str, seed: int = 2, tau_s: float = 0.004) -> World:
    return world_with(effect, RNG(seed), tau_s=tau_s)


def device(effect: str, seed: int = 2) -> DeviceRun:
    return simulate_device(world(effect, seed), SCRIPT, RNG(3))


def log(effect: str) -> Recording:
    return simulate_recording(world(effect), SCRIPT, RNG(3))


def since_contact(run: DeviceRun, k: int = 0) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    contact_s = run.truth[f"left.contact_{k}.t_s"]
    assert isinstance(contact_s, float)
    return run.t_s - contact_s


def after(
    run: DeviceRun, start_s: float, end_s: float, k: int = 0
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    since_s = since_contact(run, k)
    return run.motion[(since_s > start_s) & (since_s < end_s)]


def test_bounce_leaves_the_rim_by_one_to_two_percent() -> None:
    run = device("bounce")
    lowest = min(np.hypot(*after(run, 0.0, 0.01, k).T).min() for k in range(4))
    assert 0.98 <= lowest < 0.995


def test_slide_turns_the_stick_within_30_ms() -> None:
    turned = []
    for k in range(4):
        x, y = after(device("slide"), 0.0002, 0.05, k).T
        angle = np.degrees(np.unwrap(np.arctan2(y, x)))
        turned.append(abs(angle[-1] - angle[0]))
        assert abs(angle[-1] - angle[34]) < 0.2
    assert max(turned) > 0.3


@pytest.mark.parametrize(("effect", "low", "high"), [("compliance", 1.003, 1.02), ("creep", 1.0015, 1.01)])
def test_the_rim_gives(effect: str, low: float, high: float) -> None:
    radius = np.hypot(*after(device(effect), 0.2, 0.3).T)
    assert low <= radius.mean() <= high


def test_compliance_is_over_in_50_ms_and_creep_is_not() -> None:
    for effect, low, high in (("compliance", 0.99, 1.01), ("creep", 0.1, 0.5)):
        give = np.hypot(*after(device(effect), 0.051, 0.4).T) - 1.0
        assert low < give[0] / give[-1] < high


def test_notches_stop_the_stick_at_different_distances() -> None:
    run = device("notches")
    radii = [np.hypot(*after(run, 0.1, 0.2, k).T).mean() for k in range(4)]
    assert np.ptp(radii) > 0.0005
    assert 0.92 < min(radii) <= max(radii) <= 1.0


def test_friction_spreads_the_rest_points() -> None:
    rests = {effect: device(effect).motion for effect in ("plain", "friction")}
    assert np.abs(rests["plain"][-300:]).max() < 1e-6
    assert 0.0005 < np.abs(rests["friction"][-300:]).max() < 0.02


def test_the_radial_clamp_keeps_codes_on_the_circle() -> None:
    run = device("radial_clamp")
    radius = np.hypot(*(run.codes / 32767.0).T)
    held = since_contact(run)
    assert radius.max() <= 1.0001
    assert radius[(held > 0.1) & (held < 0.2)].min() > 0.9999


def test_edge_clipping_pins_codes_at_full_scale_on_an_axial_flick() -> None:
    clipped = world("edge_clipping")
    gain = clipped.firmware.edge_gain
    codes = np.abs(device("edge_clipping").codes)
    assert codes.max() == pytest.approx(min(32767.0, gain * 32767.0 * np.abs(device("plain").motion).max()), rel=0.02)


def test_inverted_axes_turn_codes_against_motion() -> None:
    flipped = world("inverted_axes").firmware.inverted_axes
    run = device("inverted_axes")
    for column, name in enumerate(run.axis_names):
        slope = np.polyfit(run.motion[:, column], run.codes[:, column], 1)[0]
        assert (slope < 0.0) == (name in flipped)
        assert run.truth[f"{name}.polarity"] == np.sign(slope)


def test_widened_codes_stand_on_their_lattice() -> None:
    assert not np.any(device("widened_8_bit").codes % 257)


def test_loss_duplicates_and_silence_change_the_number_of_rows() -> None:
    n = log("plain").streams[0].codes.size
    assert log("loss").streams[0].codes.size == pytest.approx(0.98 * n, abs=4.0 * (0.02 * n) ** 0.5)
    assert log("duplicates").streams[0].codes.size == pytest.approx(1.02 * n, abs=4.0 * (0.02 * n) ** 0.5)
    assert log("on_change").streams[0].codes.size < 0.9 * n


@pytest.mark.parametrize(("effect", "longest_s"), [("plain", 0.0016), ("bursts", 0.005), ("stalls", 0.012)])
def test_stamps_hold_up(effect: str, longest_s: float) -> None:
    gaps_s = np.diff(log(effect).streams[0].time.t_s)
    assert gaps_s.max() < longest_s
    assert (gaps_s.max() > 0.0018) == (effect != "plain")


def test_the_clock_error_shows_in_the_mean_interval() -> None:
    recording = log("clock_error")
    t_s = recording.streams[0].time.t_s
    seen = (t_s[-1] - t_s[0]) / (t_s.size - 1)
    assert seen == pytest.approx(recording.truth["report_interval_s"], rel=4e-5)  # 0.3 ms of jitter over 9 s
    assert abs(seen / 0.001 - 1.0) > 4e-5


def test_drift_moves_the_rest_point() -> None:
    def wandered(effect: str) -> float:
        codes = device(effect).codes[:, 0]
        return abs(float(codes[-400:].mean() - codes[:400].mean()))

    assert wandered("drift") > 5.0 * max(wandered("plain"), 2.0)


def test_noise_is_louder() -> None:
    noise = {effect: device(effect).truth["left_x.rest_noise_counts"] for effect in ("plain", "noise")}
    assert noise["noise"] == pytest.approx(20.004 * (4.0 + 1.0 / 12.0) ** 0.5, rel=0.1)
    assert float(noise["plain"]) < 0.4 * float(noise["noise"])


def test_a_turned_sensor_mixes_the_axes() -> None:
    turned = world("turned_sensor").sensor.orientation_deg
    run = device("turned_sensor")
    held = (since_contact(run) > 0.1) & (since_contact(run) < 0.2)
    seen, true = run.codes[held].mean(axis=0), run.motion[held].mean(axis=0)
    angle = np.degrees(np.arctan2(seen[1], seen[0]) - np.arctan2(true[1], true[0]))
    assert angle == pytest.approx(-turned, abs=0.1)


def test_saturation_holds_back_the_codes_at_the_rim() -> None:
    level = world("saturation").sensor.saturation_level
    run = device("saturation")
    held = (since_contact(run) > 0.1) & (since_contact(run) < 0.2)
    seen, true = run.codes[held].mean(axis=0) / 32767.0, run.motion[held].mean(axis=0)
    assert seen == pytest.approx(level * np.tanh(true / level), abs=0.002)
    assert np.all(np.abs(seen) < 0.98 * np.abs(true))


def test_a_frame_rate_logger_sees_a_flick_once_or_twice() -> None:
    frames = replace(world("plain"), host=Host(style="table", poll_s=1.0 / 60.0, latest_only=True))
    recording = simulate_recording(frames, SCRIPT, RNG(3))
    t_s = recording.streams[0].time.t_s
    contact_s = recording.truth["left.contact_0.t_s"]
    assert isinstance(contact_s, float)
    assert np.median(np.diff(t_s)) == pytest.approx(1.0 / 60.0, rel=0.02)
    assert np.count_nonzero((t_s > contact_s - 0.03) & (t_s < contact_s)) <= 2


SAME_MOTION: dict[str, Callable[[DeviceRun], bool]] = {
    "loss": lambda run: bool(np.diff(run.t_s).max() > 0.0015),
    "duplicates": lambda run: bool(np.any(np.diff(run.t_s) == 0.0)),
    "bursts": lambda run: bool(np.any(run.sent_s > run.t_s)),
}


@pytest.mark.parametrize("effect", sorted(SAME_MOTION))
def test_the_device_itself_shows_its_bad_habits(effect: str) -> None:
    assert SAME_MOTION[effect](device(effect))
    assert not SAME_MOTION[effect](device("plain"))
