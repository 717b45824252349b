"""Killed at any instant, the recorder loses at most 100 ms, and what is left opens."""

from __future__ import annotations

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
    until_s = time.monotonic() + 60
    while time.monotonic() < until_s and not (events.exists() and events.stat().st_size > 2000):
        time.sleep(0.02)
    (child,) = psutil.Process(parent.pid).children()
    return parent, child, events


def _gone(process: psutil.Process) -> bool:
    try:
        process.wait(10)
    except psutil.TimeoutExpired:
        return False
    return True


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize("victims", ["child", "parent", "both"])
def test_killed_at_a_random_instant(tmp_path: Path, victims: str) -> None:
    parent, child, events = _started(tmp_path)
    time.sleep(np.random.default_rng().uniform(0.2, 1.5))
    killed_ns = time.perf_counter_ns()
    if victims in ("parent", "both"):
        parent.kill()
    if victims in ("child", "both"):
        child.kill()
    parent.wait(20)
    assert _gone(child), "an orphaned capture process must stop by itself"
    recording = READER.read(events.parent)
    assert not recording.provenance.complete
    assert any("not finished" in remark for remark in recording.provenance.remarks)
    last_ns = int(events.read_bytes().rpartition(b",.\n")[0].rpartition(b"\n")[2].split(b",")[1])
    assert killed_ns - last_ns <= LOST_S * 1e9
    assert all(np.all(np.diff(stream.time.t_s) >= 0) for stream in recording.streams)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.full
@pytest.mark.parametrize("trial", range(30))
def test_killed_at_thirty_random_instants(tmp_path: Path, trial: int) -> None:
    test_killed_at_a_random_instant(tmp_path, ("child", "parent", "both")[trial % 3])


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_ctrl_c_keeps_what_was_recorded_and_closes_the_session(tmp_path: Path) -> None:
    parent, child, events = _started(tmp_path)
    parent.send_signal(signal.SIGINT)
    assert parent.wait(20) != 0
    assert _gone(child)
    assert '"recording": "interrupted"' in (events.parent / "datapackage.json").read_text()
    assert READER.read(events.parent).streams


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_killed_before_the_first_motion_is_a_plain_word(tmp_path: Path) -> None:
    parent, child, events = _started(tmp_path)
    parent.kill()
    child.kill()
    parent.wait(20)
    assert _gone(child)
    events.write_bytes(events.read_bytes()[:60])
    with pytest.raises(FormatError, match="too short"):
        READER.read(events.parent)
