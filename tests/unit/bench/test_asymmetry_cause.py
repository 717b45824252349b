"""Each cause of an asymmetry, and no cause where there is none."""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, simulate_capture

SCOPE = Scope(interval_s=40e-6)


def test_strong_output_with_the_same_capacitor_is_symmetric() -> None:
    parts = Parts(sink="strong", r_source_ohm=4e3, c_pin_f=1e-6)
    result = measure_response(simulate_capture(BenchWorld(parts=parts, scope=SCOPE), np.random.default_rng(1)))
    assert result.asymmetry.value == pytest.approx(1.0, abs=0.03)
    assert result.asymmetry.caveats == ()


@pytest.mark.parametrize("sink", ["current", "resistor"])
def test_capacitor_on_a_weakly_sinking_pin_is_named(sink: Literal["current", "resistor"]) -> None:
    parts = Parts(sink=sink, sink_a=60e-6, sink_ohm=15e3, c_pin_f=0.6e-6)
    result = measure_response(simulate_capture(BenchWorld(parts=parts, scope=SCOPE), np.random.default_rng(2)))
    causes = {caveat.code for caveat in result.asymmetry.caveats}
    assert causes & {"asymmetry_weak_sink", "asymmetry_capacitor_on_pin"}
    assert any("capacitor" in caveat.advice.lower() for caveat in result.asymmetry.caveats)


def test_without_a_drive_the_drive_may_be_the_cause() -> None:
    coil = Coil(shape="exponential", rise_s=1e-3, fall_s=8e-3)
    scope = Scope(interval_s=40e-6, has_drive=False)
    result = measure_response(simulate_capture(BenchWorld(coil=coil, scope=scope), np.random.default_rng(3)))
    assert {caveat.code for caveat in result.asymmetry.caveats} == {"asymmetry_cannot_tell"}
    assert "drive" in result.asymmetry.caveats[0].advice


def test_truth_travels_with_a_simulated_capture() -> None:
    world = BenchWorld(parts=Parts(poles_s=(2e-3, 5e-3)), truth=MappingProxyType({"board": "none"}))
    capture = simulate_capture(world, np.random.default_rng(4))
    assert capture.truth["time_constant_s"] == 5e-3
    assert capture.truth["smoothing_delay_s"] == pytest.approx(7e-3)
    assert capture.provenance.simulated
