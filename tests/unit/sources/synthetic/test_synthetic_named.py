"""The four named worlds."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.errors import SourceError
from feelcheck.sources.synthetic import named_world, quick_script, simulate_device, world_names


def test_every_named_world_runs_and_carries_its_name() -> None:
    script = quick_script(1, np.random.default_rng(1), rest_s=0.7)
    for name in world_names():
        device = simulate_device(named_world(name), script, np.random.default_rng(2))
        assert device.truth["world"] == name
        assert device.axis_names == ("left_x", "left_y", "right_x", "right_y")


def test_the_named_worlds_differ_as_told() -> None:
    assert world_names() == ("alder", "birch", "cedar", "elm")
    rising, falling = named_world("birch").network.poles_s[0]
    assert falling > 1.4 * rising
    assert named_world("cedar").network.poles_s[0][0] < 0.0005
    elm = named_world("elm")
    assert 1.0 / elm.sensor.refresh_s == pytest.approx(1500.0)
    assert elm.converter.bits == 8


def test_an_unknown_world_is_refused() -> None:
    with pytest.raises(SourceError, match=r"(?s)no simulated world of that name.*got: willow.*alder, birch"):
        named_world("willow")
