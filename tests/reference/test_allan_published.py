"""Allan deviations held to W. J. Riley, Handbook of Frequency Stability Analysis, NIST SP 1065 (2008)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.numerics.allan import oadev
from feelcheck.numerics.descriptive import describe

pytestmark = pytest.mark.reference

DATA = Path(__file__).parent / "data"
NINE = np.loadtxt(DATA / "allan_nbs_9_frequency_values.csv", delimiter=",", skiprows=3)[:, 1]


def thousand_points() -> np.ndarray:
    """Return the source's own pseudo-random series (prime modulus generator)."""
    numbers = [1234567890]
    for _ in range(999):
        numbers.append(16807 * numbers[-1] % 2147483647)
    assert numbers[1:4] == [395529916, 1209410747, 633705974]
    return np.array(numbers) / 2147483647


@pytest.mark.parametrize(("m", "published"), [(1, 91.22945), (2, 85.95287)])
def test_nine_point_set(m: Any, published: Any) -> None:
    assert oadev(NINE, m) == pytest.approx(published, rel=1e-6)


@pytest.mark.parametrize(("column", "m"), [(1, 1), (2, 10), (3, 100)])
def test_thousand_point_set(column: Any, m: Any) -> None:
    lines = (DATA / "allan_1000_point_expected.csv").read_text().splitlines()
    row = next(line.split(",") for line in lines if line.startswith("overlapping_adev"))
    # Seven printed digits.
    assert oadev(thousand_points(), m) == pytest.approx(float(row[column]), rel=5e-7)


def test_thousand_points_are_as_white_as_the_source_says() -> None:
    summary = describe(thousand_points())
    assert summary.mean == pytest.approx(0.489774, abs=5e-7)
    assert summary.sd == pytest.approx(0.2884664, abs=5e-8)


@pytest.mark.parametrize("m", [1, 3, 16, 128])
def test_agrees_with_a_general_purpose_library(m: Any) -> None:
    """AllanTools, the general-purpose package for frequency stability."""
    allantools = pytest.importorskip("allantools")
    sample = np.random.default_rng(11).normal(size=700).cumsum()
    expected = allantools.oadev(sample, rate=1.0, data_type="freq", taus=[m])[1][0]
    assert oadev(sample, m) == pytest.approx(expected, rel=1e-9)
