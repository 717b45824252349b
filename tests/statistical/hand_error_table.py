"""Print the error table of the gate stop over simulated logs: one row an effect and time constant.

Run it as ``python tests/statistical/hand_error_table.py --logs 20 --jobs 2``.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import multiprocessing
import time
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.metric import METRIC
from feelcheck.hand.view import prepare
from feelcheck.model import Recording
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.sources.synthetic import quick_script, random_world, simulate_recording, world_with

TAUS_S = (0.0005, 0.001, 0.002, 0.003, 0.005, 0.01, 0.03, 0.06)
SLOW_REPORTS = {"125_hz": 0.008, "250_hz": 0.004}
TRUTH = {"time_constant": "tau_s", "smoothing_delay": "smoothing_delay_s"}
EFFECTS = (
    *("plain", "slide", "compliance", "creep", "notches", "radial_clamp", "bounce", "loss", "stalls", "edge_clipping"),
    *("inverted_axes", "average", "two_poles", "rise_fall_apart", "adaptive_filter", "noise", "on_change"),
    *("8_bit", "widened_8_bit", "125_hz", "250_hz", "everything"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One axis and direction of one log: what was said against the truth."""

    status: str
    error: float = float("nan")
    within: bool = False
    covered: bool = False
    bound_holds: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One simulated log."""

    effect: str
    tau_s: float
    seed: int
    n_flicks: int
    quantity: str


def make(task: Task) -> Recording:
    """Return the simulated log of a task."""
    rng = np.random.default_rng([task.seed, round(task.tau_s * 1e6), sum(map(ord, task.effect))])
    if task.effect == "everything":
        world = random_world(rng, tau_s=(task.tau_s, task.tau_s), chance=0.3, without=("adaptive_filter",))
    elif task.effect in SLOW_REPORTS:
        world = world_with("plain", rng, tau_s=task.tau_s, report_interval_s=SLOW_REPORTS[task.effect], bits=10)
    elif task.effect == "8_bit":
        world = world_with("plain", rng, tau_s=task.tau_s, report_interval_s=0.004, bits=8)
    else:
        world = world_with(task.effect, rng, tau_s=task.tau_s)
    return simulate_recording(world, quick_script(task.n_flicks, rng), rng)


def judge(task: Task) -> list[Outcome]:
    """Measure one log and hold each axis and direction against the truth.

    Behind a speed-adaptive filter anything between pole + fastest and pole + slowest counts as true.
    """
    recording = make(task)
    truth = recording.truth
    interval_s = float(truth["report_interval_s"])
    outcomes = []
    for finding in METRIC.measure(prepare(recording)).findings:
        if finding.estimate.quantity != task.quantity:
            continue
        key = f"{finding.axis}.{finding.direction}.{TRUTH[task.quantity]}"
        if key not in truth:
            outcomes.append(Outcome(status="no_truth"))
            continue
        estimate = finding.estimate
        least_s = most_s = float(truth[key])
        if f"{finding.axis}.adaptive.fast_s" in truth:
            least_s += float(truth[f"{finding.axis}.adaptive.fast_s"])
            most_s += float(truth[f"{finding.axis}.adaptive.slow_s"])
        true_s = min(max(estimate.value or most_s, least_s), most_s)
        low, high = coverage_interval(estimate)
        status = str(estimate.status)
        if estimate.value is None:
            holds = high is None or high >= true_s
            outcomes.append(Outcome(status=status, bound_holds=holds))
            continue
        assert low is not None
        assert high is not None
        error = estimate.value / true_s - 1.0
        allowed = max(0.05 if true_s >= 3 * interval_s else 0.15, 0.0003 / true_s)
        outcomes.append(
            Outcome(status=status, error=error, within=abs(error) <= allowed, covered=low <= most_s and least_s <= high)
        )
    return outcomes


def row(name: str, outcomes: Iterable[Outcome]) -> str:
    """Return one line of the table."""
    every = list(outcomes)
    ok = [o for o in every if o.status == "ok"]
    bounds = [o for o in every if o.status == "at_most"]
    n = max(len(every), 1)
    cells = [f"{name:<28}", f"{len(every):>5}"]
    if ok:
        errors = np.array([o.error for o in ok]) * 100
        cells += [
            f"{np.median(errors):>8.1f}",
            f"{np.percentile(np.abs(errors), 95):>8.1f}",
            f"{100 * np.mean([o.within for o in ok]):>8.0f}",
            f"{100 * np.mean([o.covered for o in ok]):>8.0f}",
        ]
    else:
        cells += [f"{'-':>8}"] * 4
    cells += [f"{100 * len(ok) / n:>6.0f}", f"{100 * len(bounds) / n:>8.0f}"]
    cells.append(f"{100 * sum(o.status == 'not_resolved' for o in every) / n:>8.0f}")
    cells.append(f"{100 * np.mean([o.bound_holds for o in bounds]):>8.0f}" if bounds else f"{'-':>8}")
    return " ".join(cells)


HEADER = (
    f"{'effect':<28} {'n':>5} {'median%':>8} {'p95%':>8} {'goal%':>8} {'cover%':>8} "
    f"{'ok%':>6} {'atmost%':>8} {'unres%':>8} {'bound%':>8}"
)


def table(
    effects: Iterable[str],
    taus_s: Iterable[float],
    *,
    seeds: range,
    n_flicks: int,
    jobs: int,
    detail: bool,
    quantity: str,
) -> None:
    """Print the table: a line an effect over all time constants, with `detail` one for each time constant too."""
    print(HEADER, flush=True)
    everything: list[Outcome] = []
    with multiprocessing.Pool(jobs) as pool:
        for effect in effects:
            of_effect: list[Outcome] = []
            for tau_s in taus_s:
                tasks = [Task(effect=effect, tau_s=tau_s, seed=k, n_flicks=n_flicks, quantity=quantity) for k in seeds]
                found = [outcome for result in pool.imap_unordered(judge, tasks) for outcome in result]
                of_effect += found
                if detail:
                    print(row(f"  {effect} {tau_s * 1e3:g} ms", found), flush=True)
            print(row(effect, of_effect), flush=True)
            if effect != "adaptive_filter":
                everything += of_effect
    print(row("all but adaptive", everything))


def main() -> None:
    """Parse the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=10, help="logs an effect and time constant")
    parser.add_argument("--first-seed", type=int, default=0, help="take one that no setting was chosen on")
    parser.add_argument("--flicks", type=int, default=24, help="flicks a log")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--effects", default=",".join(EFFECTS))
    parser.add_argument("--taus-ms", default=",".join(f"{tau_s * 1e3:g}" for tau_s in TAUS_S))
    parser.add_argument("--quantity", choices=tuple(TRUTH), default="time_constant")
    parser.add_argument("--detail", action="store_true", help="a line for each time constant too")
    chosen = parser.parse_args()
    start = time.process_time()
    table(
        chosen.effects.split(","),
        [float(tau) / 1e3 for tau in chosen.taus_ms.split(",")],
        seeds=range(chosen.first_seed, chosen.first_seed + chosen.logs),
        n_flicks=chosen.flicks,
        jobs=chosen.jobs,
        detail=chosen.detail,
        quantity=chosen.quantity,
    )
    print(f"processor time of the parent: {time.process_time() - start:.0f} s")


if __name__ == "__main__":
    main()
