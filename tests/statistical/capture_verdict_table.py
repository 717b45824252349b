"""Print how often captures of equal boards are called different, and changed ones equivalent, quantity by quantity.

Each study draws a board and two sides of captures: every capture is set up anew (the sensor's place gives 3 % more or
less, the drive's level and the phase of everything vary), one side with the board as it is, the other with its time
constant longer by what is named. Boards, drives and instruments are those of `feelcheck.testing.at_bench`.

Run it as ``python tests/statistical/capture_verdict_table.py --studies 40``.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

from collections import Counter
from dataclasses import replace

import numpy as np

from feelcheck.bench import measure_response
from feelcheck.comparison.capture_sides import compare_captures
from feelcheck.model import BenchRecord, MetricComparison
from feelcheck.profiles import bench_record_of
from feelcheck.testing.at_bench import BenchSetup, draw_bench, take_capture
from feelcheck.testing.at_bench.setup import Linear

BOARDS = (
    "plain",
    "ladder",
    "two poles",
    "eddy currents",
    "overshoot",
    "freewheel",
    "pink noise",
    "nonlinear converter",
)
MARGIN_S = 1e-3
"""Of a delay, as `compare` has it unless told."""


def board(effect: str, rng: np.random.Generator) -> BenchSetup:
    """Return a bench with both edges in every capture."""
    drawn = draw_bench(effect, rng)
    look = drawn.instrument
    duration = look.before_s + 2.3 * drawn.half_period_s
    look = replace(look, duration_s=duration, interval_s=duration / 2500, before_s=look.before_s)
    return replace(drawn, n_edges=2, instrument=look)


def captured(setup: BenchSetup, longer_s: float, rng: np.random.Generator) -> BenchRecord:
    """Return what the bench says of one capture, set up anew."""
    stages = (*setup.stages, Linear.pole(longer_s)) if longer_s else setup.stages
    look = replace(setup.instrument, before_s=setup.instrument.before_s * float(rng.uniform(0.9, 1.1)))
    anew = replace(setup, stages=stages, instrument=look, gain_v=setup.gain_v * float(rng.normal(1.0, 0.03)))
    return bench_record_of(measure_response(take_capture(anew, rng).capture), axis="")


def study(effect: str, n: int, longer_s: float, seed: int) -> tuple[MetricComparison, ...]:
    """Return the verdicts of one study."""
    rng = np.random.default_rng([seed, n, sum(map(ord, effect))])
    setup = board(effect, rng)
    before = [captured(setup, 0.0, rng) for _ in range(n)]
    after = [captured(setup, longer_s, rng) for _ in range(n)]
    return compare_captures(before, after, candidate_name="after")


def main() -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=8, help="of each kind")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--captures", type=int, default=3, help="a side")
    parser.add_argument("--longer", type=float, default=0.0, help="time constant added to one side, in margins")
    chosen = parser.parse_args()
    found: dict[str, Counter[str]] = {}
    for seed in range(chosen.first_seed, chosen.first_seed + chosen.studies):
        effect = BOARDS[seed % len(BOARDS)]
        for row in study(effect, chosen.captures, chosen.longer * MARGIN_S, seed):
            kept = found.setdefault(row.name, Counter())
            kept[row.verdict] += 1
            kept["detected"] += row.detected
    print(f"{'quantity':<20} {'n':>4} {'different%':>11} {'equivalent%':>12} {'undecided%':>11} {'detected%':>10}")
    total: Counter[str] = Counter()
    for name, counts in found.items():
        total += counts
        print(row_of(name, counts))
    print(row_of("all", total))


def row_of(name: str, counts: Counter[str]) -> str:
    """Return one line."""
    n = sum(counts[verdict] for verdict in ("different", "equivalent", "undecided"))
    shares = [100 * counts[verdict] / max(n, 1) for verdict in ("different", "equivalent", "undecided", "detected")]
    return f"{name:<20} {n:>4} {shares[0]:>11.1f} {shares[1]:>12.1f} {shares[2]:>11.1f} {shares[3]:>10.1f}"


if __name__ == "__main__":
    main()
