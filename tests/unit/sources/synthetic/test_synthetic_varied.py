"""Random worlds and single effects."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import Action
from feelcheck.sources.synthetic import effects, quick_script, random_world, simulate_recording, world_with
from feelcheck.sources.synthetic.truth import step_counts

RNG = np.random.default_rng
SHORT = quick_script(1, RNG(1), rest_s=0.7)


@pytest.mark.parametrize("effect", effects())
def test_every_effect_gives_a_log(effect: str) -> None:
    world = world_with(effect, RNG(2), tau_s=0.004, report_interval_s=0.002, bits=10)
    recording = simulate_recording(world, SHORT, RNG(3))
    assert world.name == effect
    assert recording.truth["left.n_contacts"] == 1.0
    assert all(np.ptp(stream.fractions) > 0.4 for stream in recording.streams)


@pytest.mark.parametrize("effect", [effect for effect in effects() if effect != "plain"])
def test_every_effect_differs_from_plain(effect: str) -> None:
    logs = [simulate_recording(world_with(name, RNG(2)), SHORT, RNG(3)).streams[0] for name in ("plain", effect)]
    same_length = logs[0].codes.size == logs[1].codes.size
    assert not (same_length and np.array_equal(logs[0].codes, logs[1].codes)) or not np.array_equal(
        logs[0].time.t_hi_s, logs[1].time.t_hi_s
    )


def test_an_unknown_effect_is_refused() -> None:
    with pytest.raises(KeyError, match="levitation"):
        world_with("levitation", RNG(1))


def test_the_asked_parameters_are_kept() -> None:
    world = world_with("plain", RNG(1), tau_s=0.02, report_interval_s=0.008, bits=8)
    assert world.network.poles_s == ((0.02, 0.02),)
    assert world.reports.interval_s == 0.008
    assert step_counts(world, "left_x") == pytest.approx(32767.0 / (0.5 * 0.8 * 255))


def test_random_worlds_cover_the_range() -> None:
    worlds = [random_world(RNG(seed)) for seed in range(200)]
    intervals_s = [world.reports.interval_s for world in worlds]
    assert 0.001 <= min(intervals_s) < 0.0011
    assert 0.007 < max(intervals_s) <= 0.008
    assert {world.converter.bits for world in worlds} == {8, 9, 10, 11, 12}
    seen = {effect for world in worlds for effect in world.name.split("+")}
    assert seen == set(effects()) - {"plain"}


def test_effects_can_be_kept_out() -> None:
    worlds = [random_world(RNG(seed), chance=0.9, without=("adaptive_filter", "loss")) for seed in range(30)]
    assert all(world.firmware.adaptive is None and world.reports.loss_fraction == 0.0 for world in worlds)


def test_chance_nought_is_plain() -> None:
    assert random_world(RNG(1), chance=0.0).name == "plain"


def test_the_quick_script_alternates_flicks_and_releases_between_rests() -> None:
    script = quick_script(5, RNG(1))
    actions = [step.action for step in script.steps]
    assert actions == [Action.REST, *[Action.FLICK, Action.RELEASE] * 5, Action.REST]
    asked = [step.direction_deg for step in script.steps if step.direction_deg is not None]
    assert asked == pytest.approx([45.0, 225.0, 135.0, 315.0, 45.0], abs=8.1)


@pytest.mark.parametrize(
    ("effect", "step"), [("plain", 20.004), ("widened_8_bit", 257.0), ("recursive", 1.0), ("adaptive_filter", 1.0)]
)
def test_true_steps(effect: str, step: float) -> None:
    assert step_counts(world_with(effect, RNG(1)), "left_x") == pytest.approx(step, rel=1e-4)


def test_an_average_divides_the_step() -> None:
    world = world_with("average", RNG(1))
    assert step_counts(world, "left_x") == pytest.approx(20.0043 / world.firmware.average_n, rel=1e-4)
    codes = simulate_recording(world, SHORT, RNG(3)).streams[0].codes
    turns = (codes - codes[0]) / step_counts(world, "left_x")
    assert np.abs(turns - np.round(turns)).max() < 0.6 / step_counts(world, "left_x")
