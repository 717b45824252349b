"""Print how simulated boards are recognised: rows are the truth, columns what the bench says.

Run: python tests/statistical/board_confusion.py [--variants N] [--seed N]
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from feelcheck.bench import measure_response, recognise_board
from feelcheck.testing.bench_boards import BOARDS, UNLIKE, board, unlike_board
from feelcheck.testing.bench_world import BenchWorld, simulate_capture

COLUMNS = (*BOARDS, "none")


def confusion(n_variants: int, seed: int) -> dict[str, Counter[str]]:
    """Return for every board, and for boards unlike all of them, how often it was called what."""
    table: dict[str, Counter[str]] = {name: Counter() for name in COLUMNS}
    for k in range(n_variants):
        worlds: list[tuple[str, BenchWorld, np.random.Generator]] = []
        for place, name in enumerate(COLUMNS):
            rng = np.random.default_rng([seed, k, place])
            world = unlike_board(rng, UNLIKE[k % len(UNLIKE)]) if name == "none" else board(name, rng)
            worlds.append((name, world, rng))
        for name, world, rng in worlds:
            table[name][recognise_board(measure_response(simulate_capture(world, rng)))] += 1
    return table


def main(n_variants: int, seed: int) -> None:
    """Print the confusion table."""
    table = confusion(n_variants, seed)
    print("truth   " + "".join(f"{column:>6}" for column in COLUMNS))
    for name in COLUMNS:
        print(f"{name:8}" + "".join(f"{table[name][column]:6d}" for column in COLUMNS))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--variants", type=int, default=4, help="randomised variants of each board (50 for the real table)"
    )
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    main(wanted.variants, wanted.seed)
