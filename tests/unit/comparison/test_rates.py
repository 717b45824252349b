"""The table of rates that stands beside verdicts: whole, honest about its size, shown in text and JSON."""

from __future__ import annotations

import json

import pytest
from statsmodels.stats.proportion import proportion_confint

from feelcheck.comparison import verdict_rates
from feelcheck.comparison.rates import share_at_most
from feelcheck.model import Comparison
from feelcheck.renderers.compare_json import compare_json
from feelcheck.renderers.compare_text import compare_text


@pytest.mark.reference
@pytest.mark.parametrize(("found", "n"), [(0, 60), (3, 100), (18, 500), (7, 7)])
def test_the_exact_upper_end_agrees_with_statsmodels(found: int, n: int) -> None:
    assert share_at_most(found, n) == pytest.approx(proportion_confint(found, n, method="beta")[1], rel=1e-9)


def test_no_kind_of_verdict_is_shown_to_be_wrong_more_often_than_one_in_twenty() -> None:
    rows = verdict_rates()
    assert all(row.n_wrong <= 0.05 * row.n for row in rows)
    assert {row.kind for row in rows} == {"metric", "paired", "capture", "sensor", "parts-bench", "bench-hand"}
    assert all(0 <= row.n_open <= row.n for row in verdict_rates())


def test_verdicts_are_shown_with_their_rates() -> None:
    result = Comparison(baseline="alder", candidates=("birch",), metrics=(), rates=verdict_rates())
    text = compare_text(result, full=True)
    assert "How far such verdicts can be trusted" in text
    assert "on the margin, 3 mountings a side" in text
    document = json.loads(compare_json(result))
    assert document["rates"][0]["wrong_at_most_fraction"] > document["rates"][0]["wrong_fraction"]
