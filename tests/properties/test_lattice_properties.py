"""What must hold for any lattice: scaling the codes scales the step, shifting them leaves it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.hand.lattice import find_lattice
from feelcheck.model import AxisScale, Stream, TimeBase
from feelcheck.numerics.allan import oadev
from feelcheck.numerics.combs import fit_comb
from feelcheck.numerics.descriptive import describe


def levels(seed: Any, n: int = 4000, span: int = 300) -> Any:
    rng = np.random.default_rng(seed)
    wave = np.sin(np.cumsum(rng.uniform(0.002, 0.05, n)))
    return np.round(span * wave + rng.normal(0, 0.3, n)).astype(np.int64)


def step_of(codes: Any, centre: float = 0.0) -> Any:
    stream = Stream(
        name="x", time=TimeBase.from_instants(np.arange(codes.size) * 1e-3), codes=codes, scale=AxisScale(centre=centre)
    )
    return find_lattice(stream).step


@settings(max_examples=20)
@given(seed=st.integers(0, 50), step=st.floats(8.0, 100.0), offset=st.integers(-3000, 3000))
def test_any_step_is_found_wherever_the_lattice_sits(seed: Any, step: Any, offset: Any) -> None:
    codes = np.round(levels(seed) * step).astype(np.int64)
    assert step_of(codes + offset, float(offset)) == pytest.approx(step, rel=1e-3)


@settings(max_examples=20)
@given(seed=st.integers(0, 50), factor=st.integers(2, 40))
def test_scaling_the_codes_scales_the_step(seed: Any, factor: Any) -> None:
    codes = levels(seed) * 8
    assert step_of(codes * factor) == pytest.approx(8 * factor, rel=1e-6)


@settings(max_examples=20)
@given(seed=st.integers(0, 50))
def test_turning_an_axis_round_changes_nothing(seed: Any) -> None:
    codes = np.round(levels(seed) * 64.0616).astype(np.int64)
    assert step_of(-codes) == pytest.approx(step_of(codes), rel=1e-6)


@settings(max_examples=30)
@given(spacing=st.floats(2.5, 60.0), shift=st.floats(-1e4, 1e4), n=st.integers(60, 200))
def test_a_comb_is_found_wherever_it_starts(spacing: Any, shift: Any, n: Any) -> None:
    found = fit_comb([shift + spacing * np.arange(n)], 2.0, spacing * n / 8)
    assert found is not None
    assert found.spacing == pytest.approx(spacing, rel=1e-6)


@settings(max_examples=50)
@given(values=st.lists(st.integers(-(10**6), 10**6), min_size=8, max_size=60), shift=st.integers(-(10**6), 10**6))
def test_spread_ignores_an_offset(values: Any, shift: Any) -> None:
    shifted = [value + shift for value in values]
    assert describe(shifted).sd == pytest.approx(describe(values).sd, rel=1e-9, abs=1e-9)
    assert oadev(shifted, 2) == pytest.approx(oadev(values, 2), rel=1e-9, abs=1e-6)
