"""Capture files put together at random are read rightly or refused: never a wrong number, never another error."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest

RANDOM: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("random_captures.py")))
N_FILES = 40


@pytest.mark.parametrize("first", [0, *(pytest.param(k * N_FILES, marks=pytest.mark.full) for k in range(1, 10))])
def test_random_captures_are_read_or_refused(first: int, tmp_path: Path) -> None:
    refused = []
    for seed in range(first, first + N_FILES):
        case = RANDOM["make"](seed)
        verdict, why = RANDOM["judge"](case, tmp_path)
        assert verdict != "wrong", f"seed {seed}: {why}; {case.traits}"
        if verdict == "refused":
            refused.append((seed, why, case.traits))
    # Times that were rounded away, with no interval anywhere, are the only files that nobody could read.
    assert all(traits["time"] == "'rounded, no interval'" for _, _, traits in refused), refused
