from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from views import view_of

from feelcheck.hand.quantization import METRIC
from feelcheck.model import (
    AxisScale,
    Status,
    StickAxes,
    Stream,
    TimeBase,
)


def view(*axes: Any, unit: Any = "counts", reach: float = 32767.0, sticks: Any = ()) -> Any:
    time = TimeBase.from_instants(np.arange(axes[0].size) * 1e-3)
    streams = tuple(
        Stream(name=name, time=time, codes=codes, scale=AxisScale(reach=reach, unit=unit))
        for name, codes in zip("xy", axes, strict=False)
    )
    return view_of(streams, sticks)


def orbit(radius: float = 1.0, n: int = 12_000) -> Any:
    phase = 2 * np.pi * np.arange(n) / n
    return radius * np.cos(61 * phase) * np.sin(7.3 * phase), radius * np.sin(61 * phase) * np.sin(7.3 * phase)


def by_name(output: Any, axis: str = "x") -> Any:
    return {f.estimate.quantity: f.estimate for f in output.findings if f.axis == axis}


def test_step_resolution_and_share_of_throw() -> None:
    x, _ = orbit()
    found = by_name(METRIC.measure(view(np.round(np.round(x * 500) * 64.0616).astype(np.int64))))
    assert found["quantization_step"].value == pytest.approx(64.0616, rel=1e-3)
    assert found["resolution"].value == pytest.approx(math.log2(1000), abs=0.01)
    assert found["quantization_step_of_throw"].value == pytest.approx(1 / 500, rel=2e-3)


def test_logs_in_fractions_say_so() -> None:
    x, _ = orbit()
    found = by_name(METRIC.measure(view(np.round(x * 127) / 127, unit="fraction", reach=1.0)))
    assert found["quantization_step"].unit == "fraction"
    assert found["quantization_step"].value == pytest.approx(1 / 127, rel=1e-3)


def test_what_cannot_be_seen_is_told_with_advice() -> None:
    x, _ = orbit()
    found = by_name(METRIC.measure(view(np.round(x * 32767).astype(np.int64))))
    assert found["quantization_step"].status is Status.NOT_RESOLVED
    assert found["quantization_step"].caveats[0].code == "log_grid"
    assert "raw codes" in found["quantization_step"].caveats[0].advice
    assert found["resolution"].status is Status.NOT_RESOLVED


def test_reports_pressed_onto_a_circle_do_not_hide_the_step() -> None:
    x, y = (np.round(axis * 500) * 64.0616 for axis in orbit(1.15))
    over = np.maximum(np.hypot(x, y) / 32000, 1)
    codes = [np.round(axis / over).astype(np.int64) for axis in (x, y)]
    pair = (StickAxes(stick="left", x="x", y="y"),)
    found = by_name(METRIC.measure(view(*codes, sticks=pair)))
    assert found["quantization_step"].value == pytest.approx(64.0616, rel=2e-3)


def test_a_changed_width_is_a_caveat() -> None:
    x, _ = orbit()
    codes = np.where(np.arange(x.size) < 5000, np.round(x * 500) * 64, np.round(x * 125) * 256).astype(np.int64)
    found = by_name(METRIC.measure(view(codes)))
    assert [caveat.code for caveat in found["quantization_step"].caveats] == ["mixed_width"]


def test_the_trace_carries_levels_and_step() -> None:
    x, _ = orbit()
    trace = METRIC.measure(view(np.round(np.round(x * 127) * 257).astype(np.int64))).traces[0]
    assert (trace.kind, trace.axis) == ("lattice", "x")
    assert trace.marks["step"] == pytest.approx(257)
    assert trace.arrays["level"].size == trace.arrays["n_reports"].size == trace.arrays["gap"].size + 1


@pytest.mark.parametrize("codes", [np.zeros(0, dtype=np.int64), np.full(50, 7, dtype=np.int64)])
def test_empty_and_constant_axes_resolve_nothing(codes: Any) -> None:
    found = by_name(METRIC.measure(view(codes)))
    assert found["quantization_step"].status is Status.NOT_RESOLVED
