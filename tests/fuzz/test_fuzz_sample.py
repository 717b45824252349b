"""A sample of the spoilt inputs: each is taken or refused in words, within bounds of time and memory."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))

from corpus import seeds
from fuzz import BEGIN, END, guarded, table
from mutations import mutated

BLOCK = 250
FIRST = [0, *(pytest.param(first, marks=pytest.mark.full) for first in range(BLOCK, 20 * BLOCK, BLOCK))]


@pytest.mark.parametrize("first", FIRST)
def test_spoilt_input_is_taken_or_refused_in_words(first: int) -> None:
    results = list(guarded(range(first, first + BLOCK)))
    assert [result["seed"] for result in results] == list(range(first, first + BLOCK))
    faults = [f"seed {result['seed']}: {result['fault']}" for result in results if result["fault"]]
    assert not faults, "\n".join(faults)
    assert {"taken", "refused"} <= {result["ended"] for result in results}


def test_a_seed_is_an_input() -> None:
    data = seeds()["log"][0]["log.csv"]
    assert mutated(data, random.Random(5)) == mutated(data, random.Random(5))
    assert len({mutated(data, random.Random(k)) for k in range(200)}) > 150


def test_the_table_stands_in_the_contributors_page() -> None:
    page = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert "| all | " in page.partition(BEGIN)[2].partition(END)[0]
    fault = {"seed": 1, "name": "x", "ended": "fault", "fault": "y", "s": 1.0}
    assert table([fault]).splitlines()[-1] == "| all | 1 | 0 | 0 | 1 | 1.0 |"
