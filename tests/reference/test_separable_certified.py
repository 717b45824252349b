"""Separable fits against NIST/ITL Statistical Reference Datasets, Nonlinear Regression (public domain)."""

import re
import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

DATA = Path(__file__).parent / "data"
fit_exponentials: Any = runpy.run_path(str(Path(__file__).with_name("exponentials.py")))["fit_exponentials"]
pytestmark = pytest.mark.reference


def certified(name: str) -> tuple[np.ndarray, dict[str, tuple[float, float]], float, int]:
    """Return the data, certified (value, sd) by name, residual sum of squares and dof."""
    text = (DATA / f"nist_strd_nonlinear_{name}.csv").read_text()
    rows = [line.split(",") for line in text.splitlines() if line[0] not in "#x"]
    values = {
        key: (float(value), float(sd)) for key, value, sd in re.findall(r"certified (b\d) = (\S+)  sd = (\S+)", text)
    }
    rss, dof = re.search(r"residual_sum_of_squares = (\S+) .* dof = (\d+)", text).groups()  # type: ignore[union-attr]
    return np.array(rows, dtype=float), values, float(rss), int(dof)


def by_rate(found: Any) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Amplitudes, their SDs, rates and their SDs: from the slowest rate to the fastest."""
    return found.amplitude, found.u_amplitude, 1 / found.tau, found.u_tau / found.tau**2


@pytest.mark.parametrize("name", ["misra1a", "boxbod"])
def test_edge_with_onset_and_offset_held_fixed(name: str) -> None:
    data, values, rss, dof = certified(name)
    found = fit_exponentials(data[:, 0], data[:, 1], 1, offset=0.0, onset_fixed=0.0)
    amplitude, u_amplitude, rate, u_rate = by_rate(found)
    assert (amplitude[0], rate[0]) == pytest.approx([values[b][0] for b in ("b1", "b2")], rel=1e-6)
    assert (u_amplitude[0], u_rate[0]) == pytest.approx([values[b][1] for b in ("b1", "b2")], rel=1e-5)
    assert found.fit.rss == pytest.approx(rss, rel=1e-8)
    assert (found.fit.dof, found.fit.valid) == (dof, True)


def test_two_exponentials_and_a_free_offset() -> None:
    data, values, rss, dof = certified("mgh17")
    found = fit_exponentials(data[:, 0], data[:, 1], 2)
    got = [found.offset, *found.amplitude, *(1 / found.tau)]
    u_got = [found.u_offset, *found.u_amplitude, *(found.u_tau / found.tau**2)]
    assert got == pytest.approx([values[f"b{k}"][0] for k in range(1, 6)], rel=1e-6)
    assert u_got == pytest.approx([values[f"b{k}"][1] for k in range(1, 6)], rel=1e-5)
    assert found.fit.rss == pytest.approx(rss, rel=1e-8)
    assert found.fit.dof == dof


@pytest.mark.parametrize("name", ["lanczos2", "lanczos3"])
def test_three_exponentials_that_hardly_differ(name: str) -> None:
    data, values, rss, _ = certified(name)
    found = fit_exponentials(data[:, 0], data[:, 1], 3, offset=0.0)
    amplitude, u_amplitude, rate, u_rate = by_rate(found)
    assert amplitude == pytest.approx([values[b][0] for b in ("b1", "b3", "b5")], rel=1e-4)
    assert rate == pytest.approx([values[b][0] for b in ("b2", "b4", "b6")], rel=1e-4)
    assert u_amplitude == pytest.approx([values[b][1] for b in ("b1", "b3", "b5")], rel=1e-3)
    assert u_rate == pytest.approx([values[b][1] for b in ("b2", "b4", "b6")], rel=1e-3)
    assert found.fit.rss == pytest.approx(rss, rel=1e-5)


@pytest.mark.parametrize(("name", "tau"), [("misra1a", 1817.6648353), ("boxbod", 1.8273601985)])
def test_scaling_time_scales_only_the_time_constant(name: str, tau: float) -> None:
    data, *_ = certified(name)
    found = fit_exponentials(data[:, 0] * 1e-9, data[:, 1], 1, offset=0.0, onset_fixed=0.0)
    assert found.tau[0] == pytest.approx(tau * 1e-9, rel=1e-6)
