"""The suite of in-hand metrics: what they return, on good and thin recordings, and what they leave alone."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from feelcheck.guarding import GuardedMetric
from feelcheck.hand import prepare
from feelcheck.model import Action, HandView, Metric, MetricOutput, Script, Step
from feelcheck.plugins import Plugin
from feelcheck.sources.synthetic import named_world, quick_script, simulate_recording

Registered = tuple[Plugin, Metric]


@pytest.fixture(scope="module")
def view() -> HandView:
    """A simulated stick that rests and is flicked."""
    rng = np.random.default_rng(1)
    return prepare(simulate_recording(named_world("alder"), quick_script(4, rng), rng))


@pytest.fixture(scope="module")
def thin() -> HandView:
    """Half a second in which the stick is moved once: nothing can be measured."""
    once = Script(
        name="once", title="One flick", steps=(Step(action=Action.FLICK, duration_s=0.5, direction_deg=45.0),)
    )
    return prepare(simulate_recording(named_world("alder"), once, np.random.default_rng(1)))


def test_a_metric_has_the_shape_of_one(metric: Registered) -> None:
    """Its entry point gives an object with a name and `measure`."""
    plugin, made = metric
    assert isinstance(made, Metric), plugin.reference
    assert made.name.isidentifier()


def test_what_it_returns_is_of_its_family(metric: Registered, view: HandView, capsys: Any) -> None:
    """It returns findings on axes that the recording has, every number with its uncertainty, and prints nothing."""
    output = metric[1].measure(view)
    assert isinstance(output, MetricOutput)
    assert capsys.readouterr().out == ""
    axes = {"", *(stream.name for stream in view.recording.streams)}
    for finding in output.findings:
        assert finding.axis in axes
        assert finding.estimate.quantity.isidentifier()
        if finding.estimate.is_ok:
            assert math.isfinite(finding.estimate.value or math.nan) or finding.estimate.value == 0
            assert finding.estimate.u is not None


def test_it_stands_beside_the_built_in_ones(metric: Registered, view: HandView) -> None:
    """A metric of another package gets through the guard that analyses put around it."""
    plugin, made = metric
    if plugin.distribution == "feelcheck":
        return
    caveats = GuardedMetric(plugin, made).measure(view).caveats
    assert not [caveat.text for caveat in caveats if caveat.code.startswith("left_out_")]


def test_thin_data_is_no_error(metric: Registered, thin: HandView) -> None:
    """Where nothing can be measured it says so, or nothing."""
    assert isinstance(metric[1].measure(thin), MetricOutput)


def test_it_answers_the_same_twice_and_changes_nothing(metric: Registered, view: HandView) -> None:
    """The recording is as it was, and a second look finds the same."""
    before = [stream.codes.copy() for stream in view.recording.streams]
    first, second = (repr(metric[1].measure(view).findings) for _ in range(2))
    assert first == second
    assert all(np.array_equal(kept, stream.codes) for kept, stream in zip(before, view.recording.streams, strict=True))
