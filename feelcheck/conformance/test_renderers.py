"""The suite of renderers: each makes a document of every kind of result that it takes, and only that."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from feelcheck import pipeline
from feelcheck.conformance.samples import LOWER, OWN
from feelcheck.model import Renderer
from feelcheck.sources.synthetic import named_world, quick_script, simulate_recording

KINDS = ("hand", "bench", "comparison", "report")


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Any]:
    """One result of each kind."""
    rng = np.random.default_rng(1)
    before, after = (sample.at(tmp_path_factory.mktemp(sample.name)) for sample in (OWN["scope"][1], LOWER))
    return {
        "hand": [pipeline.analyze_recording(simulate_recording(named_world("alder"), quick_script(2, rng), rng))],
        "bench": pipeline.bench_many([before]),
        "comparison": pipeline.compare(str(before), [str(after)]),
        "report": pipeline.report_of([before]),
    }


def test_a_renderer_has_the_shape_of_one(renderer: Any) -> None:
    """Its entry point gives an object with a name, the results that it takes, a suffix and `render`."""
    assert isinstance(renderer, Renderer)
    assert renderer.name.isidentifier()
    assert renderer.takes
    assert set(renderer.takes) <= set(KINDS)
    assert renderer.suffix.startswith(".")


def test_it_makes_a_document_of_what_it_takes(renderer: Renderer, results: Mapping[str, Any], capsys: Any) -> None:
    """Text or bytes, the same twice, and nothing is printed."""
    for kind in renderer.takes:
        document = renderer.render(results[kind])
        assert isinstance(document, str | bytes)
        assert document
        assert document == renderer.render(results[kind])
    assert capsys.readouterr().out == ""
