"""Prints what the recorder loses and how wide its brackets are, on SDL's real joystick path.

Run it on a quiet machine: ``python tests/end_to_end/recorder_figures.py``, with ``--window`` while the guided window
is drawn thirty times a second by the parent of the capture process, as in a real recording. The *polled* device lives
in a process of its own and keeps only its latest value in shared memory, which the virtual pad shows to SDL at every
poll, as a driver without a queue does: what is not looked at in time is lost. The *queued* device hands every value
over. Both are read by the product's own capture process. A lost value counts against the reader only if it stood for
half a period, by the device's own clock. Every repeat is a row: *cpu* is what the capture process took of one core,
*others* what other programs took of the machine, where the system tells.
"""

from __future__ import annotations

import argparse
import itertools
import json
import mmap
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.capturing.child import CaptureChild, capture_environment
from feelcheck.capturing.rows import RowTail
from feelcheck.capturing.script_wire import script_to_wire
from feelcheck.model import Action, Script, SourceEvent, SourceKind, SourceOptions, Step
from feelcheck.recorder.guide import Guide
from feelcheck.recorder.guided import SEEN_LAG_S
from feelcheck.recorder.window import SheetWindow
from feelcheck.sources.gamepad.poll import brackets, quieten
from feelcheck.sources.gamepad.rows import PadRows
from feelcheck.sources.gamepad.sdl import EventDrain
from feelcheck.sources.gamepad.virtual import Change, VirtualPad

LEAD_NS = 300_000_000
REST_NS = 200_000
"""The polled device rests until so long before a value is due, to leave the processor to the reader."""


def code_of(k: int) -> int:
    return k % 65536 - 32768


class CountingSource:
    """A virtual pad with one axis that counts; `options.device` is ``polled:FILE`` or ``queued:PERIOD_NS``."""

    name = "counting"

    def __init__(self, options: SourceOptions) -> None:
        self.options = options
        self.shown = -1
        self.start_ns = 0
        self.pad: VirtualPad | None = None

    def open(self) -> None:
        kind, _, detail = self.options.device.partition(":")
        if kind == "polled":
            with Path(detail).open("r+b") as stream:
                self.cell = memoryview(mmap.mmap(stream.fileno(), 8)).cast("q")
            self.pad = VirtualPad(1, 0, self.latest)
        else:
            self.period_ns = int(detail)
            self.pad = VirtualPad(1, 0, self.every)

    def latest(self, now_ns: int) -> list[list[Change]]:
        k = self.cell[0]
        if k == self.shown:
            return []
        self.shown = k
        return [[("axis", 0, code_of(k))]]

    def every(self, now_ns: int) -> Iterator[list[Change]]:
        while self.start_ns + (self.shown + 1) * self.period_ns <= now_ns:
            self.shown += 1
            yield [("axis", 0, code_of(self.shown))]

    def describe(self) -> dict[str, Any]:
        return {}

    def events(self) -> Iterator[list[SourceEvent]]:
        assert self.pad is not None
        quieten(low_power=self.options.low_power)
        self.start_ns = time.perf_counter_ns()
        self.pad.start()
        rows = PadRows(self.pad.instance, ["axis"], [], self.pad.values)
        yield [(self.start_ns, self.start_ns, "note", "start", 0)]
        nothing: list[SourceEvent] = []
        poll, low_power = EventDrain(self.pad.library).poll, self.options.low_power
        for lo, hi, found in brackets(poll, low_power=low_power, since_ns=self.start_ns):
            yield rows.translate(found, lo, hi).rows if found else nothing

    def close(self) -> None:
        if self.pad is not None:
            self.pad.close()


COUNTING = SourceKind(name="counting", about="counts, for the figures", make=CountingSource)


