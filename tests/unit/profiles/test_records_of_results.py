"""What a record keeps of an analysis or a measurement, and what it refuses."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from feelcheck.errors import ProfileError
from feelcheck.model import (
    AxisResult,
    AxisScale,
    BenchDirection,
    BenchResult,
    Capture,
    Caveat,
    Channel,
    DirectionResponse,
    Estimate,
    HandResult,
    Provenance,
    Recording,
    Status,
    Stream,
    TimeBase,
    TimingResult,
)
from feelcheck.profiles import bench_record_of, hand_record_of

FEW = Caveat(code="few", text="Few flicks.")


def told(name: str, value: float = 1.0, unit: str = "s") -> Estimate:
    return Estimate.measured(name, value, u=0.1 * value, unit=unit, n=3, caveats=(FEW,))


def side(delay_s: float) -> DirectionResponse:
    return DirectionResponse(
        time_constant=told("time_constant", delay_s),
        transition_10_90=told("transition_10_90", 2.2 * delay_s),
        smoothing_delay=told("smoothing_delay", delay_s),
        mean_delay=told("mean_delay", delay_s),
        poles=(told("pole", delay_s), told("pole", delay_s / 4)),
        extra={"dead_time": told("dead_time", 0.001)},
    )


AXIS = AxisResult(
    name="left_x",
    quantization_step=told("quantization_step", 16.0, "counts"),
    resolution=told("resolution", 12.0, "bits"),
    rest_noise=Estimate.at_most("rest_noise", 8.0, unit="counts"),
    return_error=told("return_error", 0.01, "fraction"),
    dead_zone=Estimate.not_present("dead_zone", unit="fraction"),
    update_interval=told("update_interval", 0.001),
    polarity=1,
    rising=side(0.009),
    falling=side(0.014),
    asymmetry=told("asymmetry", 1.5, "ratio"),
    extra={"peak_speed": told("peak_speed", 12.0, "throws/s")},
)
STREAM = Stream(
    name="left_x", time=TimeBase.from_instants([0.0, 1.0]), codes=np.array([0, 1]), scale=AxisScale(reach=127.0)
)
PROVENANCE = Provenance(
    path="sessions/elm_1", specimen="elm", sha256="abc", simulated=True,
    facts={"script": "quick", "cap": "domed", "firmware": "", "started": "2026-11-20T10:00", "operator": "Mo"},
)  # fmt: skip
RESULT = HandResult(
    recording=Recording(streams=(STREAM,), provenance=PROVENANCE),
    n_reports=2,
    duration_s=1.0,
    timing=TimingResult(
        report_interval=told("report_interval", 0.004016),
        host_jitter=told("host_jitter"),
        lost_report_fraction=told("lost_report_fraction", 0.01, "fraction"),
    ),
    axes={"left_x": AXIS},
    release={"ring": told("ring_frequency", 20.0, "Hz")},
    flicks=(),
    caveats=(),
)


def test_a_hand_record_keeps_every_estimate_by_its_quantity_and_no_caveats() -> None:
    record = hand_record_of(RESULT, state="c3_lifted", mounting=2)
    groups = record.axes["left_x"]
    assert set(groups) == {"", "rising", "falling"}
    assert {"quantization_step", "rest_noise", "dead_zone", "asymmetry", "peak_speed"} <= set(groups[""])
    assert set(groups["rising"]) == {
        "time_constant", "transition_10_90", "smoothing_delay", "mean_delay", "dead_time", "pole_1", "pole_2"
    }  # fmt: skip
    assert groups["falling"]["pole_2"].value == pytest.approx(0.0035)
    assert groups[""]["rest_noise"].status is Status.AT_MOST
    assert set(record.release) == {"ring_frequency"}
    every = [e for group in groups.values() for e in group.values()]
    assert all(estimate.caveats == () for estimate in every)


def test_a_hand_record_keeps_where_when_and_how() -> None:
    record = hand_record_of(RESULT, state="c3_lifted", mounting=2)
    assert (record.session, record.state, record.sha256, record.simulated) == ("elm_1", "c3_lifted", "abc", True)
    assert (record.date, record.condition.operator, record.condition.mounting) == ("2026-11-20T10:00", "Mo", 2)
    # 1 / 4.016 ms is 249 Hz: two digits, so that sessions of one pad do not differ by their clocks.
    assert dict(record.condition.facts) == {
        "script": "quick", "cap": "domed", "report_rate_hz": "250", "axis_scale": "counts 127"
    }  # fmt: skip
    assert hand_record_of(RESULT, operator="Ada", date="today").condition.operator == "Ada"


def test_an_unfinished_session_stays_out_of_a_record() -> None:
    half = replace(RESULT, recording=replace(RESULT.recording, provenance=replace(PROVENANCE, complete=False)))
    with pytest.raises(ProfileError, match=r"(?s)Only a finished session goes into a record.*session: sessions/elm_1"):
        hand_record_of(half)


def direction(saturated: bool) -> BenchDirection:
    names = ("time_constant", "transition_10_90", "step_transition_10_90", "dead_time", "smoothing_delay", "mean_delay")
    found: dict[str, Any] = {name: told(name, 0.009) for name in names}
    return BenchDirection(
        **found, settled_fraction=told("settled_fraction", 1.0, "fraction"), saturated=saturated, model="one_pole"
    )


def bench_result(rising: BenchDirection | None, falling: BenchDirection | None, swing: Estimate) -> BenchResult:
    channel = Channel(name="out", values=np.zeros(2), unit="mV")
    return BenchResult(
        capture=Capture(t_s=np.arange(2.0), interval_s=1.0, channels=(channel,), provenance=PROVENANCE),
        drive_name="coil", output_name="out", drive_transition=told("transition_10_90", 0.001), drive_swing=None,
        drive_kind="step", rising=rising, falling=falling, asymmetry=told("asymmetry", 1.0, "ratio"),
        update_interval=told("update_interval", 1e-4), noise=told("noise", 0.01, "V"), swing=swing, caveats=(FEW,),
        extra={"sensitivity": told("sensitivity", 2.0, "V/A")},
    )  # fmt: skip


SWING = told("swing", 1.4, "V")


@pytest.mark.parametrize(
    ("rising", "falling", "swing", "status"),
    [
        (True, True, SWING, Status.OK),
        (True, False, SWING, Status.AT_LEAST),
        (False, False, SWING, None),
        (True, None, SWING, Status.OK),
        (True, True, Estimate.at_least("swing", 1.4, unit="V"), None),
    ],
)
def test_flat_tops_tell_the_saturation_swing(
    rising: bool, falling: bool | None, swing: Estimate, status: Status | None
) -> None:
    result = bench_result(direction(rising), None if falling is None else direction(falling), swing)
    found = bench_record_of(result, axis="left_x").overall.get("saturation_swing")
    assert (None if found is None else found.status) is status


def test_a_bench_record_keeps_the_directions_there_are() -> None:
    record = bench_record_of(bench_result(direction(False), None, SWING), axis="left_x", state="c3_lifted")
    assert (record.axis, record.state, record.output_unit, record.drive_kind) == ("left_x", "c3_lifted", "mV", "step")
    assert set(record.directions) == {"rising"}
    assert dict(record.models) == {"rising": "one_pole"}
    assert {"drive_transition", "sensitivity", "noise", "swing", "asymmetry", "update_interval"} == set(record.overall)
    assert record.caveats == (FEW,)
    assert record.overall["drive_transition"].quantity == "drive_transition"
