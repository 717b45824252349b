"""Outputs that switch with their drive and have no response worth the name; and very long captures."""

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Capture, Channel, Provenance, Status

T = np.linspace(0.0, 0.1, 2000)
EDGES = np.arange(0.004, 0.1, 0.013)


def square(t: np.ndarray, high: float = 3.0) -> np.ndarray:
    return np.where(np.searchsorted(EDGES, t, side="right") % 2 == 0, 0.0, high)


def capture(t: np.ndarray, *columns: np.ndarray) -> Capture:
    roles = ("output",) if len(columns) == 1 else ("drive", "output")
    channels = tuple(
        Channel(name=role, values=values, unit="V", role=role)  # type: ignore[arg-type]
        for role, values in zip(roles, columns, strict=True)
    )
    return Capture(t_s=t, interval_s=None, channels=channels, provenance=Provenance())


@pytest.mark.parametrize(
    ("driven", "noise_v"), [(False, 0.001), (True, 0.0), pytest.param(True, 0.02, marks=pytest.mark.full)]
)
def test_an_output_that_only_switches_is_bounded_by_the_sample_interval(driven: bool, noise_v: float) -> None:
    rng = np.random.default_rng(3)
    columns = [square(T) + noise_v * rng.standard_normal(T.size) for _ in range(2 if driven else 1)]
    result = measure_response(capture(T, *columns))
    for direction in (result.rising, result.falling):
        assert direction is not None
        assert direction.time_constant.status in (Status.AT_MOST, Status.NOT_RESOLVED)
        if direction.time_constant.bound is not None:
            assert direction.time_constant.bound < 3 * (T[1] - T[0])


@pytest.mark.parametrize(("n", "levels"), [(200, 2**12), (700, 2**8)])
def test_few_samples_an_edge_never_end_in_an_exception(n: int, levels: int) -> None:
    t = np.linspace(0.0, 0.1, n)
    step = 4.0 / levels
    y = np.round(square(t) / step) * step
    assert measure_response(capture(t, y, y)).rising is not None


def test_a_drive_that_switches_with_the_output_gives_its_swing() -> None:
    result = measure_response(capture(T, square(T, 5.0), square(T)))
    assert result.swing.value == pytest.approx(3.0, rel=1e-6)
    assert result.extra["sensitivity"].value == pytest.approx(0.6, rel=1e-3)


def test_a_million_samples_of_a_slow_edge_are_measured() -> None:
    t = np.linspace(-0.1, 0.9, 1_000_000)
    y = np.round(200 * (1 - np.exp(-np.maximum(t, 0) / 0.2)) + 0.5 * np.random.default_rng(1).standard_normal(t.size))
    result = measure_response(capture(t, y))
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(0.2, rel=1e-3)


def test_a_triangle_is_not_given_a_time_constant() -> None:
    t = np.linspace(0.0, 0.1, 5000)
    y = np.abs((50 * t) % 1 - 0.5) + 0.002 * np.random.default_rng(2).standard_normal(t.size)
    with pytest.raises(NotEnoughDataError, match="a wave that never rests"):
        measure_response(capture(t, y))