def play(path: str, rate_hz: float, seconds: float) -> None:
    """Be the polled device: set one value a period, then write when each was set.

    Taking a lock makes the processor finish its writes, so that a value is seen by the reader before it is stamped.
    """
    n = round(rate_hz * seconds)
    before = np.zeros(n, dtype=np.int64)
    after = np.zeros(n, dtype=np.int64)
    period_ns, now = 1e9 / rate_hz, time.perf_counter_ns
    with Path(path).open("r+b") as stream:
        cell = memoryview(mmap.mmap(stream.fileno(), 8)).cast("q")
    fence = threading.Lock()
    quieten(low_power=True)
    start_ns = now() + LEAD_NS
    for k in range(n):
        due_ns = start_ns + round(k * period_ns)
        while (t_ns := now()) < due_ns:
            if due_ns - t_ns > REST_NS:
                time.sleep(1e-9 * (due_ns - t_ns - REST_NS))
        cell[0] = k
        with fence:
            pass
        before[k], after[k] = t_ns, now()
    np.save(path + ".npy", np.stack([before, after]))


@dataclass(frozen=True, kw_only=True)
class Figures:
    device: str
    rate_hz: float
    loop: str
    n_set: int
    n_lost: int
    n_lost_clean: int
    n_unexplained: int
    inside_fraction: float
    width_us: tuple[float, float, float, float]
    cpu_share: float = float("nan")
    others_share: float = float("nan")


def processor_s(pid: int) -> float:
    """Return the processor time of a process, s; NaN where the system does not tell."""
    try:
        cells = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return float("nan")
    return (int(cells[11]) + int(cells[12])) / os.sysconf("SC_CLK_TCK")


def machine_s() -> tuple[float, float]:
    """Return the processor time that all programs took and the time of all processors, s; NaN where it is not told."""
    try:
        ticks = np.array(Path("/proc/stat").read_text().splitlines()[0].split()[1:9], dtype=float)
    except OSError:
        return float("nan"), float("nan")
    ticks /= os.sysconf("SC_CLK_TCK")
    return float(ticks.sum() - ticks[3:5].sum()), float(ticks.sum())


