"""The spring return against the standard second-order step response.

Table: python-control `step_info` and the closed forms overshoot = exp(-pi zeta / sqrt(1 - zeta^2)) and peak time =
pi / sqrt(1 - zeta^2) at a natural frequency of 1 (tests/reference/data/step_response_second_order.csv). A return from
displacement 1 is one minus that step response.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import control
import numpy as np
import pytest

from feelcheck.numerics.spring_return import half_way_s, overshoot_of, return_path

pytestmark = pytest.mark.reference

LINES = (Path(__file__).parent / "data" / "step_response_second_order.csv").read_text(encoding="utf-8").splitlines()
ROWS = [row for row in csv.DictReader(LINES[1:]) if float(row["zeta"]) < 0.95]


@pytest.mark.parametrize("row", ROWS, ids=[row["zeta"] for row in ROWS])
def test_overshoot_and_half_way_instant_are_those_of_the_table(row: dict[str, str]) -> None:
    zeta = float(row["zeta"])
    # printed to 1e-6 %; the search grid of overshoot_of costs up to 2e-5 of the overshoot
    assert 100 * overshoot_of(1.0, zeta, 0.0) == pytest.approx(float(row["overshoot_percent"]), rel=1e-4, abs=2e-6)
    # linear interpolation on 1/200 of the span
    assert half_way_s(1.0, zeta, 0.0) == pytest.approx(float(row["t50"]), rel=1e-4)


@pytest.mark.parametrize("row", ROWS, ids=[row["zeta"] for row in ROWS])
def test_peak_and_settling_of_the_path_are_those_of_the_table(row: dict[str, str]) -> None:
    s = np.linspace(0.0, 60.0, 600_001)
    path = return_path(s, 1.0, float(row["zeta"]), 0.0)
    assert s[int(np.argmin(path))] == pytest.approx(float(row["peak_time"]), abs=2e-4)
    settled = s[int(np.flatnonzero(np.abs(path) > 0.02)[-1])]
    assert settled == pytest.approx(float(row["settle_2pc_from_step"]), abs=2e-4)


@pytest.mark.parametrize("tau_s", [0.0, 0.3, 2.0])
@pytest.mark.parametrize("zeta", [0.1, 0.5, 0.9])
def test_the_path_through_a_pole_is_that_of_python_control(zeta: float, tau_s: float) -> None:
    s = np.linspace(0.0, 20.0, 401)
    spring = control.tf([1.0], [1.0, 2 * zeta, 1.0])
    seen = (
        control.step_response(spring * control.tf([1.0], [tau_s, 1.0]), s).outputs
        if tau_s
        else (control.step_response(spring, s).outputs)
    )
    assert np.allclose(return_path(s, 1.0, zeta, tau_s), 1.0 - np.asarray(seen), atol=1e-6)


def test_logarithmic_decrement_gives_the_damping() -> None:
    # successive swings of a viscously damped ring fall by exp(-pi zeta / sqrt(1 - zeta^2)): common practice, no source
    zeta = 0.2
    s = np.linspace(0.0, 15.0, 30_001)
    path = return_path(s, 1.0, zeta, 0.0)
    ratio = path[s > math.pi].max() / -path.min()
    assert ratio == pytest.approx(math.exp(-math.pi * zeta / math.sqrt(1 - zeta**2)), rel=1e-3)
