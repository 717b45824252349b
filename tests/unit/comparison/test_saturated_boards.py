"""A saturated output: its flat tops reach the record and stand against another board's."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_repeats
from feelcheck.model import BenchRecord, Profile
from feelcheck.pipeline._chain import sensors_of
from feelcheck.pipeline._specimens import Specimen
from feelcheck.profiles import bench_record_of
from feelcheck.testing.bench_world import BenchWorld, Parts, Sensor, simulate_capture


def captured(low_v: float, high_v: float) -> BenchRecord:
    world = BenchWorld(sensor=Sensor(low_v=low_v, high_v=high_v), parts=Parts(r_series_ohm=2000.0, c_behind_f=1e-6))
    return bench_record_of(measure_repeats([simulate_capture(world, np.random.default_rng(1))]), axis="left_x")


def test_flat_tops_of_two_boards_set_their_sensors_apart() -> None:
    narrow, wide = captured(0.55, 1.25), captured(0.48, 1.32)
    swing = narrow.overall["saturation_swing"]
    assert swing.value == pytest.approx(0.70, rel=0.02)
    pair = [
        Specimen(profile=Profile(specimen=name, bench=(record,)), state="as_found")
        for name, record in (("alder", narrow), ("elm", wide))
    ]
    (found,) = sensors_of(pair)
    assert (found.verdict, found.decided_by) == ("different", ("saturation swing",))


def test_an_output_that_follows_its_drive_has_no_flat_tops() -> None:
    assert "saturation_swing" not in captured(-1e9, 1e9).overall
