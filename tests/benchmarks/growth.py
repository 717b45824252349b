"""How processor time and memory grow with a log's or a session's length, samples and the number of sessions.

``python tests/benchmarks/growth.py`` measures up to 25 minutes, a million samples and 75 sessions; ``--steps 5`` goes
on to ten hours, 65 million samples and 1,875 sessions (375 of a report), in about half an hour. The tables are
Markdown: one row a size, then one row a command. The exponent p is that of ``a + b n^p`` through the last three sizes,
which lie a constant factor apart, so that the start drops out.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from feelcheck.recorder import RecordingAsked, record_session
from feelcheck.sources.synthetic import named_world, quick_script, simulate_recording

Command = Callable[[Path], Sequence[str]]


@dataclass(frozen=True)
class Study:
    """One command over inputs of growing size."""

    name: str
    unit: str
    first: int
    factor: int
    make: Callable[[Path, int], Path]
    command: Command
    most: int = 99
    """How many sizes at the most: a page of 1,875 sessions has 370 MB, which no browser opens."""


@dataclass(frozen=True)
class Cost:
    """What one run took: processor and wall time, s, and peak memory of its largest process, MB."""

    cpu_s: float
    wall_s: float
    peak_mb: float


def log_of(folder: Path, minutes: int) -> Path:
    """Return a log of so many minutes: simulated flicks, repeated."""
    rng = np.random.default_rng(1)
    recording = simulate_recording(named_world("alder"), quick_script(12, rng), rng)
    left_x, left_y = recording.streams[:2]
    t_s = left_x.time.t_hi_s - left_x.time.t_hi_s[0]
    y = np.interp(left_x.time.t_hi_s, left_y.time.t_hi_s, left_y.codes).astype(int)
    span_s = float(t_s[-1]) + 0.5
    path = folder / f"{minutes}_minutes.csv"
    with path.open("w", encoding="utf-8") as stream:
        stream.write("time_s,left_x,left_y\n")
        for k in range(max(1, round(60 * minutes / span_s))):
            rows = zip(t_s + k * span_s, left_x.codes, y, strict=True)
            stream.writelines(f"{a:.6f},{b},{c}\n" for a, b, c in rows)
    return path


def session_of(folder: Path, minutes: int) -> Path:
    """Return a session of so many minutes: a short one, repeated."""
    rng = np.random.default_rng(1)
    made = record_session(
        RecordingAsked(specimen="alder", script=quick_script(12, rng), source="synthetic", out=folder)
    )
    path = made / "events.csv"
    head, *lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    rows = [(int(low), int(high), rest) for low, high, rest in (line.split(",", 2) for line in lines)]
    span_ns = rows[-1][1] - rows[0][0] + 500_000_000
    with path.open("w", encoding="utf-8") as stream:
        stream.write(head)
        for k in range(max(1, round(60e9 * minutes / span_ns))):
            stream.writelines(f"{low + k * span_ns},{high + k * span_ns},{rest}" for low, high, rest in rows)
    return made


def capture_of(folder: Path, samples: int) -> Path:
    """Return a capture of so many samples: a pole of a fiftieth of it behind four steps of the field."""
    k = np.arange(samples)
    part = samples // 5
    moved = -np.expm1(-(k % part) / (samples / 250))
    up = (k // part) % 2 == 1
    volts = np.where(up, 0.3 + moved, np.where(k < part, 0.3, 1.3 - moved))
    volts += np.random.default_rng(1).normal(0.0, 0.002, samples)
    path = folder / f"{samples}_samples.csv"
    with path.open("w", encoding="utf-8") as stream:
        stream.write("time (us),coil (A),out (V)\n")
        stream.writelines(f"{4 * a},{b:d},{c:.4f}\n" for a, b, c in zip(k, up, volts, strict=True))
    return path


def shelf_of(folder: Path, n: int, flicks: int = 2) -> Path:
    """Return a shelf with so many sessions, a short one at other times: no two files are the same."""
    rng = np.random.default_rng(1)
    made = record_session(
        RecordingAsked(specimen="alder", script=quick_script(flicks, rng), source="synthetic", out=folder / f"one_{n}")
    )
    head, *lines = (made / "events.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    rows = [(int(low), int(high), rest) for low, high, rest in (line.split(",", 2) for line in lines)]
    header = (made / "datapackage.json").read_text(encoding="utf-8")
    shelf = folder / f"{n}_sessions"
    for k in range(n):
        one = shelf / f"alder_{k:05}"
        one.mkdir(parents=True)
        (one / "datapackage.json").write_text(header.replace('"alder"', f'"alder_{k:05}"'), encoding="utf-8")
        moved = (f"{low + 1000 * k},{high + 1000 * k},{rest}" for low, high, rest in rows)
        (one / "events.csv").write_text(head + "".join(moved), encoding="utf-8")
    return shelf


STUDIES = (
    Study("analyze", "minutes", 1, 5, log_of, lambda path: ("analyze", str(path), "--json")),
    Study("session", "minutes", 1, 5, session_of, lambda path: ("analyze", str(path), "--json")),
    Study("export", "minutes", 1, 5, log_of, lambda path: ("export", str(path), "--out", str(path) + ".parquet")),
    Study("bench", "samples", 16_000, 8, capture_of, lambda path: ("bench", str(path), "--json")),
    Study("sessions", "sessions", 3, 5, shelf_of, lambda path: ("sessions", str(path))),
    Study("survey", "sessions", 3, 5, shelf_of,
          lambda path: ("survey", str(path), "--out", str(path) + ".csv")),
    Study("report", "sessions", 3, 5, shelf_of,
          lambda path: ("report", *map(str, sorted(path.iterdir())), "--out", str(path) + ".html"), most=4),
)  # fmt: skip


def cost(words: Sequence[str]) -> Cost:
    """Run feelcheck and return what it took; whatever it prints is not looked at.

    Raises
    ------
    RuntimeError
        If it fails.
    """
    env = {**os.environ, "OMP_NUM_THREADS": "1"}
    silent = subprocess.DEVNULL
    begun = time.perf_counter()
    child = subprocess.Popen([sys.executable, "-m", "feelcheck", *words], env=env, stdout=silent, stderr=silent)
    _, state, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(state)
    if child.returncode:
        raise RuntimeError(f"feelcheck {' '.join(words[:2])} ended with {child.returncode}")
    return Cost(usage.ru_utime + usage.ru_stime, time.perf_counter() - begun, usage.ru_maxrss / 1024)


def exponent(costs: Sequence[float], factor: int) -> float:
    """Return p of ``a + b n^p`` through the last three of costs at sizes a factor apart, NaN where none grows."""
    if len(costs) < 3:
        return math.nan
    before, after = costs[-2] - costs[-3], costs[-1] - costs[-2]
    return math.log(after / before) / math.log(factor) if before > 0 and after > 0 else math.nan


def measured(study: Study, steps: int) -> list[Cost]:
    """Print a row a size and return what each took."""
    found: list[Cost] = []
    for step in range(min(steps, study.most)):
        size = study.first * study.factor**step
        # Made in a process of its own: a child's peak memory begins with that of the process it was forked from.
        with tempfile.TemporaryDirectory() as name, multiprocessing.get_context("spawn").Pool(1) as making:
            found.append(cost(study.command(making.apply(study.make, (Path(name), size)))))
        last = found[-1]
        row = f"{study.name} | {size:,} {study.unit} | {last.cpu_s:.1f} | {last.wall_s:.1f} | {last.peak_mb:.0f}"
        print(f"| {row} |", flush=True)
    return found


def main() -> None:
    """Print a row a size, then the exponents a command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=3, help="sizes of each command")
    parser.add_argument("--only", nargs="*", default=[study.name for study in STUDIES], help="commands")
    asked = parser.parse_args()
    print("| command | size | processor, s | wall, s | memory, MB |\n|---|---|---|---|---|")
    studies = [study for study in STUDIES if study.name in asked.only]
    found = {study.name: measured(study, asked.steps) for study in studies}
    print("\n| command | exponent of processor time | of memory |\n|---|---|---|")
    for study in studies:
        keys = ("cpu_s", "peak_mb")
        powers = [exponent([getattr(one, key) for one in found[study.name]], study.factor) for key in keys]
        none = "does not grow" if len(found[study.name]) > 2 else "needs three sizes"
        told = (none if math.isnan(power) else f"{power:.2f}" for power in powers)
        print(f"| {study.name} | {' | '.join(told)} |")


if __name__ == "__main__":
    main()
