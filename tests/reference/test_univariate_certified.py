"""Mean, SD and lag-1 autocorrelation held to NIST/ITL Statistical Reference Datasets, univariate summary statistics."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.numerics.descriptive import describe

pytestmark = pytest.mark.reference

DATA = Path(__file__).parent / "data"
# What float64 leaves of each set: (SD, lag-1). NumAcc3 and 4 carry 7 to 8 leading digits that the data themselves lose.
TOLERANCE = {
    "numacc1": (1e-12, 1e-12),
    "numacc2": (1e-12, 1e-12),
    "numacc3": (1e-8, 1e-8),
    "numacc4": (1e-8, 1e-8),
    "lew": (1e-12, 1e-12),
    "lottery": (1e-12, 1e-12),
    "mavro": (1e-10, 1e-10),
    "michelso": (1e-12, 1e-10),
}


@pytest.mark.parametrize("name", list(TOLERANCE))
def test_certified_values(name: Any) -> None:
    path = DATA / f"nist_strd_univariate_{name}.csv"
    header = path.read_text().splitlines()[2]
    certified = {key: float(value) for key, value in re.findall(r"(mean|sd|lag1\w*)\S* = (\S+)", header)}
    found = describe(np.loadtxt(path, skiprows=4))
    sd_rel, lag_rel = TOLERANCE[name]
    assert found.mean == pytest.approx(certified["mean"], rel=1e-14 if name != "mavro" else 1e-13)
    assert found.sd == pytest.approx(certified["sd"], rel=sd_rel)
    assert found.lag_1 == pytest.approx(certified["lag1_autocorrelation"], rel=lag_rel)


def test_mavro_is_told_as_drift_and_lew_is_not() -> None:
    mavro = describe(np.loadtxt(DATA / "nist_strd_univariate_mavro.csv", skiprows=4))
    lew = describe(np.loadtxt(DATA / "nist_strd_univariate_lew.csv", skiprows=4))
    assert mavro.n_effective < 0.1 * mavro.n
    assert lew.n_effective == lew.n
