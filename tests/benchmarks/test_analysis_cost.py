"""Processor time and memory of a whole analysis against importing the libraries and reading the same file.

What a user pays: both begin with the compiled modules that an unmeasured run has kept (`compiled_once`).

Run it as ``python -m pytest tests/benchmarks --ignore-glob= -m ''``; ratios of one run, so that the machine drops out.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from feelcheck.recorder import load_script
from feelcheck.sources.synthetic import named_world, simulate_recording, write_table

pytestmark = pytest.mark.usefixtures("compiled_once")

BASELINE = "import sys, numpy, scipy.optimize, scipy.signal, scipy.stats, pandas; pandas.read_csv(sys.argv[1])"
MOST_MEMORY_MB = 400.0


@pytest.fixture(scope="module")
def two_minutes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    script = load_script("default")
    path = tmp_path_factory.mktemp("logs") / "two_minutes.csv"
    write_table(simulate_recording(named_world("alder"), script, np.random.default_rng(1)), path)
    return path


@pytest.fixture(scope="module")
def ten_minutes(two_minutes: Path) -> Path:
    header, *rows = two_minutes.read_text(encoding="utf-8").splitlines()
    cells = [row.split(",", 1) for row in rows]
    span = float(cells[-1][0]) + 0.001
    path = two_minutes.with_name("ten_minutes.csv")
    tiled = (f"{float(t) + k * span:.6f},{rest}" for k in range(5) for t, rest in cells)
    path.write_text("\n".join([header, *tiled]) + "\n", encoding="utf-8")
    return path


def cost(*command: str) -> tuple[float, float]:
    """Processor time (s) and peak memory (MB) of one command."""
    env = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=env)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, after.ru_maxrss / 1024


def ratio(path: Path) -> float:
    read = ("-c", BASELINE, str(path))
    analyze = ("-m", "feelcheck", "analyze", str(path), "--json")
    baseline, analysis = (min([cost(sys.executable, *words)[0] for _ in range(4)][1:]) for words in (read, analyze))
    print(f"{path.name}: {analysis:.2f} s against {baseline:.2f} s, ratio {analysis / baseline:.2f}")
    return analysis / baseline


def test_two_minutes_cost_at_most_twice_reading(two_minutes: Path) -> None:
    assert ratio(two_minutes) <= 2.0


def test_ten_minutes_cost_at_most_four_times_reading(ten_minutes: Path) -> None:
    assert ratio(ten_minutes) <= 4.0


def test_memory_stays_small(ten_minutes: Path) -> None:
    assert cost(sys.executable, "-m", "feelcheck", "analyze", str(ten_minutes), "--json")[1] <= MOST_MEMORY_MB
