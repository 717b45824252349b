"""Print how often a metric's verdict is right, wrong or left open over simulated studies, by where the truth lies.

The studies are those of ``test_verdict_rates.py``: recordings and mountings spread as on a bench, margin 1 ms; first
two sides of mountings, then specimens before and after the same change.

Run it as ``python tests/statistical/verdict_table.py --studies 500 --first-seed 900``.
"""

from __future__ import annotations

import argparse
import itertools
import runpy
from pathlib import Path
from typing import Any

STUDY: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("test_verdict_rates.py")))
KINDS = {"mountings": "verdicts", "specimens": "paired_verdicts"}
TRUTHS_MS = (0.0, 0.5, 1.0, 2.0, 3.0)


def counted(kind: str, difference_ms: float, n: int, seed: int, n_studies: int) -> tuple[int, int]:
    """Return how many verdicts are right and wrong.

    On the margin "equivalent" is wrong; "different" says only that the truth is not zero, and is right there too.
    """
    found = STUDY[KINDS[kind]](difference_ms, n, seed, n_studies)
    right = found["different"] if difference_ms else 0
    right += found["equivalent"] if difference_ms < STUDY["MARGIN_MS"] else 0
    wrong = found["different"] if difference_ms == 0 else 0
    wrong += found["equivalent"] if difference_ms >= STUDY["MARGIN_MS"] else 0
    return right, wrong


def main() -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=500)
    parser.add_argument("--first-seed", type=int, default=0)
    chosen = parser.parse_args()
    print("replicates     n  truth/margin  studies  right%  wrong%   open%")
    for kind, n in itertools.product(KINDS, (3, 6)):
        for k, truth in enumerate(TRUTHS_MS):
            right, wrong = counted(kind, truth, n, chosen.first_seed + k, chosen.studies)
            rest = chosen.studies - right - wrong
            shares = [100 * count / chosen.studies for count in (right, wrong, rest)]
            numbers = " ".join(f"{share:7.1f}" for share in shares)
            print(f"{kind:<12} {n:>3} {truth:>13g} {chosen.studies:>8} {numbers}", flush=True)


if __name__ == "__main__":
    main()
