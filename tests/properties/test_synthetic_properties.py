"""What holds for every simulated world, however it is drawn."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.sources.synthetic import quick_script, random_world, simulate_device, simulate_recording
from feelcheck.sources.synthetic.electronics import Network, smooth
from feelcheck.sources.synthetic.gimbal import Gimbal, backlash, free_return

SEEDS = st.integers(0, 2**32 - 1)
SCRIPT = quick_script(1, np.random.default_rng(1), rest_s=0.6)
MILD = settings(max_examples=15)


@MILD
@given(seed=SEEDS)
def test_codes_stay_in_16_bits_and_time_never_steps_back(seed: int) -> None:
    rng = np.random.default_rng(seed)
    device = simulate_device(random_world(rng, chance=0.5), SCRIPT, rng)
    assert device.codes.min() >= -32768
    assert device.codes.max() <= 32767
    assert np.all(np.diff(device.t_s) >= 0.0)
    assert np.all(device.sent_s >= device.t_s)
    assert np.abs(device.motion).max() < 1.15


@MILD
@given(seed=SEEDS, style=st.sampled_from(["events", "table"]))
def test_logs_are_sound(seed: int, style: str) -> None:
    rng = np.random.default_rng(seed)
    recording = simulate_recording(random_world(rng, style=style), SCRIPT, rng)
    for stream in recording.streams:
        assert np.all(stream.time.t_lo_s <= stream.time.t_hi_s)
        assert np.all(np.diff(stream.time.t_hi_s) >= 0.0)
        assert stream.codes.dtype == np.int64
    assert all(isinstance(value, float | str) for value in recording.truth.values())
    assert all(np.isfinite(value) for value in recording.truth.values() if isinstance(value, float))


@MILD
@given(seed=SEEDS, rising_s=st.floats(3e-4, 0.06), falling_s=st.floats(3e-4, 0.06))
def test_a_pole_never_leaves_the_range_of_its_input(seed: int, rising_s: float, falling_s: float) -> None:
    signal = np.cumsum(np.random.default_rng(seed).normal(0.0, 0.01, 3000))
    out = smooth(Network.one_pole(rising_s, falling_s), signal)
    assert signal.min() - 1e-9 <= out.min()
    assert out.max() <= signal.max() + 1e-9


@MILD
@given(
    start=st.floats(-1.0, 1.0),
    natural_hz=st.floats(30.0, 60.0),
    damping=st.floats(0.1, 0.7),
    friction_fs=st.floats(0.0, 0.03),
)
def test_a_return_never_gains_energy(start: float, natural_hz: float, damping: float, friction_fs: float) -> None:
    gimbal = Gimbal(natural_hz=natural_hz, damping=damping, friction_fs=friction_fs)
    path = free_return(gimbal, start, 20_000)
    assert np.abs(path).max() <= abs(start) + 1e-12
    assert abs(path[-1]) <= friction_fs + 1e-6


@MILD
@given(seed=SEEDS, play_fs=st.floats(0.0, 0.1))
def test_a_follower_stays_within_half_the_play(seed: int, play_fs: float) -> None:
    motion = np.cumsum(np.random.default_rng(seed).normal(0.0, 0.01, 300))
    assert np.abs(backlash(motion, play_fs) - motion).max() <= 0.5 * play_fs + 1e-12
