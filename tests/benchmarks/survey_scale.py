"""What a survey of many sessions costs: overhead a file, memory, and what a second process gains.

``python tests/benchmarks/survey_scale.py 200`` makes so many short sessions; 2,000 of them take some minutes.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from growth import Cost, cost, shelf_of


def main() -> None:
    """Print a row a run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("n", type=int, nargs="?", default=200, help="sessions")
    n = parser.parse_args().n
    print(f"{'run':<34}{'wall':>9}{'processor':>12}{'memory':>10}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        few, shelf = shelf_of(folder, 2, flicks=1), shelf_of(folder, n, flicks=1)
        start = _run("2 sessions, one process", few, 1, folder / "few.csv")
        one = _run(f"{n:,} sessions, one process", shelf, 1, folder / "one.csv")
        two = _run(f"{n:,} sessions, two processes", shelf, 2, folder / "two.csv")
        again = _run(f"{n:,} sessions again, none changed", shelf, 1, folder / "one.csv")
    print(f"speed-up of a second process: {one.wall_s / two.wall_s:.2f}")
    print(f"a session: {1e3 * (one.cpu_s - start.cpu_s) / (n - 2):.0f} ms")
    print(f"a session that was measured before: {1e3 * again.cpu_s / n:.1f} ms, starting included")


def _run(what: str, shelf: Path, jobs: int, table: Path) -> Cost:
    run = cost(["survey", str(shelf), "--jobs", str(jobs), "--out", str(table)])
    print(f"{what:<34}{run.wall_s:>7.1f} s{run.cpu_s:>10.1f} s{run.peak_mb:>7.0f} MB", flush=True)
    return run


if __name__ == "__main__":
    main()
