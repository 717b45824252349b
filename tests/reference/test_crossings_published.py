"""Pulse parameters against closed forms and general-purpose software."""

import csv
from pathlib import Path

import control
import numpy as np
import pytest

from feelcheck.errors import NotEnoughDataError
from feelcheck.numerics.crossings import (
    crossing_instants,
    transition,
)

DATA = Path(__file__).parent / "data"
pytestmark = pytest.mark.reference


def table(name: str) -> list[dict[str, str]]:
    lines = [line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize("ramp", [0.5, 1.0, 3.7])
def test_sampled_trapezoid_is_exact(ramp: float) -> None:
    # constructed: t10-90 = 0.8 D and t50 = D / 2 hold exactly under linear interpolation
    t = np.linspace(-2.0, 8.0, 1601)
    y = np.clip(t / ramp, 0.0, 1.0)
    found = transition(t, y, 0.0, 1.0)
    assert found.duration == pytest.approx(0.8 * ramp, rel=1e-9)
    assert found.t50 == pytest.approx(ramp / 2, rel=1e-9)


def test_reference_levels_of_a_printed_example() -> None:
    # source: a numerical package's pulse-metrics page after IEEE Std 181-2003: states 0.0138 and 5.1848
    t = np.array([0.0, 1.0])
    y = np.array([0.0138, 5.1848])
    found = transition(t, y, *y)
    assert np.interp([found.t10, found.t90], t, y) == pytest.approx([0.5309, 4.6677], abs=5e-5)


@pytest.mark.parametrize("row", table("step_response_second_order.csv"), ids=lambda row: row["zeta"])
def test_second_order_table_and_step_info(row: dict[str, str]) -> None:
    # sources: closed form (table) and python-control step_info, good to its grid step
    zeta = float(row["zeta"])
    t = np.arange(0.0, 60.0, 1e-3)
    _, y = control.step_response(control.tf([1], [1, 2 * zeta, 1]), T=t)
    found = transition(t, y, 0.0, 1.0)
    info = control.step_info(y, T=t, yfinal=1.0)
    assert found.duration == pytest.approx(float(row["t10_90"]), abs=1e-5)
    assert found.duration == pytest.approx(info["RiseTime"], abs=2.1e-3)


@pytest.mark.parametrize("row", table("step_response_two_poles.csv"), ids=lambda row: row["r"])
def test_two_pole_table(row: dict[str, str]) -> None:
    r, t = float(row["r"]), np.arange(0.0, 40.0, 5e-4)
    y = 1 - (np.exp(-t) - r * np.exp(-t / r)) / (1 - r)
    found = transition(t, y, 0.0, 1.0)
    assert (found.t10, found.t50, found.t90) == pytest.approx([float(row[k]) for k in ("t10", "t50", "t90")], abs=1e-5)


def test_a_falling_noisy_waveform_falls() -> None:
    rng = np.random.default_rng(5)
    t = np.linspace(0.0, 1.0, 4000)
    y = np.where(t < 0.4, 3.3, 0.2) + 0.01 * rng.standard_normal(t.size)
    assert not transition(t, y, 3.3, 0.2).rising


def test_flat_and_unfinished_waveforms() -> None:
    t = np.linspace(0.0, 1.0, 50)
    assert crossing_instants(t, t, 2.0).size == 0
    with pytest.raises(NotEnoughDataError, match="10, 50 and 90 % levels"):
        transition(t, t, 0.0, 2.0)
