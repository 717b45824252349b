"""The whole chain: motion, device run, log, truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.errors import SourceError
from feelcheck.model import Action, Recording, Script, Step, Stream
from feelcheck.sources.synthetic import (
    AxisParts,
    DeviceRun,
    World,
    quick_script,
    simulate_device,
    simulate_recording,
    world_with,
)
from feelcheck.sources.synthetic.converter import Converter
from feelcheck.sources.synthetic.electronics import Network
from feelcheck.sources.synthetic.firmware import Firmware
from feelcheck.sources.synthetic.gimbal import Gimbal
from feelcheck.sources.synthetic.host import Host
from feelcheck.sources.synthetic.reports import Reports
from feelcheck.sources.synthetic.sensor import Sensor
from feelcheck.sources.synthetic.thumb import Thumb

FLICKS = quick_script(4, np.random.default_rng(7))
CLEAN = World(
    name="clean",
    sticks=("left",),
    thumb=Thumb(tremor_fs=0.0),
    gimbal=Gimbal(bounce_fs=0.0),
    sensor=Sensor(noise_fs=0.0),
    network=Network.one_pole(0.006, 0.012),
    converter=Converter(bits=16, span_fraction=1.0, noise_lsb=0.0, latency_s=0.0, skew_s=0.0),
)


def run(world: World, script: Script = FLICKS, seed: int = 1) -> DeviceRun:
    return simulate_device(world, script, np.random.default_rng(seed))


def record(world: World, script: Script = FLICKS, seed: int = 1) -> Recording:
    return simulate_recording(world, script, np.random.default_rng(seed))


def number(truth: object) -> float:
    assert isinstance(truth, float)
    return truth


def steps(*steps: Step) -> Script:
    return Script(name="test", title="test", steps=steps)


def decay_s(device: DeviceRun, axis: int, after_s: float, for_s: float) -> float:
    """Time constant of the way to the final code, from a straight line through its logarithm."""
    t_s, codes = device.t_s, device.codes[:, axis]
    window = (t_s > after_s + 0.001) & (t_s < after_s + for_s)
    final = codes[(t_s > after_s + 0.3) & (t_s < after_s + 0.4)].mean()
    slope = np.polyfit(t_s[window], np.log(np.abs(codes[window] - final)), 1)[0]
    return float(-1.0 / slope)


def test_after_contact_the_codes_settle_with_the_true_time_constant() -> None:
    device = run(CLEAN)
    out_and_up = number(device.truth["left.contact_0.t_s"])
    out_and_down = number(device.truth["left.contact_1.t_s"])
    assert decay_s(device, 0, out_and_up, 0.03) == pytest.approx(0.006, rel=0.01)
    assert decay_s(device, 0, out_and_down, 0.05) == pytest.approx(0.012, rel=0.01)


def test_the_truth_follows_the_codes_of_an_axis_turned_by_the_firmware() -> None:
    device = run(replace(CLEAN, firmware=Firmware(inverted_axes=("left_x",))))
    assert device.truth["left_x.rising.tau_s"] == 0.012
    assert device.truth["left_x.polarity"] == -1.0
    assert device.truth["left_y.rising.tau_s"] == 0.006
    assert decay_s(device, 0, number(device.truth["left.contact_1.t_s"]), 0.05) == pytest.approx(0.012, rel=0.01)
    assert decay_s(device, 1, number(device.truth["left.contact_0.t_s"]), 0.03) == pytest.approx(0.006, rel=0.01)


def test_an_inverted_sensor_keeps_the_electrical_directions() -> None:
    device = run(replace(CLEAN, sensor=Sensor(noise_fs=0.0, inverted=True)))
    assert device.truth["left_x.rising.tau_s"] == 0.006
    assert device.truth["left_x.polarity"] == -1.0
    assert decay_s(device, 0, number(device.truth["left.contact_0.t_s"]), 0.05) == pytest.approx(0.012, rel=0.01)


def test_one_axis_can_have_its_own_parts() -> None:
    slow = replace(CLEAN, axes={"left_y": AxisParts(network=Network.one_pole(0.02))})
    device = run(slow)
    assert device.truth["left_y.rising.tau_s"] == 0.02
    assert decay_s(device, 1, number(device.truth["left.contact_0.t_s"]), 0.06) == pytest.approx(0.02, rel=0.01)


def test_dead_time_and_latency_shift_the_codes() -> None:
    late = replace(CLEAN, network=replace(CLEAN.network, dead_time_s=0.002))
    prompt, delayed = run(CLEAN).codes[:, 0], run(late).codes[:, 0]
    assert delayed[2:] == pytest.approx(prompt[:-2], abs=1.0)


def test_every_flick_meets_the_rim_once_near_the_asked_direction() -> None:
    truth = run(CLEAN).truth
    assert truth["left.n_contacts"] == 4.0
    asked = [step.direction_deg for step in FLICKS.steps if step.direction_deg is not None]
    done = [number(truth[f"left.contact_{k}.direction_deg"]) for k in range(4)]
    assert done == pytest.approx(asked, abs=20.0)


def test_the_stick_rests_between_and_rests_are_quiet() -> None:
    # Sheppard: rounding adds 1/12 of a squared step to the variance.
    device = run(replace(CLEAN, converter=Converter(bits=12, span_fraction=0.8, noise_lsb=3.0)))
    expected = 32767.0 / (0.5 * 0.8 * 4095) * (3.0**2 + 1.0 / 12.0) ** 0.5
    for name in device.axis_names:
        assert device.truth[f"{name}.rest_noise_counts"] == pytest.approx(expected, rel=0.06)
    assert np.all(device.motion[device.t_s < 1.5] == 0.0)


def test_release_takes_place_after_the_request() -> None:
    truth = run(CLEAN).truth
    asked_s = 1.5 + 0.75
    assert asked_s + 0.12 <= number(truth["left.release_0.t_s"]) < asked_s + 0.5


def test_a_script_without_time_is_refused() -> None:
    with pytest.raises(SourceError, match=r"(?s)needs a script that takes some time.*duration_s: 0"):
        run(CLEAN, steps())


def test_hurried_requests_never_make_the_stick_jump() -> None:
    hurried = [Step(action=Action.FLICK, duration_s=0.05, direction_deg=float(d)) for d in range(0, 720, 40)]
    motion = run(CLEAN, steps(*hurried, Step(action=Action.REST, duration_s=0.5))).motion
    fastest = 2.0 * np.pi * CLEAN.gimbal.natural_hz  # of a free return from the rim, throws/s; no flick is faster
    assert np.abs(np.diff(motion, axis=0)).max() < fastest * 0.001


def test_a_roll_goes_once_round_the_rim() -> None:
    script = steps(
        Step(action=Action.ROLL, duration_s=5.0, direction_deg=0.0), Step(action=Action.REST, duration_s=1.0)
    )
    device = run(CLEAN, script)
    x, y = device.motion.T
    at_rim = np.hypot(x, y) > 0.99
    turned = np.unwrap(np.arctan2(y[at_rim], x[at_rim]))
    assert turned[-1] - turned[0] == pytest.approx(2.0 * np.pi, abs=0.05)
    assert np.count_nonzero(at_rim) * 0.001 > 3.0


def test_a_press_gives_a_button() -> None:
    device = run(CLEAN, steps(Step(action=Action.PRESS, duration_s=1.0)))
    assert [(name, value) for _, name, value in device.buttons] == [("left_press", 1), ("left_press", 0)]


def test_a_rim_button_marks_the_contacts() -> None:
    recording = record(replace(CLEAN, rim_button="marker", rim_button_delay_s=0.002))
    down = [event for event in recording.buttons if event.value == 1]
    assert len(down) == 4
    for k, event in enumerate(down):
        contact_s = number(recording.truth[f"left.contact_{k}.t_s"])
        assert contact_s + 0.002 < event.t_hi_s < contact_s + 0.004


def test_tied_sticks_move_together_within_the_play() -> None:
    tied = replace(CLEAN, sticks=("left", "right"), gimbal=replace(CLEAN.gimbal, tied=True, play_fs=0.02))
    device = run(tied)
    apart = device.motion[:, 2:] - device.motion[:, :2]
    assert np.abs(apart).max() == pytest.approx(0.01, rel=1e-3)


def test_free_sticks_move_on_their_own_requests() -> None:
    device = run(replace(CLEAN, sticks=("left", "right")))
    assert np.ptp(device.motion[:, 0]) > 1.0
    assert not device.motion[:, 2:].any()


def test_coupling_shows_on_the_other_axis() -> None:
    axial = steps(Step(action=Action.FLICK, duration_s=1.0, direction_deg=0.0))
    straight = replace(CLEAN, thumb=Thumb(tremor_fs=0.0, spread_deg=0.0))
    coupled = replace(straight, gimbal=replace(CLEAN.gimbal, coupling_fraction=0.03))
    assert run(straight, axial).motion[-1] == pytest.approx([1.0, 0.0], abs=1e-9)
    assert run(coupled, axial).motion[-1] == pytest.approx([1.0, 0.03], abs=1e-9)


def test_a_slow_converter_repeats_its_values() -> None:
    device = run(replace(CLEAN, converter=replace(CLEAN.converter, interval_s=0.0025)))
    moving = np.diff(device.codes[:, 0])[(device.t_s[1:] > 1.5)]
    runs = np.diff(np.flatnonzero(moving))
    assert set(runs[runs < 5].tolist()) == {2, 3}
    assert device.truth["left_x.update_interval_s"] == 0.0025


def test_axes_are_scanned_in_turn() -> None:
    skewed = replace(CLEAN, network=Network.one_pole(0.003), converter=replace(CLEAN.converter, skew_s=0.001))
    both, skew = run(replace(CLEAN, network=Network.one_pole(0.003))).codes, run(skewed).codes
    assert skew[1:, 0] == pytest.approx(both[:-1, 0], abs=1.0)
    assert skew[:, 1].tolist() == both[:, 1].tolist()


def test_an_average_is_part_of_the_true_smoothing_delay() -> None:
    truth = run(replace(CLEAN, firmware=Firmware(average_n=5, recursive_s=0.004))).truth
    assert truth["left_x.rising.smoothing_delay_s"] == pytest.approx(0.006 + 0.004 + 0.002)
    assert truth["left_x.rising.poles_s"] == "0.006 0.004"


def test_an_event_log_has_brackets_and_changes_only() -> None:
    recording = record(CLEAN)
    for stream in recording.streams:
        assert stream.reports == "on_change"
        assert np.all(np.diff(stream.codes) != 0)
        assert np.all(stream.time.t_lo_s < stream.time.t_hi_s)
    assert recording.provenance.simulated
    assert [cue.action for cue in recording.cues] == [step.action for step in FLICKS.steps]


def test_a_table_has_one_stamp_and_one_row_a_report() -> None:
    recording = record(replace(CLEAN, host=Host(style="table")))
    first, second = recording.streams
    assert first.time is second.time
    assert first.codes.size == pytest.approx(FLICKS.duration_s / 0.001, abs=2)
    assert first.reports == "every"
    assert record(replace(CLEAN, host=Host(style="table"), reports=Reports(on_change=True))).streams[0].reports == (
        "on_change"
    )


def test_true_instants_lie_in_the_brackets_when_the_way_is_short() -> None:
    world = replace(CLEAN, host=Host(jitter_s=1e-9))
    device, stream = run(world), record(world).stream("left_x")
    changed = np.append(True, np.diff(device.codes[:, 0]) != 0)
    true_s = device.t_s[changed]
    assert np.all((stream.time.t_lo_s < true_s) & (true_s <= stream.time.t_hi_s))


@pytest.mark.parametrize("style", ["table", "events"])
def test_the_same_seed_gives_the_same_log(style: str) -> None:
    def log(seed: int) -> list[Stream]:
        return list(record(world_with("bounce", np.random.default_rng(3), style=style), seed=seed).streams)

    for one, two in zip(log(5), log(5), strict=True):
        assert np.array_equal(one.codes, two.codes)
        assert np.array_equal(one.time.t_hi_s, two.time.t_hi_s)
    assert not np.array_equal(log(5)[0].codes[:2000], log(6)[0].codes[:2000])
