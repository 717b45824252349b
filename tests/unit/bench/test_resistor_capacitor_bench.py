"""Ordinary resistor-capacitor captures as they are met on benches: cut, unfinished, with the current beside."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.model import BenchResult, Capture, Channel, Provenance

TAU_S = 1e-3


def measured(t: np.ndarray, **columns: tuple[str, np.ndarray]) -> BenchResult:
    """The response of named columns, each a unit and values, 0.3 % noise on all."""
    rng = np.random.default_rng(8)
    channels = tuple(
        Channel(name=name, values=values + 3e-3 * float(np.ptp(values)) * rng.standard_normal(t.size), unit=unit)
        for name, (unit, values) in columns.items()
    )
    return measure_response(Capture(t_s=t, interval_s=float(t[1] - t[0]), channels=channels, provenance=Provenance()))


def charge(t: np.ndarray, half_s: float = np.inf) -> np.ndarray:
    """A capacitor charged from 0 s on, discharged and charged again every `half_s`."""
    if not np.isfinite(half_s):
        return np.asarray(-np.expm1(-np.maximum(t, 0.0) / TAU_S))
    way = np.zeros(t.size)
    level, n = 0.0, 0
    while n * half_s < t[-1]:
        target = float(n % 2 == 0)
        inside = t >= n * half_s
        way[inside] = target + (level - target) * np.exp(-(t[inside] - n * half_s) / TAU_S)
        level = target + (level - target) * float(np.exp(-half_s / TAU_S))
        n += 1
    return way


@pytest.mark.parametrize("top", [0.7, 0.8, 0.9])
def test_an_output_cut_at_a_rail_is_fitted_up_to_the_rail(top: float) -> None:
    t = np.linspace(-1e-3, 9e-3, 4000)
    found = measured(t, U=("V", np.minimum(charge(t), top))).rising
    assert found is not None
    assert found.time_constant.value == pytest.approx(TAU_S, rel=0.03)
    assert "flat_top" in [caveat.code for caveat in found.time_constant.caveats]


@pytest.mark.parametrize("with_drive", [True, False])
def test_a_discharge_that_ends_at_three_quarters_still_has_its_time_constant(with_drive: bool) -> None:
    t = np.linspace(-1e-3, 1.35e-3, 3000)
    columns = {"U": ("V", 1.0 - charge(t))}
    if with_drive:
        columns = {"Gen": ("V", np.where(t < 0, 1.0, 0.0))} | columns
    found = measured(t, **columns).falling
    assert found is not None
    assert found.time_constant.value == pytest.approx(TAU_S, rel=0.03)


@pytest.mark.parametrize("half_s", [np.inf, 10e-3])
def test_the_current_into_the_capacitor_is_no_drive(half_s: float) -> None:
    t = np.linspace(-2e-3, 28e-3, 6000)
    way = charge(t, half_s)
    source = np.where(t < 0, 0.0, 1.0) if not np.isfinite(half_s) else np.where((t >= 0) & (t // half_s % 2 == 0), 1, 0)
    result = measured(t, U_C=("V", way), I=("A", source - way))
    assert result.output_name == "U_C"
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.02)


@pytest.mark.parametrize("half_s", [np.inf, 10e-3])
def test_a_current_named_the_drive_is_refused_as_one(half_s: float) -> None:
    t = np.linspace(-2e-3, 28e-3, 6000)
    way = charge(t, half_s)
    source = np.where(t < 0, 0.0, 1.0) if not np.isfinite(half_s) else np.where((t >= 0) & (t // half_s % 2 == 0), 1, 0)
    current = Channel(name="I", values=source - way, unit="A", role="drive")
    output = Channel(name="U_C", values=way + 1e-3 * np.random.default_rng(3).standard_normal(t.size), unit="V")
    result = measure_response(Capture(t_s=t, interval_s=5e-6, channels=(current, output), provenance=Provenance()))
    assert result.drive_name is None
    assert "drive_returns" in [caveat.code for caveat in result.caveats]
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.02)
