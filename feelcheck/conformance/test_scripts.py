"""The suite of flick scripts: each can be loaded by name, asked of a person, and played by the simulated one."""

from __future__ import annotations

import numpy as np

from feelcheck.model import Action
from feelcheck.plugins import Plugin
from feelcheck.recorder import load_script
from feelcheck.sources.synthetic import named_world, simulate_recording

LONGEST_S = 600.0


def test_a_script_is_loaded_by_its_name(flick_script: Plugin) -> None:
    """It has steps, a title and an end."""
    script = load_script(flick_script.name)
    assert script.name == flick_script.name
    assert script.title
    assert 0 < script.duration_s <= LONGEST_S


def test_every_flick_has_a_direction_and_an_end(flick_script: Plugin) -> None:
    """A flick says where to, and is followed by a release of the same stick before the next one."""
    out: set[str] = set()
    for step in load_script(flick_script.name).steps:
        if step.action is Action.FLICK:
            assert step.direction_deg is not None
            assert step.stick not in out
            out.add(step.stick)
        elif step.action is Action.RELEASE:
            out.discard(step.stick)
    assert not out


def test_the_simulated_person_can_play_it(flick_script: Plugin) -> None:
    """The recording lasts as long as the script and keeps its requests."""
    script = load_script(flick_script.name)
    recording = simulate_recording(named_world("alder"), script, np.random.default_rng(1))
    assert recording.streams[0].time.t_s[-1] <= script.duration_s + 1.0
    assert [cue.action for cue in recording.cues] == [step.action for step in script.steps]
