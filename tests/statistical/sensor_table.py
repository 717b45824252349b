"""Print how often "same sensor or not" is wrong, right or left open on boards whose captures were simulated.

Each board is one specimen of a sensor type (spread of its own) behind parts of its own, read with a meter's error.
Pairs within a type are one sensor behind different parts; pairs across types are different sensors, by a stated
separation, and "different" is right for them however small it is.

With ``--drawn`` the readings of the boards are drawn instead of measured from captures, for samples large enough to see
a few per cent.

Run it as ``python tests/statistical/sensor_table.py --boards 8 --first-seed 1000``.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import itertools
import math
import runpy
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from feelcheck.bench import measure_repeats
from feelcheck.model import Part, Profile, SensorFound
from feelcheck.pipeline._chain import sensors_of
from feelcheck.pipeline._specimens import Specimen
from feelcheck.profiles import bench_record_of
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

SOURCE_OHM = 100.0
METER = 0.005
CONSISTENT = "consistent_with_one_sensor"


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorType:
    """A sensor type: what it adds to the delay, volts per ampere, internal sampling."""

    name: str
    own_s: float = 0.0002
    sensitivity: float = 1.0
    refresh_s: float = 0.0


FIRST = SensorType(name="first")
OTHERS = (
    SensorType(name="0.25 ms slower", own_s=0.00045),
    SensorType(name="0.5 ms slower", own_s=0.0007),
    SensorType(name="1 ms slower", own_s=0.0012),
    SensorType(name="3 ms slower", own_s=0.0032),
    SensorType(name="1.15 x as sensitive", sensitivity=1.15),
    SensorType(name="1.5 x as sensitive", sensitivity=1.5),
    SensorType(name="samples at 1.5 kHz", refresh_s=1 / 1500),
)


def board(kind: SensorType, seed: int) -> Specimen:
    """Return one measured board: a specimen of that type behind parts drawn from 0.3 to 6 ms."""
    rng = np.random.default_rng([seed, sum(map(ord, kind.name))])
    farad = rng.uniform(0.1e-6, 1e-6)
    series = math.exp(rng.uniform(math.log(0.0003), math.log(0.006))) / farad
    spread = math.exp(rng.normal(0, 0.03))
    world = BenchWorld(
        coil=Coil(half_period_s=0.06),
        sensor=Sensor(
            sensitivity=kind.sensitivity * spread, sample_interval_s=kind.refresh_s, sample_phase_s=rng.uniform(0, 1e-3)
        ),
        parts=Parts(
            r_source_ohm=SOURCE_OHM, r_series_ohm=series, c_behind_f=farad, poles_s=(kind.own_s + rng.normal(0, 2e-5),)
        ),
        scope=Scope(duration_s=0.13),
    )
    record = bench_record_of(measure_repeats([simulate_capture(world, rng)]), axis="left_x")
    read = 1 + rng.normal(0, METER / 2, 2)
    known = {"measured": "out_of_circuit", "tolerance_fraction": METER}
    parts = (
        Part(position="r1", role="series_resistor", value=series * read[0], unit="ohm", **known),  # type: ignore[arg-type]
        Part(position="c1", role="capacitor", value=farad * read[1], unit="F", dielectric="C0G", **known),  # type: ignore[arg-type]
    )
    sensor = SensorFound(source_ohm=SOURCE_OHM, supply_v=1.8)
    return Specimen(
        profile=Profile(specimen=f"{kind.name} {seed}", sensor=sensor, parts=parts, bench=(record,)), state="as_found"
    )


def pair_verdicts(pairs: Iterator[tuple[Specimen, Specimen]]) -> Counter[str]:
    """Return how the pairs were judged."""
    return Counter(verdict.verdict for pair in pairs for verdict in sensors_of(pair))


def judged(n_boards: int, first_seed: int, others: Sequence[SensorType] = OTHERS) -> dict[str, Counter[str]]:
    """Return verdicts by separation: ``"same"`` within the first type, then each other type against the first."""
    seeds = range(first_seed, first_seed + n_boards)
    first = [board(FIRST, seed) for seed in seeds]
    found = {"same": pair_verdicts(itertools.combinations(first, 2))}
    for kind in others:
        boards = [board(kind, seed) for seed in seeds]
        found[kind.name] = pair_verdicts(itertools.product(first, boards))
        if kind.refresh_s:
            found[f"same, {kind.name}"] = pair_verdicts(itertools.combinations(boards, 2))
    return found


def drawn(n_pairs: int, seed: int) -> dict[str, Counter[str]]:
    """Return verdicts on boards of drawn readings by separation."""
    verdicts: Callable[..., Counter[str]] = runpy.run_path(str(Path(__file__).with_name("test_same_sensor_rates.py")))[
        "verdicts"
    ]
    apart = {
        "same": (0.0, 1.0),
        "0.5 ms slower": (0.5, 1.0),
        "1 ms slower": (1.0, 1.0),
        "1.15 x as sensitive": (0.0, 1.15),
    }
    return {name: verdicts(seed, *separation, n_pairs) for name, separation in apart.items()}


def main() -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boards", type=int, default=8, help="boards a sensor type; pairs share boards")
    parser.add_argument("--drawn", type=int, default=0, help="pairs of boards with drawn readings, no captures")
    parser.add_argument("--first-seed", type=int, default=0)
    chosen = parser.parse_args()
    found_by = drawn(chosen.drawn, chosen.first_seed) if chosen.drawn else judged(chosen.boards, chosen.first_seed)
    print(f"{'separation':<26} {'pairs':>6} {'one sensor%':>12} {'different%':>11} {'open%':>6} {'wrong%':>7}")
    for name, found in found_by.items():
        n = found.total()
        wrong = found["different"] if name.startswith("same") else found[CONSISTENT]
        shares = [100 * found[v] / n for v in (CONSISTENT, "different", "cannot_tell")]
        print(
            f"{name:<26} {n:>6} {shares[0]:12.1f} {shares[1]:11.1f} {shares[2]:6.1f} {100 * wrong / n:7.1f}", flush=True
        )


if __name__ == "__main__":
    main()
