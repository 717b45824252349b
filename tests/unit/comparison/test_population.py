"""From a table of many files to the population of sticks."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from feelcheck.comparison.control_chart import batch_means, control_chart
from feelcheck.comparison.placing import place
from feelcheck.comparison.population import population_of, stick_name
from feelcheck.comparison.survey_columns import columns_of, quantities_of
from feelcheck.renderers.survey_words import left_out_words

TREES = ["alder", "birch", "cedar", "elm", "fir", "hazel", "larch", "maple", "oak", "rowan", "spruce", "yew"]


def row(path: str, axis: str, direction: str, value: float | None, **more: Any) -> dict[str, Any]:
    told = {"kind": "session", "specimen": path, "state": "as_found", "batch": "", "recorded": "", "simulated": False}
    known = value is not None
    status = "ok" if known else more.pop("status", "not_resolved")
    quantity = {
        "smoothing_delay_ms": value,
        "smoothing_delay_low": value - 0.1 if known else None,  # type: ignore[operator]
        "smoothing_delay_high": value + 0.1 if known else more.pop("high", None),  # type: ignore[operator]
        "smoothing_delay_status": status,
        "rest_noise_counts": 8.0,
        "rest_noise_low": 7.0,
        "rest_noise_high": 9.0,
        "rest_noise_status": "ok",
    }
    about = {"path": path, "axis": axis, "direction": direction, "complete": True, "reason": "", "sha256": path}
    return {**told, **about, "tool_version": "1", **quantity, **more}


def table(values: dict[str, float]) -> list[dict[str, Any]]:
    return [
        row(
            name, axis, direction, value + (0.5 if direction == "falling" else 0.0) + (0.2 if axis == "left_y" else 0.0)
        )
        for name, value in values.items()
        for axis in ("left_x", "left_y")
        for direction in ("falling", "rising")
    ]


def described(rows: list[dict[str, Any]]) -> Any:
    return population_of(rows, columns_of({name for one in rows for name in one}))


NINE = dict(zip(TREES[:9], (4.8, 4.9, 5.0, 5.1, 5.2, 5.05, 4.95, 5.15, 4.85), strict=True))


def test_a_stick_is_one_member_whatever_its_axes_and_recordings() -> None:
    rows = table(NINE) + [
        {**one, "path": "again", "sha256": "again"} for one in table({"alder": 5.0}) if one["specimen"] == "alder"
    ]
    delay = {of.direction: of for of in described(rows).quantities if of.quantity == "smoothing_delay"}
    assert set(delay) == {"rising", "falling"}
    assert len(delay["rising"].sticks) == 9
    alder = delay["rising"].sticks[0]
    assert (alder.name, alder.n_recordings) == ("alder left", 2)
    assert alder.value == pytest.approx((4.8 + 5.0) / 2 + 0.1)
    assert alder.u == pytest.approx(0.2 / 3.919928 / 2)


def test_a_copy_is_no_other_stick() -> None:
    rows = table(NINE) + [
        {**one, "path": "copy", "specimen": "copy", "sha256": "alder"} for one in table({"alder": 4.8})
    ]
    found = described(rows)
    assert found.copies == 1
    assert {len(of.sticks) for of in found.quantities} == {9}
    assert "1 file is a copy of another and counts once." in left_out_words(found)


def test_what_is_the_same_in_both_directions_belongs_to_the_axis() -> None:
    noise = [of for of in described(table(NINE)).quantities if of.quantity == "rest_noise"]
    assert [(of.direction, len(of.sticks)) for of in noise] == [("", 9)]


def test_hand_and_bench_states_and_simulated_sticks_are_not_mixed() -> None:
    rows = table(NINE) + [{**one, "state": "c3_lifted"} for one in table({"oak": 1.0})]
    rows += [{**one, "kind": "capture"} for one in table({"rowan": 3.0})]
    rows += [{**one, "simulated": True} for one in table({"yew": 9.0})]
    found = described(rows)
    assert not found.simulated
    assert found.left_out == 1
    rising = [of for of in found.quantities if of.quantity == "smoothing_delay" and of.direction == "rising"]
    assert {(of.group, of.state, len(of.sticks)) for of in rising} == {
        ("hand", "as_found", 9),
        ("hand", "c3_lifted", 1),
        ("bench", "as_found", 1),
    }
    assert described([one for one in rows if one["simulated"]]).simulated


def test_a_bound_makes_a_bound() -> None:
    bounded = row("yew", "left_x", "rising", None, status="at_most", high=0.6)
    rows = [*table(NINE), bounded, row("yew", "left_y", "rising", 0.9)]
    rising = next(of for of in described(rows).quantities if of.direction == "rising")
    yew = next(stick for stick in rising.sticks if stick.name == "yew left")
    assert yew.value is None
    assert yew.at_most == pytest.approx((0.6 + 0.9) / 2)


def test_what_stands_off_is_named() -> None:
    rising = next(of for of in described(table({**NINE, "yew": 12.0})).quantities if of.direction == "rising")
    assert [outlier.name for outlier in rising.outliers] == ["yew left"]
    assert rising.outliers[0].deviations > rising.outlier_limit > 3
    assert rising.false_alarm == 0.05
    clean = next(of for of in described(table(NINE)).quantities if of.direction == "rising")
    assert clean.outliers == ()


def test_the_closest_sticks_make_pairs_each_once() -> None:
    pairs = described(table({"alder": 5.0, "birch": 5.01, "cedar": 7.0, "elm": 7.05, "fir": 20.0})).pairs
    assert [(pair.first, pair.second) for pair in pairs] == [("alder", "birch"), ("cedar", "elm")]
    assert pairs[0].difference == pytest.approx(0.01)
    assert pairs[0].u == pytest.approx(np.hypot(0.2, 0.2) / 3.919928)
    assert pairs[0].at in ("left_x falling", "left_x rising", "left_y falling", "left_y rising")


def test_recordings_in_time_order_show_a_shift() -> None:
    dates = [f"2026-05-{day:02d}" for day in range(1, 21)]
    values = [5.0 + 0.01 * (-1) ** k + 0.4 * (k > 10) for k in range(20)]
    rows = [
        row(f"{k:02d}", "left_x", "rising", values[k], recorded=dates[k], batch="a" if k < 11 else "b")
        for k in reversed(range(20))
    ]
    of = next(of for of in described(rows).quantities if of.quantity == "smoothing_delay")
    assert of.chart is not None
    assert of.chart.recorded == tuple(dates)
    assert of.chart.runs
    assert [mean.batch for mean in of.batches] == ["a", "b"]
    assert of.batches[1].low > of.batches[0].high


def test_few_recordings_have_no_chart_and_one_batch_no_means() -> None:
    assert control_chart([1.0] * 7) is None
    assert batch_means([1.0, 2.0], ["", ""]) == ()


def test_where_a_new_stick_lies() -> None:
    rows = table({f"stick{k:03d}": 5.0 + 0.01 * k for k in range(100)})
    new = [one for one in table({"yew": 5.865}) if one["axis"] == "left_x"]
    columns = columns_of(rows[0])
    placed = {one.direction: one for one in place(new, rows, columns) if one.quantity == "smoothing_delay"}
    # the population's sticks average x and y: 0.1 ms above x alone
    assert placed["rising"].share == pytest.approx(0.77, abs=0.01)
    assert placed["rising"].low < 0.7 < 0.83 < placed["rising"].high
    assert placed["rising"].n == 100
    assert place(new, rows[:8], columns) == []
    assert place(rows[:4], rows, columns)[0].n == 99


def test_names_of_sticks() -> None:
    assert stick_name({"kind": "log", "specimen": "", "path": "a/b/oak.csv", "axis": "x"}) == "oak"
    assert stick_name({"kind": "session", "specimen": "oak", "path": "p", "axis": "right_y"}) == "oak right"


def test_columns_are_found_again_whatever_begins_alike() -> None:
    names = {
        f"{quantity}{end}"
        for quantity, unit in (("reach_high", "fraction"), ("reach", "counts"), ("delay", "ms"), ("delay_x", "ms"))
        for end in (f"_{unit}", "_low", "_high", "_status")
    } | {"reach_fraction"}
    found = {(of.quantity, of.unit, of.alone) for of in quantities_of(columns_of(names))}
    assert found == {
        ("reach_high", "fraction", True),
        ("reach", "counts", False),
        ("reach", "fraction", False),
        ("delay", "ms", True),
        ("delay_x", "ms", True),
    }
