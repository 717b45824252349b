"""Claims about the bench on circuits and instruments that are not the project's own; fixed seeds."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from feelcheck.testing.at_bench import EFFECTS

sys.path.insert(0, str(Path(__file__).parent))
from foreign_bench_table import Answer, judge

pytestmark = pytest.mark.statistical

SAMPLE = ("zero", "two poles", "soaking", "fast pole", "skew", "coupling", "cut", "mixed")


def answers(effects: tuple[str, ...], seeds: range) -> list[Answer]:
    """All values and limits of time constants."""
    found = [judge((effect, seed, "time_constant")) for effect in effects for seed in seeds]
    return [one for capture in found for one in capture if one.status not in ("not_resolved", "not_present")]


def test_intervals_cover_and_no_value_is_far_off() -> None:
    found = answers(SAMPLE, range(1000, 1001))
    assert len(found) >= len(SAMPLE)
    assert not any(one.gross for one in found)
    assert np.mean([one.covered for one in found]) >= 0.85


@pytest.mark.full
def test_intervals_cover_over_all_effects() -> None:
    found = answers(tuple(EFFECTS), range(1000, 1006))
    values = [one for one in found if one.status == "ok"]
    assert np.mean([one.covered for one in values]) >= 0.92
    assert sum(one.gross for one in values) <= 0.005 * len(values)
    assert len(values) >= 0.85 * len(found)
