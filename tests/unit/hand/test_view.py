from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from feelcheck.errors import NotEnoughDataError
from feelcheck.hand import analyse, prepare
from feelcheck.model import (
    AxisScale,
    Caveat,
    Estimate,
    Finding,
    FlickRecord,
    HandView,
    MetricOutput,
    Provenance,
    Recording,
    Status,
    Stream,
    TimeBase,
)


def recording(**provenance: Any) -> Recording:
    t_s = 0.004 * np.arange(1500)
    time = TimeBase.from_instants(t_s)
    codes = np.round(20000 * np.sin(2 * np.pi * t_s)).astype(np.int64)
    streams = tuple(Stream(name=n, time=time, codes=codes // k) for k, n in ((1, "x"), (2, "y")))
    return Recording(streams=streams, provenance=Provenance(**provenance))


class Fixed:
    name = "fixed"

    def __init__(self, output: MetricOutput) -> None:
        self.output = output

    def measure(self, view: HandView) -> MetricOutput:
        return self.output


def value(quantity: str, number: float) -> Estimate:
    return Estimate.measured(quantity, number, u=0.1, unit="s")


def test_findings_go_to_their_places() -> None:
    output = MetricOutput(
        findings=(
            Finding(estimate=value("rest_noise", 3.0), axis="x"),
            Finding(estimate=value("allan_floor", 4.0), axis="x"),
            Finding(estimate=value("time_constant", 5.0), axis="y", direction="rising", group="response"),
            Finding(estimate=value("compliance", 6.0), axis="y", direction="rising", group="response"),
            Finding(estimate=value("asymmetry", 7.0), axis="y", group="response"),
            Finding(estimate=value("ring_frequency", 8.0), group="release"),
            Finding(estimate=value("burst_share", 9.0), group="timing"),
        ),
        flicks=(
            FlickRecord(start_s=2.0, direction_deg=1.0, kind="flick", used=True),
            FlickRecord(start_s=1.0, direction_deg=1.0, kind="flick", used=True),
        ),
        caveats=(Caveat(code="a", text="A."), Caveat(code="a", text="A again.")),
        models={("y", "rising"): "one_pole"},
        poles={("y", "rising"): (value("pole", 5.0),)},
    )
    result = analyse(prepare(recording()), [Fixed(output)])
    assert result.axes["x"].rest_noise.value == 3.0
    assert result.axes["x"].extra["allan_floor"].value == 4.0
    rising = result.axes["y"].rising
    assert (rising.time_constant.value, rising.extra["compliance"].value, rising.model) == (5.0, 6.0, "one_pole")
    assert [pole.value for pole in rising.poles] == [5.0]
    assert result.axes["y"].asymmetry.value == 7.0
    assert result.release["ring_frequency"].value == 8.0
    assert result.timing.extra["burst_share"].value == 9.0
    assert [flick.start_s for flick in result.flicks] == [1.0, 2.0]
    assert [c.text for c in result.caveats if c.code == "a"] == ["A."]


def test_what_nobody_measures_is_not_resolved_and_says_why() -> None:
    result = analyse(prepare(recording()), [])
    for axis in result.axes.values():
        for estimate in (axis.quantization_step, axis.update_interval, axis.falling.time_constant, axis.asymmetry):
            assert estimate.status is Status.NOT_RESOLVED
            assert estimate.caveats[0].code == "not_measured"
    assert result.axes["x"].rising.model == "none"
    assert result.timing.report_interval.value == pytest.approx(0.004, rel=1e-3)
    assert (result.n_reports, round(result.duration_s, 3)) == (1500, 5.996)


def test_a_recording_without_flicks_says_so() -> None:
    assert "no_flicks" in [c.code for c in analyse(prepare(recording()), []).caveats]


@pytest.mark.parametrize(
    ("provenance", "code"), [({"simulated": True}, "simulated"), ({"complete": False}, "incomplete_session")]
)
def test_where_it_came_from_is_remarked(provenance: dict[str, bool], code: str) -> None:
    assert code in [c.code for c in analyse(prepare(recording(**provenance)), []).caveats]
    assert code not in [c.code for c in analyse(prepare(recording()), []).caveats]


@pytest.mark.parametrize(("stated", "polarity"), [("1", 1), ("+1", 1), ("-1", -1), ("up", None)])
def test_polarity_is_what_the_header_states(stated: str, polarity: int | None) -> None:
    result = analyse(prepare(recording(facts={"x.polarity": stated})), [])
    assert result.axes["x"].polarity == polarity
    assert result.axes["y"].polarity is None


def test_a_metric_may_know_the_polarity() -> None:
    assert analyse(prepare(recording()), [Fixed(MetricOutput(polarity={"y": -1}))]).axes["y"].polarity == -1


def test_no_varying_axis_is_refused() -> None:
    time = TimeBase.from_instants(0.01 * np.arange(50))
    still = Recording(
        streams=(Stream(name="x", time=time, codes=np.full(50, 7)),), provenance=Provenance(path="alder.csv")
    )
    with pytest.raises(NotEnoughDataError, match=r"at least one axis that moves(.|\n)*alder\.csv(.|\n)*--axes"):
        prepare(still)


def test_a_metric_that_raises_is_not_hidden() -> None:
    class Broken:
        name = "broken"

        def measure(self, view: HandView) -> MetricOutput:
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        analyse(prepare(recording()), [Broken()])


def test_fraction_logs_keep_fractions_as_their_unit() -> None:
    t_s = 0.004 * np.arange(500)
    scale = AxisScale(reach=1.0, unit="fraction")
    stream = Stream(name="x", time=TimeBase.from_instants(t_s), codes=np.round(np.sin(7 * t_s), 4), scale=scale)
    fractions = Recording(streams=(stream,), provenance=Provenance())
    assert analyse(prepare(fractions), []).axes["x"].rest_noise.unit == "fraction"


def test_an_axis_that_is_no_stick_s_is_not_dropped_without_a_word() -> None:
    plain = recording()
    throttle = replace(plain.streams[0], name="throttle")
    result = analyse(prepare(replace(plain, streams=(*plain.streams, throttle))), [])
    said = [caveat for caveat in result.caveats if caveat.code == "no_stick_axis"]
    assert [caveat.text for caveat in said] == ["Taken for no axis of a stick and not measured: throttle."]
    assert not [caveat for caveat in analyse(prepare(plain), []).caveats if caveat.code == "no_stick_axis"]
    still = replace(throttle, codes=np.zeros(throttle.codes.size))
    resting = analyse(prepare(replace(plain, streams=(*plain.streams, still))), [])
    assert not [caveat for caveat in resting.caveats if caveat.code == "no_stick_axis"]
