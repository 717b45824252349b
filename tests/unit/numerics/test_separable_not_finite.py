"""A model that is not finite somewhere repels the search instead of ending it."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.numerics.separable import fit_separable


def test_region_without_finite_values_is_avoided() -> None:
    t = np.linspace(0.0, 4.0, 80)

    def basis(theta: np.ndarray) -> np.ndarray:
        assert np.all(np.isfinite(theta))
        return np.exp(-t[:, None] * np.exp(theta)) if theta[0] < 1.0 else np.full((t.size, 1), np.nan)

    fit = fit_separable(basis, 3 * np.exp(-2 * t), [[-2.0], [2.0]])
    assert float(np.exp(fit.theta[0])) == pytest.approx(2.0, rel=1e-6)
