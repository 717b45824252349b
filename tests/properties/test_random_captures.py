"""Capture files put together at random are read rightly or refused: never a wrong number, never another error."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest

RANDOM: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("random_captures.py")))
N_FILES = 80
N_PARTS = 2


@pytest.mark.parametrize("part", range(N_PARTS))
def test_random_captures_are_read_or_refused(part: int, tmp_path: Path) -> None:
    refused = []
    for seed in range(part * N_FILES // N_PARTS, (part + 1) * N_FILES // N_PARTS):
        case = RANDOM["make"](seed)
        verdict, why = RANDOM["judge"](case, tmp_path)
        assert verdict != "wrong", f"seed {seed}: {why}; {case.traits}"
        if verdict == "refused":
            refused.append((seed, why, case.traits))
    # Times that were rounded away, with no interval anywhere, are the only files that nobody could read.
    assert all(traits["time"] == "'rounded, no interval'" for _, _, traits in refused), refused
