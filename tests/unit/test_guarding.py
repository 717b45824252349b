"""A metric of another package is used, and one that fails is named and left out while nothing else changes."""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from importlib import metadata
from typing import Any

import numpy as np
import pandas as pd
import pytest

import feelcheck
from feelcheck import foreign, pipeline, plugins
from feelcheck.errors import Interrupted
from feelcheck.model import Caveat, Estimate, Finding, HandResult, HandView, MetricOutput
from feelcheck.renderers.hand_text import hand_text

GROUP = "feelcheck.metrics"


class Distribution:
    name, version = "workbench", "2.1"


class Loaded(metadata.EntryPoint):
    """An entry point that gives an object of this file."""

    def load(self) -> Any:
        return SimpleMetric(MEASURES[self.value])


class SimpleMetric:
    name = "wobble"

    def __init__(self, measure: Callable[[HandView], Any]) -> None:
        self.measure = measure


def _wobble(view: HandView) -> MetricOutput:
    found = Estimate.measured("wobble", 0.012, u=0.001, unit="s", n=3)
    own = Estimate.measured("reach_high", 1e6, u=1.0, unit="fraction")
    return MetricOutput(findings=(Finding(estimate=found, axis="left_x"), Finding(estimate=own, axis="left_x")))


def _raises(view: HandView) -> MetricOutput:
    raise RuntimeError("the wobble\nis off")


def _prints(view: HandView) -> MetricOutput:
    print("hello")
    return MetricOutput()


def _writes(view: HandView) -> MetricOutput:
    os.write(1, b"from below")
    return MetricOutput()


def _stops(view: HandView) -> MetricOutput:
    time.sleep(0.1)
    raise KeyboardInterrupt


def _exits(view: HandView) -> MetricOutput:
    sys.exit(7)


def _ends(view: HandView) -> MetricOutput:
    raise Interrupted(15)


MEASURES: dict[str, Callable[[HandView], Any]] = {
    "fine:X": _wobble,
    "raises:X": _raises,
    "prints:X": _prints,
    "writes:X": _writes,
    "number:X": lambda view: 7,
    "nowhere:X": lambda view: MetricOutput(findings=(Finding(estimate=_estimate(), axis="middle"),)),
    "taken:X": lambda view: MetricOutput(
        findings=(Finding(estimate=_estimate().renamed("rest_noise"), axis="left_x"),)
    ),
    "odd:X": lambda view: MetricOutput(caveats=("watch out",)),  # type: ignore[arg-type]
    "stops:X": _stops,
    "ends:X": _ends,
    "exits:X": _exits,
}


def _estimate() -> Estimate:
    return Estimate.measured("wobble", 1.0, u=0.1, unit="s")


@pytest.fixture(scope="module")
def log() -> pd.DataFrame:
    k = np.arange(800)
    x, y = np.round(30000 * np.sin(k * 0.05)), np.round(20000 * np.cos(k * 0.03))
    return pd.DataFrame({"time_ms": 4 * k, "left_x": x.astype(int), "left_y": y.astype(int)})


@pytest.fixture(scope="module")
def plain(log: pd.DataFrame) -> dict[str, Any]:
    return feelcheck.analyze(log).to_dict()


@pytest.fixture
def install(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    real = metadata.entry_points

    def with_one_more(value: str) -> None:
        entry = Loaded("wobble", value, GROUP)
        vars(entry).update(dist=Distribution())
        monkeypatch.setattr(
            metadata, "entry_points", lambda group: [*real(group=group), *([entry] if group == GROUP else [])]
        )

    return with_one_more


def _without_caveats(document: dict[str, Any]) -> str:
    return json.dumps({**document, "caveats": []}, sort_keys=True)


def test_a_metric_of_another_package_is_in_json_and_text(
    log: pd.DataFrame, plain: dict[str, Any], install: Callable[[str], None]
) -> None:
    install("fine:X")
    result: HandResult = pipeline.analyze(log)
    document = result.to_dict()
    assert document["axes"]["left_x"].pop("wobble")["value"] == pytest.approx(12.0)
    assert _without_caveats(document) == _without_caveats(plain)  # the built-in reach stands
    text = hand_text([result])
    assert "From other packages" in text
    assert "12.0 ms" in text
    assert text.count("workbench") == 1
    assert dict(result.added) == {"wobble": "workbench"}


@pytest.mark.parametrize(
    ("kind", "why"),
    [
        ("raises:X", "RuntimeError: the wobble is off"),
        ("prints:X", "it prints"),
        ("writes:X", "'from below'"),
        ("number:X", "returned int"),
        ("nowhere:X", "belongs to no axis: 'middle'"),
        ("taken:X", "has the name of a built-in quantity"),
        ("odd:X", "returned str among traces and caveats"),
        ("stops:X", "Ctrl-C"),
        ("exits:X", "it ends the program: exit code 7"),
    ],
)
def test_one_that_fails_is_named_and_left_out(
    kind: str,
    why: str,
    log: pd.DataFrame,
    plain: dict[str, Any],
    install: Callable[[str], None],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(foreign, "WAIT_S", 0.02)
    install(kind)
    result: HandResult = pipeline.analyze(log)
    (said,) = [caveat for caveat in result.caveats if caveat.code == "left_out_wobble"]
    assert isinstance(said, Caveat)
    assert "metric wobble of package workbench was left out" in said.text
    assert why in said.text
    assert _without_caveats(result.to_dict()) == _without_caveats(plain)
    shown = capsys.readouterr()
    assert shown.out == ""
    assert kind != "stops:X" or "waiting for metric wobble of package workbench" in shown.err


def test_a_request_to_end_is_no_fault_of_the_metric(log: pd.DataFrame, install: Callable[[str], None]) -> None:
    install("ends:X")
    with pytest.raises(Interrupted):
        pipeline.analyze(log)


@pytest.mark.parametrize(
    ("group", "value", "state"),
    [
        ("feelcheck.metrics", SimpleMetric(_wobble), "works"),
        ("feelcheck.metrics", SimpleMetric, "works"),
        ("feelcheck.metrics", 7, "cannot be used: it has no measure"),
        ("feelcheck.sources", 7, "cannot be used: it is int, not SourceKind"),
        ("feelcheck.scripts", _wobble, "works"),
        ("feelcheck.scripts", 7, "cannot be used: it is int, not Script"),
        ("feelcheck.renderers", 7, "cannot be used: it has no takes, no suffix, no render"),
    ],
)
def test_the_list_of_plugins_tells_what_is_none_of_its_family(
    group: str, value: Any, state: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = plugins.Plugin(group=group, name="wobble", reference="a:b", distribution="workbench")
    monkeypatch.setattr(plugins, "surveyed", lambda asked: [(found, value)] if asked == group else [])
    assert pipeline.installed_plugins() == [(group, "wobble", "workbench", "", state)]
