from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from views import view_of

from feelcheck.hand.reach import METRIC, _clipping, _round, clipped_share, rim_profile
from feelcheck.model import (
    Segment,
    Status,
    StickAxes,
    Stream,
    TimeBase,
)


def rolled(gain: float = 1.0, *, turn_share: float = 1.0, flicks: Any = (), single: bool = False) -> Any:
    """Return a view of a stick at rest and then rolled round its rim."""
    angle = 2 * np.pi * turn_share * np.arange(6000) / 3000
    x = np.concatenate((np.zeros(500), np.linspace(0, 1, 200), np.cos(angle), np.zeros(500)))
    y = np.concatenate((np.zeros(700), np.sin(angle), np.zeros(500)))
    time = TimeBase.from_instants(np.arange(x.size) * 1e-3)
    names = ("x",) if single else ("x", "y")
    streams = tuple(
        Stream(name=name, time=time, codes=np.round(np.clip(gain * axis, -1, 1) * 32000).astype(np.int64))
        for name, axis in zip(names, (x, y), strict=False)
    )
    segments = [Segment(kind="roll", start_s=0.7, end_s=6.7, stick="left")]
    segments += [Segment(kind="flick", start_s=0, end_s=0.1, stick="left", direction_deg=deg) for deg in flicks]
    return view_of(streams, [StickAxes(stick="left", x="x", y="" if single else "y")], segments)


def found(view: Any, axis: str = "x") -> Any:
    return {f.estimate.quantity: f.estimate for f in METRIC.measure(view).findings if f.axis == axis}


def test_a_round_rim_reaches_alike_and_clips_nowhere() -> None:
    result = found(rolled())
    assert result["reach_high"].value == pytest.approx(32000 / 32767, rel=1e-4)
    assert result["reach_low"].value == pytest.approx(32000 / 32767, rel=1e-4)
    assert result["clipped_high"].status is Status.NOT_PRESENT
    assert result["circularity"].value < 0.01


@pytest.mark.parametrize("gain", [1.1, 1.3])
def test_clipping_is_measured_as_a_share_of_the_rim(gain: Any) -> None:
    # |cos| > 1 / gain over 2 acos(1 / gain) about the axis; clipping turns the seen angle outwards.
    edge = math.atan2(gain * math.sin(math.acos(1 / gain)), 1.0)
    result = found(rolled(gain))
    assert result["clipped_high"].value == pytest.approx(edge / math.pi, abs=1.5 / 72)
    assert result["clipped_low"].value == pytest.approx(edge / math.pi, abs=1.5 / 72)
    assert result["clipped_high"].caveats[0].code == "clipped_at_rim"


def test_a_rim_cut_square_is_not_round() -> None:
    # Clipped at 1 / 1.3 of the circle: radii run from 1 on the axes to 1.3 on the diagonals, 1.17 on average.
    assert found(rolled(1.3))["circularity"].value == pytest.approx(0.3 / 1.17, rel=0.1)


def test_half_a_turn_asks_for_a_whole_one() -> None:
    result = found(rolled(turn_share=0.25))
    assert result["clipped_high"].caveats[0].code == "rim_not_rolled"
    assert result["circularity"].status is Status.NOT_RESOLVED


def test_a_turned_sensor_shows_on_both_axes_with_opposite_sign() -> None:
    flicks = [3.0, 183.0, 4.0, 184.0, 93.0, 273.0, 94.0, 274.0]
    view = rolled(flicks=flicks)
    assert found(view)["cross_axis"].value == pytest.approx(math.tan(math.radians(3.5)), rel=1e-2)
    assert found(view, "y")["cross_axis"].value == pytest.approx(-math.tan(math.radians(3.5)), rel=1e-2)
    assert found(view)["direction_error"].value == pytest.approx(3.5, rel=1e-2)


def test_one_axis_alone_tells_its_reach_only() -> None:
    result = found(rolled(single=True))
    assert result["reach_high"].is_ok
    assert result["circularity"].status is Status.NOT_RESOLVED


def test_rim_profile_has_a_sector_every_five_degrees() -> None:
    angle = np.radians(np.arange(-180, 180, 0.5) + 0.25)
    profile = rim_profile(np.cos(angle), np.sin(angle))
    assert profile.shape == (2, 72)
    assert np.hypot(*profile) == pytest.approx(np.ones(72), abs=1e-3)
    assert clipped_share(np.full((2, 72), np.nan), 0, 1.0) == 0.0


def test_the_trace_carries_rim_and_reports() -> None:
    trace = METRIC.measure(rolled()).traces[0]
    assert trace.kind == "reach"
    assert trace.arrays["x_fs"].size <= 8000
    assert trace.labels["stick"] == "left"


ANGLE = np.radians(np.arange(-177.5, 180, 5))


@pytest.mark.parametrize(("n_at_extreme", "status"), [(2, Status.NOT_PRESENT), (3, Status.OK), (12, Status.OK)])
def test_an_extreme_in_more_than_two_sectors_is_a_clip(n_at_extreme: int, status: Status) -> None:
    """Of 72 sectors, each as likely to begin anywhere: a rectangle of one sector's width either way."""
    profile = np.array([np.cos(ANGLE), np.sin(ANGLE)])
    profile[0, np.argsort(-profile[0])[:n_at_extreme]] = 1.0
    reports: Any = SimpleNamespace(x_fs=np.array([-0.9, 1.0]), y_fs=np.array([-0.9, 1.0]))
    high = next(one for one in _clipping(reports, 0, profile) if one.quantity == "clipped_high")
    assert high.status is status
    if high.is_ok:
        assert (high.value, high.u) == pytest.approx((n_at_extreme / 72, 1 / 72 / math.sqrt(3)))


def test_a_reach_is_known_to_half_of_its_coarsest_code() -> None:
    view = rolled()
    streams = tuple(replace(s, codes=400 * (s.codes // 400)) for s in view.recording.streams)
    coarse = replace(view, recording=replace(view.recording, streams=streams))
    scale = streams[0].scale.reach
    assert found(coarse)["reach_high"].u == pytest.approx(200 / scale)
    assert found(view)["reach_high"].u <= 1 / scale


def test_roundness_scatters_between_neighbours_in_shares_of_the_radius() -> None:
    radius = 2.0 * (1 + 0.01 * (-1.0) ** np.arange(72))
    (circularity,) = _round(radius * np.array([np.cos(ANGLE), np.sin(ANGLE)]))
    assert (circularity.value, circularity.u) == pytest.approx((0.02, 0.02))


def test_flicks_along_an_axis_are_known_to_their_scatter() -> None:
    degrees = (2.0, 4.0, 6.0, 8.0)
    cross = found(rolled(flicks=degrees))["cross_axis"]
    slopes = np.tan(np.radians(degrees))
    assert cross.u == pytest.approx(np.std(slopes, ddof=1) / 2)