def unwrapped(codes: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the counts behind a rising subsequence of codes."""
    k = codes + 32768
    return np.asarray(k + 65536 * np.cumsum(np.append(0, np.diff(k) < 0)))


def draw_until(events: Path, over: Callable[[], bool]) -> None:
    """Show the guided window over a growing events file."""
    axes = [{"name": name, "stick": "left"} for name in ("axis", "other")]
    circle = Step(action=Action.CIRCLE, duration_s=3.0, say="Left stick: one full circle along the rim.")
    guide = Guide(Script(name="count", title="", steps=(circle,)), axes, ready_s=0.0)
    window = SheetWindow()
    try:
        with events.open("rb") as stream:
            tail = RowTail(stream)
            while not over():
                guide.take(tail.new())
                guide.look(time.perf_counter_ns() * 1e-9 - SEEN_LAG_S)
                window.show(guide.view())
                time.sleep(0.02)
    finally:
        window.close()


def measure(device: str, rate_hz: float, low_power: bool, seconds: float, window: bool = False) -> Figures:
    """Record one device once."""
    with tempfile.TemporaryDirectory() as folder:
        cell, events = Path(folder) / "cell", Path(folder) / "events.csv"
        cell.write_bytes((-1).to_bytes(8, "little", signed=True))
        os.environ["PYTHONPATH"] = str(Path(__file__).parent)
        detail = f"polled:{cell}" if device == "polled" else f"queued:{round(1e9 / rate_hz)}"
        script = Script(name="count", title="", steps=(Step(action=Action.REST, duration_s=1.0),))
        options = {**asdict(SourceOptions(script=script, low_power=low_power, device=detail))}
        options["script"] = script_to_wire(script)
        order = {"kind": "recorder_figures:COUNTING", "options": options, "cues": [], "limit_ns": int(60e9)}
        child = CaptureChild(order, capture_environment())
        try:
            while child.listen(30.0) is None:
                pass
            child.tell({"go": str(events)})
            child.listen(30.0)
            waits = [sys.executable, "-c", f"import time; time.sleep({seconds})"]
            plays = [sys.executable, __file__, "--play", str(cell), str(rate_hz), str(seconds)]
            (taken_s, all_s), cpu_s, own = machine_s(), processor_s(child.process.pid), os.times()
            with subprocess.Popen(plays if device == "polled" else waits) as player:
                if window:
                    draw_until(events, lambda: player.poll() is not None)
            if player.returncode != 0:
                raise RuntimeError(f"the device ended with {player.returncode}")
            cpu_s = processor_s(child.process.pid) - cpu_s
            own_s = cpu_s + sum(os.times()[:4]) - sum(own[:4])
            taken_s, all_s = (b - a for a, b in zip((taken_s, all_s), machine_s(), strict=True))
        finally:
            child.close()
        table = pd.read_csv(events)
        sets = np.load(f"{cell}.npy") if device == "polled" else None
    judged = _judged(device, rate_hz, "low power" if low_power else "busy", table, sets)
    share = cpu_s / (all_s / (os.cpu_count() or 1))
    return replace(judged, cpu_share=share, others_share=max(0.0, taken_s - own_s) / all_s)


def _judged(device: str, rate_hz: float, loop: str, table: pd.DataFrame, sets: NDArray[np.int64] | None) -> Figures:
    start_ns = int(table["t_hi_ns"].iloc[0])
    axis = table[table["kind"] == "axis"]
    lo, hi = axis["t_lo_ns"].to_numpy(), axis["t_hi_ns"].to_numpy()
    codes = axis["value"].to_numpy()
    period_ns = round(1e9 / rate_hz)
    k = unwrapped(codes)
    if sets is None:
        n_set = int(k[-1]) + 1
        before = after = start_ns + np.arange(n_set) * period_ns
    else:
        before, after = sets
        n_set = before.size
    seen = np.zeros(n_set, dtype=bool)
    seen[k] = True
    stood_ns = np.append(before[1:] - after[:-1], period_ns)
    width = (hi - lo) * 1e-3
    return Figures(
        device=device,
        rate_hz=rate_hz,
        loop=loop,
        n_set=n_set,
        n_lost=int(np.sum(~seen)),
        n_lost_clean=int(np.sum(~seen & (stood_ns >= period_ns / 2))),
        n_unexplained=_unexplained(k, before, after, lo, hi),
        inside_fraction=float(np.mean((lo < after[k] + (sets is None)) & (before[k] <= hi))),
        width_us=tuple(np.percentile(width, [50, 95, 99, 100]).round(1).tolist()),
    )


def _unexplained(k: Any, before: Any, after: Any, lo: Any, hi: Any) -> int:
    """Count lost values that came and went outside the bracket of the next value that was seen."""
    lost = np.setdiff1d(np.arange(int(k[0]), int(k[-1])), k)
    following = np.searchsorted(k, lost)
    return int(np.sum((after[lost] <= lo[following]) | (before[lost + 1] > hi[following])))


HEADING = (
    f"{'device':8}{'rate':>6} {'loop':10}{'set':>7}{'lost':>6}{'clean':>6}{'inside':>10}{'cpu':>6}{'others':>8}"
    "  width us p50 / 95 / 99 / max"
)


def line(found: Figures) -> str:
    """Return one row of the table."""
    widths = " / ".join(f"{w:.1f}" for w in found.width_us)
    return (
        f"{found.device:8}{found.rate_hz:6.0f} {found.loop:10}{found.n_set:7}{found.n_lost:6}{found.n_lost_clean:6}"
        f"{found.inside_fraction:10.3%}{found.cpu_share:6.0%}{found.others_share:8.0%}  {widths}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--play", nargs=3, metavar=("FILE", "RATE", "SECONDS"))
    parser.add_argument("--devices", nargs="+", default=["queued", "polled"])
    parser.add_argument("--rates", nargs="+", type=float, default=[250.0, 1000.0, 8000.0])
    parser.add_argument("--loops", nargs="+", default=["busy", "low_power"])
    parser.add_argument("--seconds", type=float, default=4.0)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--window", action="store_true")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    if given.play:
        play(given.play[0], float(given.play[1]), float(given.play[2]))
        return
    if not given.json:
        print(HEADING)
    for device, rate_hz, loop in itertools.product(given.devices, given.rates, given.loops):
        for _ in range(given.repeats):
            found = measure(device, rate_hz, loop == "low_power", given.seconds, given.window)
            print(json.dumps(asdict(found)) if given.json else line(found), flush=True)


if __name__ == "__main__":
    main()
