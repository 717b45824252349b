"""Scope settings: said where they bend the result, asked for where they matter."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest

from feelcheck.bench import measure_typed, setting_caveats
from feelcheck.model import BenchResult, Estimate
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.model.recording import Provenance


def result(ms: float = 10.0, **facts: str) -> BenchResult:
    edge = TypedEdge(direction="rising", t10_s=ms * 1e-4, t90_s=ms * 1.1e-3, time_error_s=ms * 1e-6)
    provenance = Provenance(path="birch.csv", format="capture", facts=MappingProxyType(facts))
    found = measure_typed([TypedReadings(edges=(edge,), provenance=provenance)])
    return replace(found, noise=Estimate.measured("noise", 0.002, u=1e-5, unit="V"))


def codes(found: BenchResult) -> list[str]:
    return [caveat.code for caveat in setting_caveats(found)]


def test_all_told_needs_no_word() -> None:
    assert codes(result(averaging="none", probe_point="sensor_pin")) == []


@pytest.mark.parametrize(
    ("ms", "facts", "asked"),
    [
        (10.0, {}, ["averaging", "probe point"]),
        (10.0, {"averaging": "1"}, ["probe point"]),
        (0.01, {"averaging": "1"}, ["probe point", "probe attenuation", "bandwidth limit"]),
    ],
)
def test_what_is_missing_and_matters_is_asked_for(ms: float, facts: dict[str, str], asked: list[str]) -> None:
    (caveat,) = setting_caveats(result(ms, **facts))
    assert caveat.code == "scope_settings_unknown"
    assert caveat.text.endswith(f"result: {', '.join(asked)}.")


def test_a_saturated_output_asks_for_the_supply() -> None:
    found = result(averaging="1", probe_point="pin")
    assert found.rising is not None
    (caveat,) = setting_caveats(replace(found, rising=replace(found.rising, saturated=True)))
    assert "supply" in caveat.text


def test_settings_that_bend_the_answer_are_said() -> None:
    assert codes(result(averaging="64", probe_point="pin", coupling="DC, AC")) == ["ac_coupled", "averaged"]
