"""What a survey of many sessions costs: overhead a file, memory, what a second process gains, what Dask costs.

``python tests/benchmarks/survey_scale.py 200`` makes so many short sessions; 2,000 of them take an hour.
The table is Markdown. With Dask, processor time is that of client, scheduler and both workers; their start is in it.
"""

from __future__ import annotations

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from growth import Cost, cost, shelf_of

HERE = "127.0.0.1"


@dataclass
class Cluster:
    """A scheduler and two workers with one thread each, on loopback only."""

    address: str
    processes: list[subprocess.Popen[bytes]]

    def cpu_s(self) -> float:
        """Return the processor time of all of its processes so far, s (field 14 and 15 of Linux' proc(5) stat)."""
        ticks = 0
        for process in self.processes:
            behind_name = Path(f"/proc/{process.pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
            ticks += int(behind_name[11]) + int(behind_name[12])
        return ticks / os.sysconf("SC_CLK_TCK")


@contextmanager
def cluster() -> Iterator[Cluster]:
    """Yield a cluster that is ended afterwards."""
    with socket.socket() as free:
        free.bind((HERE, 0))
        port = free.getsockname()[1]
    address = f"tcp://{HERE}:{port}"
    worker = ("worker", address, "--host", HERE, "--nthreads", "1", "--no-nanny", "--no-dashboard")
    told = (("scheduler", "--host", HERE, "--port", str(port), "--no-dashboard"), worker, worker)
    env, silent = {**os.environ, "OMP_NUM_THREADS": "1"}, subprocess.DEVNULL
    started = [subprocess.Popen([sys.executable, "-m", "dask", *words], stdout=silent, stderr=silent, env=env)
               for words in told]  # fmt: skip
    try:
        time.sleep(5.0)
        yield Cluster(address, started)
    finally:
        for process in started:
            process.kill()
            process.wait()


def main() -> None:
    """Print a row a run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("n", type=int, nargs="?", default=200, help="sessions")
    n = parser.parse_args().n
    print("| run | wall, s | processor, s | memory of the largest process, MB |\n|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        few, shelf = shelf_of(folder, 2, flicks=1), shelf_of(folder, n, flicks=1)
        start = _run("2 sessions, one process", few, folder / "few.csv", "--jobs", "1")
        one = _run(f"{n:,} sessions, one process", shelf, folder / "one.csv", "--jobs", "1")
        two = _run(f"{n:,} sessions, two processes", shelf, folder / "two.csv", "--jobs", "2")
        halves = _side_by_side(shelf, folder, n)
        again = _run(f"{n:,} sessions again, none changed", shelf, folder / "one.csv", "--jobs", "1")
        with cluster() as workers:
            dask = _run(f"{n:,} sessions, Dask, two workers", shelf, folder / "dask.csv", "--dask", workers.address,
                        workers=workers)  # fmt: skip
        same = (folder / "one.csv").read_bytes() == (folder / "dask.csv").read_bytes()
    print(
        f"\nspeed-up of a second process: {one.wall_s / two.wall_s:.2f}; of two workers: {one.wall_s / dask.wall_s:.2f}"
    )
    print(f"two surveys of a half each, side by side, sharing nothing: {one.wall_s / halves.wall_s:.2f}")
    print(f"a session: {1e3 * (one.cpu_s - start.cpu_s) / (n - 2):.0f} ms of processor time")
    print(f"overhead a session of a second process: {1e3 * (two.cpu_s - halves.cpu_s) / n:.1f} ms")
    print(f"overhead a session of Dask: {1e3 * (dask.cpu_s - two.cpu_s) / n:.1f} ms")
    print(f"a session that was measured before: {1e3 * again.cpu_s / n:.1f} ms, starting included")
    print(f"the same table by Dask as by one process, to the byte: {'yes' if same else 'NO'}")


def _run(what: str, shelf: Path, table: Path, *words: str, workers: Cluster | None = None) -> Cost:
    before_s = workers.cpu_s() if workers else 0.0
    run = cost(["survey", str(shelf), *words, "--out", str(table)])
    run = replace(run, cpu_s=run.cpu_s + workers.cpu_s() - before_s) if workers else run
    _say(what, run)
    return run


def _side_by_side(shelf: Path, folder: Path, n: int) -> Cost:
    """Survey each half by a process of its own: what the machine gives at best, since they share its memory bus."""
    halves = [folder / "left", folder / "right"]
    for k, session in enumerate(sorted(shelf.iterdir())):
        halves[k % 2].mkdir(exist_ok=True)
        (halves[k % 2] / session.name).symlink_to(session)
    words = [[*map(str, half.iterdir())] for half in halves]
    with ThreadPoolExecutor(2) as both:
        runs = list(both.map(lambda k: cost(["survey", *words[k], "--jobs", "1", "--out", f"{halves[k]}.csv"]), (0, 1)))
    whole = Cost(sum(r.cpu_s for r in runs), max(r.wall_s for r in runs), max(r.peak_mb for r in runs))
    _say(f"{n:,} sessions, two surveys of a half each", whole)
    return whole


def _say(what: str, run: Cost) -> None:
    print(f"| {what} | {run.wall_s:.1f} | {run.cpu_s:.1f} | {run.peak_mb:.0f} |", flush=True)


if __name__ == "__main__":
    main()
