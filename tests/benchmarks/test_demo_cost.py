"""What `feelcheck demo` costs from its start, against importing the libraries, in the same run."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.usefixtures("compiled_once")
LIBRARIES = "import numpy, pandas, scipy.optimize, typer, rich"
MOST = 10.0


def processor_s(*words: str, n_runs: int = 3) -> float:
    """Processor time of the cheapest run of this Python."""
    spent = []
    for _ in range(n_runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(spent)


def test_the_whole_chain_costs_a_small_multiple_of_the_libraries(tmp_path: Path) -> None:
    chain = processor_s("-m", "feelcheck", "demo", "--out", str(tmp_path / "out"), n_runs=3)
    libraries = processor_s("-c", LIBRARIES)
    print(f"demo: {chain:.2f} s, libraries {libraries:.2f} s, ratio {chain / libraries:.1f}")
    assert chain < MOST * libraries
