"""What the tables of answers against the truth share: the command line, the run over all effects, shares."""

from __future__ import annotations

import argparse
import multiprocessing
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

__all__ = ["AnswerTable", "percent"]

Answer = TypeVar("Answer")


def percent(parts: Iterable[bool]) -> str:
    """Return the share of what is true, in a column of seven."""
    every = list(parts)
    return f"{100 * np.mean(every):>7.0f}" if every else f"{'-':>7}"


@dataclass(frozen=True, kw_only=True)
class AnswerTable(Generic[Answer]):
    """One row an effect.

    Parameters
    ----------
    header : str
        Names of the columns.
    judge : callable
        Measures what an effect, a seed and a quantity make, and returns its answers.
    row, describe : callable
        One effect's line; one answer's.
    is_bad : callable
        Whether an answer is listed where that is asked for.
    """

    header: str
    judge: Callable[[tuple[str, int, str]], list[Answer]]
    row: Callable[[str, list[Answer]], str]
    describe: Callable[[Answer], str]
    is_bad: Callable[[Answer], bool]

    def show(self, effects: Iterable[str], seeds: range, quantity: str, jobs: int, *, list_bad: bool) -> None:
        """Print the table, and with `list_bad` each bad answer under its effect."""
        print(self.header, flush=True)
        every: list[Answer] = []
        with multiprocessing.Pool(jobs) as pool:
            for effect in effects:
                tasks = [(effect, seed, quantity) for seed in seeds]
                answers = [said for one in pool.imap(self.judge, tasks, chunksize=1) for said in one]
                if not answers:
                    continue
                every += answers
                print(self.row(effect, answers), flush=True)
                for said in filter(self.is_bad, answers if list_bad else ()):
                    print(self.describe(said), flush=True)
        print(self.row("all", every))

    def main(self, doc: str | None, effects: Iterable[str], quantities: Sequence[str], each: str, n: int) -> None:
        """Parse the command line and print; the first quantity is taken if none is named."""
        parser = argparse.ArgumentParser(description=doc)
        parser.add_argument(f"--{each}", type=int, default=n, dest="n", help=f"{each} an effect")
        parser.add_argument("--first-seed", type=int, default=0)
        parser.add_argument("--jobs", type=int, default=1)
        parser.add_argument("--effects", default=",".join(effects), help="names, separated by commas")
        parser.add_argument("--quantity", choices=tuple(quantities), default=quantities[0])
        parser.add_argument("--list-bad", action="store_true", help="name what is behind each bad answer")
        chosen = parser.parse_args()
        seeds = range(chosen.first_seed, chosen.first_seed + chosen.n)
        self.show(chosen.effects.split(","), seeds, chosen.quantity, chosen.jobs, list_bad=chosen.list_bad)
