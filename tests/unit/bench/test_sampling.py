"""Two sample rates and gaps within one capture are said, and the instants are used as they are."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.model import BenchResult, Capture, Channel, Provenance

TAU_S = 4.7e-3
ONSET_S = 0.021


def measured(t: np.ndarray) -> BenchResult:
    """A step through one pole, seen at the given instants."""
    y = 0.2 - 1.4 * np.expm1(-np.maximum(t - ONSET_S, 0.0) / TAU_S)
    y += 2e-3 * np.random.default_rng(5).standard_normal(t.size)
    drive = Channel(name="Gen", values=np.where(t < ONSET_S, 0.0, 1.0), unit="V", role="drive")
    output = Channel(name="Out", values=y, unit="V", role="output")
    return measure_response(Capture(t_s=t, interval_s=None, channels=(drive, output), provenance=Provenance()))


def steps(*parts: tuple[float, float]) -> np.ndarray:
    """Instants of stretches, each given by its length and its interval."""
    gaps = np.concatenate([np.full(round(span / gap), gap) for span, gap in parts])
    return np.concatenate([[0.0], np.cumsum(gaps)])


@pytest.mark.parametrize(
    ("t", "codes"),
    [
        (steps((0.02, 1e-3), (0.03, 1e-4), (0.05, 1e-3)), {"sample_rate_changes"}),
        (steps((0.05, 1e-4), (0.2, 0.2), (0.05, 1e-4)), {"gap_in_time"}),
        (np.cumsum(np.random.default_rng(2).uniform(5e-5, 15e-5, 1000)), set()),
    ],
)
def test_uneven_sampling_is_said_and_does_not_move_the_time_constant(t: np.ndarray, codes: set[str]) -> None:
    found = measured(t)
    said = {caveat.code for caveat in found.caveats}
    assert said & {"sample_rate_changes", "gap_in_time"} == codes
    assert found.rising is not None
    assert found.rising.time_constant.value == pytest.approx(TAU_S, rel=0.01)
