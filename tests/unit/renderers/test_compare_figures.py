"""Figures of comparisons, chains, gauge studies and use: rows, margins, bounds, shares."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from feelcheck.model import (
    ChainLink,
    Comparison,
    Estimate,
    FeelAxis,
    FeelResult,
    MetricComparison,
    Play,
    RepeatabilityResult,
    Trace,
    VarianceShare,
)
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers import compare_figures, feel_figures
from feelcheck.renderers._drawn import drawn
from feelcheck.renderers.compare_figures import compare_pictures
from feelcheck.renderers.feel_figures import feel_pictures


def _delay(value_ms: float, u_ms: float = 0.1) -> Estimate:
    return Estimate.measured("smoothing_delay", value_ms / 1e3, u=u_ms / 1e3, unit="s", n=4, dof=6)


METRIC = MetricComparison(
    name="smoothing_delay",
    direction="falling",
    axis="left_x",
    state="as_found",
    candidate_name="birch",
    baseline=_delay(3.0),
    candidate=_delay(14.0),
    difference=_delay(11.0, 0.4),
    margin=0.001,
    verdict="different",
    detected=True,
    low90=0.010,
    high90=0.012,
    p_difference=1e-6,
    p_equivalence=0.9,
    scope="recording",
    why="beyond the margin",
)
LINK = ChainLink(
    specimen="birch",
    axis="left_x",
    state="as_found",
    direction="rising",
    link="bench-hand",
    predicted=_delay(9.0),
    measured=_delay(9.2),
    difference=_delay(0.2),
    margin=0.001,
    verdict="agree",
)


def _comparison(**changes: Any) -> Comparison:
    return replace(Comparison(baseline="alder", candidates=("birch",), metrics=(METRIC,)), **changes)


def _gid(ax: Axes, gid: str) -> list[Any]:
    return [line for line in ax.lines if line.get_gid() == gid]


def _words(ax: Axes) -> list[str]:
    return [text.get_text() for text in ax.texts]


def test_a_difference_has_both_intervals_the_margin_and_its_verdict() -> None:
    (ax,) = drawn(compare_figures.compare_figure(_comparison())).axes
    assert ax.get_xlabel() == "difference to alder, ms"
    (outer,), (inner,) = _gid(ax, "interval95"), _gid(ax, "interval90")
    expected = [[1e3 * float(end or 0) for end in coverage_interval(METRIC.difference, level)] for level in (0.95, 0.9)]
    assert [list(outer.get_xdata()), list(inner.get_xdata())] == pytest.approx(np.array(expected))
    (margin,) = ax.patches
    assert margin.get_extents().width > 0
    assert margin.get_hatch() == "////"
    assert (margin.get_x(), margin.get_width()) == pytest.approx((-1.0, 2.0))  # type: ignore[attr-defined]
    assert "different" in _words(ax)


def test_a_bound_is_an_arrow_and_an_unknown_difference_is_words() -> None:
    bound = replace(METRIC, difference=Estimate.at_least("smoothing_delay", 0.004, unit="s"), axis="left_y")
    unknown = replace(METRIC, difference=Estimate.not_resolved("smoothing_delay", unit="s"), verdict="undecided")
    (ax,) = drawn(compare_figures.compare_figure(_comparison(metrics=(bound, unknown)))).axes
    (arrow,) = _gid(ax, "bound")
    assert arrow.get_xdata()[0] == pytest.approx(4.0)
    assert arrow.get_xdata()[1] == ax.get_xlim()[1]
    assert not _gid(ax, "interval95")
    assert {"not resolved", "undecided"} <= set(_words(ax))


def test_each_metric_gets_a_panel_in_its_own_unit() -> None:
    noise = replace(
        METRIC, name="rest_noise", difference=Estimate.measured("rest_noise", 2.0, u=0.1, unit="counts"), margin=0.0
    )
    delay, rest = drawn(compare_figures.compare_figure(_comparison(metrics=(METRIC, noise)))).axes
    assert rest.get_xlabel() == "difference to alder, counts"
    assert delay.patches
    assert not rest.patches


def test_the_chain_holds_predicted_beside_measured_for_each_specimen() -> None:
    other = replace(LINK, specimen="cedar", verdict="disagree", measured=_delay(4.0))
    pictures = compare_pictures(_comparison(metrics=(), chain=(LINK, other)))
    assert list(pictures) == ["chain 1", "chain 2"]
    birch, cedar = (drawn(picture.sheet).axes[0] for picture in pictures.values())
    assert [ax.get_title(loc="left") for ax in (birch, cedar)] == ["birch, as found", "cedar, as found"]
    values = _gid(cedar, "value")
    assert [line.get_xdata()[0] for line in values] == pytest.approx([9.0, 4.0])
    assert values[0].get_marker() != values[1].get_marker()
    assert "disagree" in _words(cedar)


def test_a_prediction_shows_band_and_records() -> None:
    t_s = np.arange(100) / 1000
    tail = 0.7 - 0.2 * np.exp(-t_s / 0.01)
    arrays = {"recorded_fs": tail, "predicted_fs": tail, "low_fs": tail - 0.01, "high_fs": tail + 0.01}
    trace = Trace(
        kind="prediction",
        axis="left_x",
        arrays={"t_s": t_s, **arrays},
        marks={"inside_fraction": 0.93, "mean_width_fraction": 0.1},
        labels={"direction": "rising"},
    )
    picture = compare_pictures(_comparison(traces=(trace,)))["predictions"]
    (ax,) = drawn(picture.sheet).axes
    assert "93 % of reports inside the band\nband 10.0 % of the tail" in _words(ax)
    assert ax.get_xlabel().endswith("ms")
    (band,) = ax.collections
    assert np.asarray(band.get_paths()[0].vertices)[:, 1].max() == pytest.approx(tail.max() + 0.01)


def test_shares_are_bars_with_hatches_and_words() -> None:
    sd = Estimate.measured("sd", 0.001, u=0.0001, unit="s")
    shares = (
        VarianceShare(source="repeats", sd=sd, share_fraction=0.25),
        VarianceShare(source="specimens", sd=sd, share_fraction=0.75),
    )
    result = RepeatabilityResult(
        metric="smoothing_delay", unit="s", n_operators=2, n_specimens=3, n_repeats=3, anova={}, average_range={},
        interaction_p=0.5, interaction_pooled=True, n_distinct_raw=4.0, n_distinct=4, shares=shares,
    )  # fmt: skip
    (ax,) = drawn(compare_figures.repeatability_figure(result)).axes
    assert [bar.get_width() for bar in ax.patches] == [25.0, 75.0]  # type: ignore[attr-defined]
    assert len({bar.get_hatch() for bar in ax.patches}) == 2
    assert _words(ax)[1].startswith("75 %, sd 1.00 ms")
    assert "specimens 75 %" in compare_pictures(_comparison(spread=shares))["spread"].description


def test_use_shows_angles_and_times_apart() -> None:
    angle = Estimate.measured("carry_on_after_release", 2.8, u=0.1, unit="deg")
    axis = FeelAxis(
        axis="left_x",
        state="as_found",
        origin="hand",
        plane="left_right",
        estimates={"carry_on_after_release": angle, "settle_after_release": _delay(60.0), "tremor_band_gain": angle},
    )
    angles, times = drawn(feel_figures.feel_figure([FeelResult(specimen="birch", play=Play(), axes=(axis,))])).axes
    assert (angles.get_xlabel(), times.get_xlabel()) == ("angle, deg", "time, ms")
    assert [label.get_text() for label in angles.get_yticklabels()] == ["birch left_x: turns on, code falling"]
    assert feel_pictures([]) == {}


def test_a_comparison_of_nothing_has_no_pictures() -> None:
    assert compare_pictures(_comparison(metrics=())) == {}


def test_a_metric_that_nobody_could_tell_gets_no_panel() -> None:
    unknown = replace(METRIC, name="rest_noise", difference=Estimate.not_resolved("d", unit="counts"))
    assert len(drawn(compare_figures.compare_figure(_comparison(metrics=(METRIC, unknown)))).axes) == 1


def test_the_chain_shows_its_margin_about_the_prediction() -> None:
    figure = drawn(compare_figures.compare_figure(_comparison(metrics=(), chain=(LINK,))))
    (band,) = [patch for patch in figure.axes[0].patches if patch.get_hatch()]
    assert isinstance(band, Rectangle)
    assert band.get_x() + band.get_width() / 2 == pytest.approx(1e3 * (LINK.predicted.value or 0.0))
    assert band.get_width() == pytest.approx(2e3 * LINK.margin)
