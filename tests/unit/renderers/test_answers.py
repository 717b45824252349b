"""Each text opens with what a colleague would say: value, direction, how sure, what to do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from feelcheck.bench.drive import NO_DRIVE
from feelcheck.model import (
    BenchDirection,
    BenchResult,
    Capture,
    Channel,
    Comparison,
    Estimate,
    MetricComparison,
    Provenance,
)
from feelcheck.model.parts import BoardNetwork, Inference, OutputStage, PartChange, PartsResult
from feelcheck.network import infer_capacitance, predict, what_if
from feelcheck.renderers.bench_answer import bench_answer
from feelcheck.renderers.compare_answer import compare_answer
from feelcheck.renderers.parts_answer import parts_answer, what_if_answer


def ms(value: float, u: float = 0.005, name: str = "smoothing_delay") -> Estimate:
    return Estimate.measured(name, value / 1e3, u=u / 1e3, unit="s")


def words(text: str) -> str:
    assert text.count(". ") <= 5, "a few sentences"
    return " ".join(text.split())


# --- compare ----------------------------------------------------------------------------------------------------------


def row(before: Estimate, now: Estimate, verdict: Any = "different", **more: Any) -> MetricComparison:
    difference = more.pop("difference", None) or ms((now.value or 0.0) * 1e3 - (before.value or 0.0) * 1e3, 0.01)
    blank: dict[str, Any] = {
        "name": "smoothing_delay", "direction": "rising", "axis": "", "state": "as_found", "candidate_name": "after",
        "margin": 1e-3, "scope": "recording", "sources": ("bench", "bench"),
    }  # fmt: skip
    return MetricComparison(
        baseline=before,
        candidate=now,
        difference=difference,
        verdict=verdict,
        **{**blank, **more},
    )


def said(*rows: MetricComparison, changes: tuple[PartChange, ...] = ()) -> str:
    return words(compare_answer(Comparison(baseline="before", candidates=("after",), metrics=rows, changes=changes)))


def test_a_difference_is_told_with_both_values_its_interval_and_the_part() -> None:
    change = PartChange(
        change="1 uF lifted", network=BoardNetwork(), predicted={}, measured={}, fits=True, candidate_name="after"
    )
    falling = row(ms(4.7), ms(0.05), direction="falling")
    text = said(row(ms(4.69), ms(0.04)), falling, changes=(change,))
    assert text.startswith(
        "after differs from before: smoothing delay rising 0.0400 ms instead of 4.6900 ms (-4.650 ms"
    )
    assert "falling 0.0500 ms instead of" in text
    assert text.endswith("This fits 1 uF lifted.")


def test_one_a_side_says_that_it_is_no_verdict_and_what_to_do() -> None:
    text = said(row(ms(4.69), ms(0.04), "undecided", scope="within_recording"))
    assert text.startswith("In these captures, after against before:")
    assert "One a side is no verdict: capture each side three times" in text


def test_alike_undecided_and_more_are_told_apart() -> None:
    alike = row(ms(4.69), ms(4.70), "equivalent")
    assert said(alike).startswith("after is like before within 1 ms:")
    open_row = row(ms(4.69), ms(5.2), "undecided", more_recordings=4, direction="falling")
    text = said(alike, open_row)
    assert "Undecided: smoothing delay falling" in text
    assert text.endswith("About 4 more recordings a side would decide.")


def test_the_largest_differences_are_named_and_the_rest_counted() -> None:
    rows = [row(ms(5), ms(5 + k), axis=f"axis_{k}", sources=("hand", "hand")) for k in (2, 9, 3, 7)]
    text = said(*rows)
    assert "axis_9 rising" in text
    assert "axis_7 rising" in text
    assert "and 2 more" in text
    assert "axis_2" not in text


def test_what_else_left_its_margin_is_named_once_and_other_times_are_not() -> None:
    tau = row(ms(4.69), ms(0.04), name="time_constant")
    volts = Estimate.measured("swing", 1.4, u=0.001, unit="V")
    swing = row(volts, replace(volts, value=1.0), name="swing", direction="", margin=0.07,
                difference=Estimate.measured("difference", -0.4, u=0.002, unit="V"))  # fmt: skip
    text = said(row(ms(4.69), ms(0.04)), tau, swing)
    assert "Beside it swing differs." in text
    assert "time constant" not in text


def test_bounds_have_no_invented_difference() -> None:
    nothing = Estimate.not_resolved("difference", unit="s")
    text = said(row(ms(4.69), Estimate.at_most("d", 2e-3, unit="s"), "undecided", difference=nothing))
    assert "at most 2.00 ms instead of 4.6900 ms." in text
    assert "nothing that both sides measured" in said()


# --- bench ------------------------------------------------------------------------------------------------------------


def test_a_bound_below_nothing_is_told_as_what_is_less() -> None:
    bounded = replace(
        row(ms(3.06), Estimate.at_most("smoothing_delay", 1.07e-3, unit="s")),
        difference=Estimate.at_most("smoothing_delay", -1.65e-3, unit="s"),
    )
    assert "at most 1.07 ms instead of 3.0600 ms (at least 1.65 ms less)" in said(bounded)


def side(tau: Estimate, **more: Any) -> BenchDirection:
    names = (
        "transition_10_90",
        "step_transition_10_90",
        "dead_time",
        "smoothing_delay",
        "mean_delay",
        "settled_fraction",
    )
    blank = {name: Estimate.not_resolved(name, unit="s") for name in names}
    return BenchDirection(time_constant=tau.renamed("time_constant"), **{**blank, **more})


def capture(rising: BenchDirection | None, falling: BenchDirection | None, **more: Any) -> BenchResult:
    unknown = Estimate.not_resolved("x", unit="V")
    channel = Channel(name="out", values=np.zeros(2), unit="V")
    provenance = Provenance(path="scope/birch.csv")
    return BenchResult(
        capture=Capture(t_s=np.arange(2.0), interval_s=1.0, channels=(channel,), provenance=provenance),
        drive_name="coil", output_name="out", drive_transition=None, drive_swing=None, drive_kind="coil_current",
        rising=rising, falling=falling, update_interval=unknown, noise=unknown, swing=unknown,
        **{"asymmetry": Estimate.not_resolved("asymmetry", unit="ratio"), **more},
    )  # fmt: skip


def ratio(value: float) -> Estimate:
    return Estimate.measured("asymmetry", value, u=0.001, unit="ratio", scale="log")


@pytest.mark.parametrize(
    ("result", "expected"),
    [
        (capture(side(ms(4.69)), side(ms(4.69)), asymmetry=ratio(1.0)), "birch.csv: the output rises and falls alike"),
        (capture(side(ms(4)), side(ms(6)), asymmetry=ratio(1.5)), "falls with 6.000 ms (5.990 to 6.010), 1.5 times as"),
        (capture(side(ms(6)), side(ms(3)), asymmetry=ratio(0.5)), "2 times as quickly."),
        (capture(side(Estimate.at_most("t", 5e-5, unit="s")), None), "at most 0.0500 ms: too quick for this capture"),
        (capture(None, side(Estimate.at_least("t", 9e-2, unit="s"))), "falls with a time constant of at least 90.0 ms"),
        (capture(side(Estimate.not_resolved("t", unit="s")), None), "in a way that no model here explains"),
        (capture(None, None), "a slow sweep gives the transfer curve"),
        (capture(side(ms(4.69)), None, caveats=(NO_DRIVE,)), "There is no drive column"),
        (capture(side(ms(4.69)), None, explanation=("Nothing slow is on it.",)), "Nothing slow is on it."),
    ],
)  # fmt: skip
def test_a_capture_is_told_by_its_time_constants_and_the_gravest_caveat(result: BenchResult, expected: str) -> None:
    assert expected in words(bench_answer(result))


# --- parts ------------------------------------------------------------------------------------------------------------


def test_parts_are_told_by_their_delay_each_way() -> None:
    alike = predict(BoardNetwork(series_ohm=4700.0, behind_f=1e-6))
    assert words(parts_answer(alike)).startswith(
        "These parts delay by 4.700 ms both ways, one pole with its corner at 33.86"
    )
    weak = predict(BoardNetwork(stage=OutputStage(source_ohm=100.0, sink="pull_down", sink_ohm=50e3), pin_f=1e-6))
    assert "times as slowly" in words(parts_answer(weak))
    assert "delay nothing" in words(parts_answer(predict(BoardNetwork(series_ohm=4700.0))))


def test_a_class_2_capacitor_is_said_to_be_less_than_its_mark() -> None:
    assert "anything from" in words(parts_answer(predict(BoardNetwork(series_ohm=4700.0, behind_f=1e-6), class_2=True)))


def test_an_inferred_part_is_told_with_its_standard_value() -> None:
    def of(tau: Estimate) -> PartsResult:
        found: Inference = infer_capacitance(tau, 4700.0, class_2=False)
        return PartsResult(
            network=None, time_constant=tau, corner_frequency=tau, transition_10_90=tau, mean_delay=tau, inferred=found
        )

    told = words(parts_answer(of(ms(4.7, name="time_constant"))))
    assert told.startswith("A time constant of 4.700 ms")
    assert "fits a capacitor of 1 uF" in told
    assert "nearest standard value is 1 uF" in told
    bound = words(parts_answer(of(Estimate.at_most("time_constant", 1e-4, unit="s"))))
    assert "tells no capacitor: at most" in bound


def test_a_change_is_told_as_now_and_then() -> None:
    lifted = what_if(BoardNetwork(series_ohm=4700.0, behind_f=1e-6), "behind_f", None)
    assert words(what_if_answer(lifted)) == (
        "If the capacitor behind the resistor is lifted, the parts' delay is 0 ms instead of 4.700 ms."
    )
