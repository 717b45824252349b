"""Chi-squared without scipy.special, held against it."""

from __future__ import annotations

import pytest
from scipy import special

from feelcheck.numerics.chi_squared import chi_squared_quantile, chi_squared_tail

pytestmark = pytest.mark.reference


@pytest.mark.parametrize("dof", [0.6, 1.0, 2.0, 7.3, 60.0, 1234.5, 40_000.0])
@pytest.mark.parametrize("part", [-0.1, 0.0, 0.1, 0.9, 1.0, 1.1, 1.5, 4.0])
def test_tail_equals_scipys(dof: float, part: float) -> None:
    # source: scipy.special.chdtrc
    assert chi_squared_tail(dof, part * dof) == pytest.approx(special.chdtrc(dof, max(part, 0.0) * dof), rel=1e-9)


@pytest.mark.parametrize("dof", [1.0, 2.0, 7.3, 60.0, 1234.5, 40_000.0])
@pytest.mark.parametrize("tail", [1e-12, 1e-6, 0.05, 0.5, 0.97])
def test_quantile_equals_scipys(dof: float, tail: float) -> None:
    # source: scipy.special.chdtri
    assert chi_squared_quantile(dof, tail) == pytest.approx(special.chdtri(dof, tail), rel=1e-9)


def test_quantiles_of_a_table() -> None:
    # source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, upper critical values
    assert [round(chi_squared_quantile(dof, 0.05), 3) for dof in (1, 5, 10, 100)] == [3.841, 11.070, 18.307, 124.342]
