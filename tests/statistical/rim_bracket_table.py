"""Print what the rim alone allows on logs made by equations of motion, against the truth: one row an effect.

Run it as ``python tests/statistical/rim_bracket_table.py --logs 8``. The family is the truth's own: an average where
the world has one and no pole, a pole with its average, two poles, else one pole. Seeds from 900000 on are for figures
to quote.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.even_flicks import lay_evenly
from feelcheck.hand.gate_stop.readings import stick_readings
from feelcheck.hand.gate_stop.rim_bracket import Family, rim_brackets
from feelcheck.hand.gate_stop.windows import flick_windows
from feelcheck.hand.view import prepare
from feelcheck.testing.in_hand import EFFECTS, HandWorld, draw_world, simulate_log

PLACES = ("x.rising", "x.falling", "y.rising", "y.falling")


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One bracket over the truth; NaN or infinite where there is no bound."""

    low: float
    high: float
    middle: float


def family_of(world: HandWorld) -> Family:
    """Return the family that the world's own response belongs to."""
    n_poles = len(world.poles_x_s)
    lengths = [stage.order for stage in world.firmware.stages if stage.kind == "boxcar"]
    if lengths:
        return Family(name="pole_average" if n_poles else "average", n_average=lengths[0])
    if n_poles == 2:
        first, second = (pole[0] for pole in world.poles_x_s)
        return Family(name="two_pole", quick_share=min(first, second) / (first + second))
    return Family(name="one_pole")


def brackets_of(effect: str, seed: int) -> list[Told]:
    """Return the brackets of one log; none where it has no flick to judge by."""
    rng = np.random.default_rng([seed, sum(map(ord, effect))])
    world = draw_world(effect, rng)
    log = simulate_log(world, rng)
    view = prepare(log.recording())
    told = []
    for stick in view.sticks:
        reports = stick_readings(view, stick)
        spans = [(s.start_s, s.end_s) for s in view.segments if s.kind == "flick" and s.stick == stick.stick]
        windows, variance = flick_windows(reports, spans) if spans else ([], np.zeros(2))
        usable = [window for window in windows if not window.why_not]
        if not usable:
            continue
        found = rim_brackets(lay_evenly(usable, variance, reports.interval_s), family_of(world))
        for g, place in enumerate(PLACES):
            true_s = log.truth.get(f"{place}.smoothing_delay_s", 0.0)
            if true_s > 0 and np.isfinite(found.high_s[g]):
                told.append(
                    Told(low=found.low_s[g] / true_s, high=found.high_s[g] / true_s, middle=found.middle_s[g] / true_s)
                )
    return told


HEADER = (
    f"{'effect':<20} {'n':>4} {'low holds%':>10} {'high holds%':>11} {'low':>6} {'middle':>7} {'high':>6} {'p90':>6}"
)


def row(name: str, told: list[Told]) -> str:
    """Return one line: how often the bounds hold, and medians over the truth."""
    if not told:
        return f"{name:<20} {0:>4}"
    low, high, middle = (np.array([getattr(one, part) for one in told]) for part in ("low", "high", "middle"))
    given = low[low > 0]
    return (
        f"{name:<20} {len(told):>4} {100 * np.mean(low <= 1):>10.0f} {100 * np.mean(high >= 1):>11.0f} "
        f"{np.median(given) if given.size else np.nan:>6.2f} {np.median(middle):>7.2f} {np.median(high):>6.2f} "
        f"{np.percentile(high, 90):>6.2f}"
    )


def table(effects: Iterable[str], seeds: range) -> None:
    """Print the table."""
    print(HEADER, flush=True)
    every: list[Told] = []
    for effect in effects:
        told = [one for seed in seeds for one in brackets_of(effect, seed)]
        every += told
        print(row(effect, told), flush=True)
    print(row("all", every))


def main() -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=5, help="logs an effect")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--effects", default=",".join(EFFECTS), help="names, separated by commas")
    chosen = parser.parse_args()
    table(chosen.effects.split(","), range(chosen.first_seed, chosen.first_seed + chosen.logs))


if __name__ == "__main__":
    main()
