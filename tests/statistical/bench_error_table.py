"""Print the bench's error grid on simulated edges: time constant x saturation x drive transition.

Run: python tests/statistical/bench_error_table.py [--repeats N] [--seed N]
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.bench import measure_response
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

TAUS_S = (0.3e-3, 1e-3, 4.7e-3, 20e-3, 60e-3)
DRIVE_10_90_S = (0.5e-3, 2e-3, 5e-3)
NOISE_V = 3e-3
SATURATION_V = 1.2


@dataclass(frozen=True, kw_only=True)
class Cell:
    """Errors of one cell of the grid; fractions of the true time constant."""

    tau_s: float
    saturated: bool
    drive_s: float
    bias: float
    p95: float
    coverage: float
    bound: float
    spread_to_bound: float
    n_ok: int
    n: int


def world(tau_s: float, saturated: bool, drive_s: float) -> BenchWorld:
    """Return one edge at an 8-bit scope, 10 ms before and 50 ms after."""
    coil = Coil(rise_s=drive_s / 0.8, fall_s=drive_s / 0.8, n_edges=1)
    sensor = Sensor(high_v=SATURATION_V if saturated else 1e9)
    scope = Scope(duration_s=60e-3, noise_v=NOISE_V, full_scale_v=1.4)
    return BenchWorld(coil=coil, sensor=sensor, parts=Parts(poles_s=(tau_s,)), scope=scope)


def cramer_rao(bench: BenchWorld) -> float:
    """Return the smallest standard deviation of an unbiased time constant, as a fraction of it.

    Unknown: time constant, gain, offset, the saturation level where there is one, and of the drive, which is known
    only from its own noisy channel, both levels, onset and duration. The derivatives are differences of noise-free
    simulations; the noise is the scope's own and its rounding.
    """
    coil, sensor, tau = bench.coil, bench.sensor, bench.parts.poles_s[0]
    half = 0.02

    def slope(change: Callable[[float], BenchWorld]) -> np.ndarray:
        return np.asarray((_clean(change(half)) - _clean(change(-half))) / (2 * half))

    columns = [
        slope(lambda s: replace(bench, parts=Parts(poles_s=(tau * (1 + s),)))),
        slope(lambda s: replace(bench, sensor=replace(sensor, sensitivity=1 + s))),
        slope(lambda s: replace(bench, sensor=replace(sensor, offset_v=sensor.offset_v + s))),
        slope(lambda s: replace(bench, coil=replace(coil, low=coil.low + s))),
        slope(lambda s: replace(bench, coil=replace(coil, high=coil.high + s))),
        slope(lambda s: replace(bench, coil=replace(coil, first_edge_s=coil.first_edge_s + s * coil.rise_s))),
        slope(lambda s: replace(bench, coil=replace(coil, rise_s=coil.rise_s * (1 + s)))),
    ]
    if sensor.high_v < 1e6:
        columns.append(slope(lambda s: replace(bench, sensor=replace(sensor, high_v=sensor.high_v + s))))
    table = np.column_stack(columns)
    n = table.shape[0] // 2
    scope = bench.scope
    noise = np.hypot(scope.noise_v, scope.full_scale_v / 2**scope.bits / np.sqrt(12))
    drive_noise = np.hypot(scope.drive_noise, 1.25 * (coil.high - coil.low) / 2**scope.bits / np.sqrt(12))
    table /= np.repeat([drive_noise, noise], n)[:, None]
    return float(np.sqrt(np.linalg.inv(table.T @ table)[0, 0]))


def _clean(bench: BenchWorld) -> np.ndarray:
    """Drive and then output, without noise."""
    scope = replace(bench.scope, noise_v=0.0, drive_noise=0.0, bits=24, full_scale_v=0.0)
    capture = simulate_capture(replace(bench, scope=scope), np.random.default_rng(0))
    return np.concatenate([channel.values for channel in capture.channels])


def run_cell(tau_s: float, saturated: bool, drive_s: float, n: int, seed: int) -> Cell:
    """Measure n captures of one cell."""
    bench = world(tau_s, saturated, drive_s)
    bound = cramer_rao(bench)
    found, covered = [], []
    for k in range(n):
        rng = np.random.default_rng([seed, k, round(tau_s * 1e6), saturated, round(drive_s * 1e6)])
        direction = measure_response(simulate_capture(bench, rng)).rising
        if direction is None or direction.time_constant.value is None:
            continue
        low, high = coverage_interval(direction.time_constant)
        found.append(direction.time_constant.value / tau_s - 1)
        covered.append((low or 0.0) <= tau_s <= (high or np.inf))
    errors = np.array(found)
    return Cell(
        tau_s=tau_s,
        saturated=saturated,
        drive_s=drive_s,
        bias=float(np.mean(errors)),
        p95=float(np.quantile(np.abs(errors), 0.95)),
        coverage=float(np.mean(covered)),
        bound=bound,
        spread_to_bound=float(np.std(errors, ddof=min(1, errors.size - 1))) / bound,
        n_ok=errors.size,
        n=n,
    )


def run_grid(n: int, seed: int) -> Iterator[Cell]:
    """Measure the whole grid, cell by cell."""
    for drive_s in DRIVE_10_90_S:
        for saturated in (False, True):
            for tau_s in TAUS_S:
                yield run_cell(tau_s, saturated, drive_s, n, seed)


def main(n: int, seed: int) -> None:
    """Print the grid."""
    print("drive 10-90 | saturated | tau ms | bias %  | p95 %  | covered % | CRB %  | spread/CRB | ok")
    cells = []
    for cell in run_grid(n, seed):
        cells.append(cell)
        print(
            f"{cell.drive_s * 1e3:8.1f} ms | {'yes' if cell.saturated else 'no ':9} | {cell.tau_s * 1e3:6.2f} |"
            f" {cell.bias * 100:7.3f} | {cell.p95 * 100:6.2f} | {cell.coverage * 100:9.0f} | {cell.bound * 100:6.2f} |"
            f" {cell.spread_to_bound:10.2f} | {cell.n_ok}/{cell.n}",
            flush=True,
        )
    shown = [cell for cell in cells if cell.n_ok > 1]
    if shown:
        weights = np.array([cell.n_ok - 1 for cell in shown])
        ratio = np.sqrt(np.average([cell.spread_to_bound**2 for cell in shown], weights=weights))
        covered = np.average([cell.coverage for cell in shown], weights=[cell.n_ok for cell in shown])
        worst = max(abs(cell.bias) - 2 * cell.bound / np.sqrt(cell.n_ok) for cell in shown)
        chance = 1.0 / np.sqrt(2.0 * np.sum(weights))
        print(f"whole grid: spread/CRB {ratio:.3f} (chance alone +-{chance:.3f}), covered {covered * 100:.1f} %,")
        print(f"largest bias beyond twice its own scatter {max(worst, 0.0) * 100:.2f} %")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--repeats", type=int, default=3, help="captures in each of the 30 cells (20 and more for the real table)"
    )
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    main(wanted.repeats, wanted.seed)
