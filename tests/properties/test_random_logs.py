"""Axis logs put together at random are read rightly or refused: never a wrong number, never another error."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest

RANDOM: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("random_logs.py")))
N_LOGS = 30


@pytest.mark.parametrize("first", [0, *(pytest.param(k * N_LOGS, marks=pytest.mark.full) for k in range(1, 10))])
def test_random_logs_are_read(first: int, tmp_path: Path) -> None:
    for seed in range(first, first + N_LOGS):
        log = RANDOM["make"](seed)
        verdict, why = RANDOM["judge"](log, tmp_path)
        assert verdict == "read", f"seed {seed}: {verdict}: {why}; {log.traits}"
