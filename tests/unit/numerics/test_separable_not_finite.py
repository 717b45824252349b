"""A model that is not finite somewhere repels the search instead of ending it."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.errors import NotEnoughDataError
from feelcheck.numerics.separable import SeparableModel, fit_separable


def test_region_without_finite_values_is_avoided() -> None:
    t = np.linspace(0.0, 4.0, 80)

    def fill(theta: np.ndarray, rows: np.ndarray) -> None:
        assert np.all(np.isfinite(theta))
        rows[0] = np.exp(-t * np.exp(theta[0])) if theta[0] < 1.0 else np.nan
        rows[1:] = -t * np.exp(theta[0]) * rows[0]

    model = SeparableModel(n_columns=1, slopes=((0, 0),), fill=fill)
    fit = fit_separable(model, 3 * np.exp(-2 * t), [[-2.0], [2.0]])
    assert float(np.exp(fit.theta[0])) == pytest.approx(2.0, rel=1e-6)
    with pytest.raises(NotEnoughDataError, match="finite somewhere"):
        fit_separable(model, 3 * np.exp(-2 * t), [[2.0]])
