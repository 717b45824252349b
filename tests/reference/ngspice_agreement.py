"""Print how far the network's predicted edges lie from a circuit simulator's.

Run it as ``python tests/reference/ngspice_agreement.py``; it needs the ngspice program. Decks carry a capacitor at the
pin, a series resistor with a capacitor behind it, a load, and three ways to sink: like the source, a constant current,
a resistor to ground.
"""

from __future__ import annotations

import math
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from feelcheck.model.parts import BoardNetwork, OutputStage
from feelcheck.network import edge

LOW_V, HIGH_V = 0.2, 1.6
N_POINTS = 2000
NETWORKS = {
    "series resistor and capacitor": BoardNetwork(
        stage=OutputStage(source_ohm=100.0), series_ohm=4700.0, behind_f=1e-6, low_v=LOW_V, high_v=HIGH_V
    ),
    "with a load": BoardNetwork(
        stage=OutputStage(source_ohm=100.0), series_ohm=10e3, behind_f=560e-9, load_ohm=47e3, low_v=LOW_V, high_v=HIGH_V
    ),
    "capacitor at the pin too": BoardNetwork(
        stage=OutputStage(source_ohm=1000.0), pin_f=470e-9, series_ohm=4700.0, behind_f=1e-6, low_v=LOW_V, high_v=HIGH_V
    ),
    "current sink": BoardNetwork(
        stage=OutputStage(source_ohm=100.0, sink="current", sink_a=20e-6), pin_f=1e-6, low_v=LOW_V, high_v=HIGH_V
    ),
    "current sink, filter behind": BoardNetwork(
        stage=OutputStage(source_ohm=200.0, sink="current", sink_a=50e-6), pin_f=1e-6, series_ohm=4700.0,
        behind_f=470e-9, low_v=LOW_V, high_v=HIGH_V,
    ),
    "resistor to ground": BoardNetwork(
        stage=OutputStage(source_ohm=100.0, sink="pull_down", sink_ohm=47e3), pin_f=330e-9, low_v=LOW_V, high_v=HIGH_V
    ),
    "resistor to ground, filter behind": BoardNetwork(
        stage=OutputStage(source_ohm=100.0, sink="pull_down", sink_ohm=22e3), pin_f=680e-9, series_ohm=4700.0,
        behind_f=220e-9, load_ohm=1e6, low_v=LOW_V, high_v=HIGH_V,
    ),
}  # fmt: skip


def available() -> bool:
    """Whether the simulator is installed."""
    return shutil.which("ngspice") is not None


def deck(network: BoardNetwork, rising: bool, end_s: float, output: Path) -> str:
    """A transient deck; the stage is a behavioural current that takes the weaker of what it may."""
    stage = network.stage
    first, last = (LOW_V, HIGH_V) if rising else (HIGH_V, LOW_V)
    strong = f"(v(target)-v(pin))/{max(stage.source_ohm, 0.01)}"
    limit = {"current": f"{stage.sink_a}", "pull_down": f"max(v(pin),0)/{stage.sink_ohm}"}.get(stage.sink)
    current = strong if limit is None else f"max({strong}, -({limit}))"
    lines = [
        "network",
        f"Vt target 0 PWL(0 {first} {end_s / 100:.6e} {first} {end_s / 100 + 1e-9:.9e} {last})",
        f"Bs 0 pin I = {current}",
        "Rg pin 0 1e12",
        f"Rs pin out {max(network.series_ohm, 0.01)}",
        *([f"Cp pin 0 {network.pin_f}"] if network.pin_f else []),
        *([f"Cb out 0 {network.behind_f}"] if network.behind_f else []),
        *([f"Rl out 0 {network.load_ohm}"] if network.load_ohm else []),
        ".options reltol=1e-5 abstol=1e-13 vntol=1e-8",
        f".tran {end_s / 4000:.6e} {end_s * 1.01:.6e} 0 {end_s / 4000:.6e}",
        ".control",
        "run",
        f"wrdata {output} v(out)",
        "quit",
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def simulated(network: BoardNetwork, rising: bool, end_s: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Time since the step and output voltage, from the simulator."""
    with tempfile.TemporaryDirectory() as folder:
        output, source = Path(folder) / "out.data", Path(folder) / "deck.cir"
        source.write_text(deck(network, rising, end_s, output), encoding="utf-8")
        run = subprocess.run(["ngspice", "-b", str(source)], capture_output=True, text=True, check=False, cwd=folder)
        if not output.exists():
            raise RuntimeError(run.stdout[-2000:] + run.stderr[-2000:])
        t_s, volts = np.loadtxt(output, unpack=True)
    return t_s - end_s / 100, volts


def worst_share(network: BoardNetwork, rising: bool) -> float:
    """Largest difference between prediction and simulation as a share of the swing."""
    found = edge(network, rising=rising)
    end_s = min(found.end_s, 3 * found.crossing_s(0.99))
    t_s, volts = simulated(network, rising, end_s)
    after = t_s > end_s * 1e-4
    at = np.linspace(0, after.sum() - 1, min(N_POINTS, after.sum())).astype(int)
    difference = found.output_v(t_s[after][at]) - volts[after][at]
    return float(np.max(np.abs(difference)) / abs(found.last_v - found.first_v))


def main() -> int:
    """Print the table."""
    if not available():
        print("ngspice is not installed (Debian package ngspice)", file=sys.stderr)
        return 2
    print(f"{'network':36s} {'rising':>10s} {'falling':>10s}   largest difference, % of swing")
    worst = 0.0
    for name, network in NETWORKS.items():
        shares = [worst_share(network, rising) for rising in (True, False)]
        worst = max(worst, *shares)
        print(f"{name:36s} {100 * shares[0]:10.4f} {100 * shares[1]:10.4f}")
    print(f"worst {100 * worst:.4f} %")
    return 0 if math.isfinite(worst) else 1


if __name__ == "__main__":
    raise SystemExit(main())
