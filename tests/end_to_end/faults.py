"""What faults are made with: a recording to be disturbed, a small disk, a read-only place, a terminal that closes."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

__all__ = ["LINES", "PROGRAM", "also", "away", "begun", "environment", "heeded", "recording", "until"]

PROGRAM = [sys.executable, "-m", "feelcheck"]
_LINES = """
import sys
from typer.testing import CliRunner
from feelcheck.cli import app
for line in sys.argv[1:]:
    run = CliRunner().invoke(app, line.split())
    print(f"[{run.exit_code}] {line}", run.output, sep="\\n")
    if run.exception is not None and not isinstance(run.exception, SystemExit):
        print("Traceback", repr(run.exception))
"""
LINES = [sys.executable, "-c", _LINES]
"""Several command lines in one process, each with its exit code and what it said."""


def also(*values: object) -> Any:
    """Return a case that only the mark ``full`` runs."""
    return pytest.param(*values, marks=pytest.mark.full)


def environment() -> dict[str, str]:
    """The environment of a program without screen."""
    return {
        **os.environ,
        "SDL_VIDEODRIVER": "dummy",
        "OMP_NUM_THREADS": "1",
        "PYTHONWARNINGS": "error::ResourceWarning",
    }


def until(told: object, *, seconds: float = 120.0) -> None:
    """Wait until a callable says yes."""
    assert callable(told)
    end_s = time.monotonic() + seconds
    while not told():
        assert time.monotonic() < end_s, "it never came"
        time.sleep(0.02)


def heeded() -> None:
    """Heed Ctrl-C and a hangup also where the tests run in the background, whose programs are told to ignore them."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


def begun(command: Sequence[str], **given: object) -> subprocess.Popen[str]:
    """Start a program that can be asked to end, and gives its words through pipes."""
    streams = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "preexec_fn": heeded}
    program: subprocess.Popen[str] = subprocess.Popen(command, text=True, **(streams | given))  # type: ignore[call-overload]
    return program


def recording(
    out: Path, *, fill: int = 3000, script: str = "quick", **given: object
) -> tuple[subprocess.Popen[str], Path]:
    """Start a recording of a simulated pad in real time; return it and its session's folder once its events fill."""
    words = ["log", "birch", "--source", "virtual", "--headless", "--script", script, "--out", str(out)]
    program = begun([*PROGRAM, *words], env=environment(), **given)
    events = out / "birch_as_found" / "events.csv"
    until(lambda: program.poll() is not None or (events.exists() and events.stat().st_size > fill))
    return program, events.parent


def away(script: str, words: Sequence[str] = ()) -> subprocess.CompletedProcess[str]:
    """Run a shell script with mounts of its own that nobody else sees; skip where the system does not allow it."""
    enter = ["unshare", "--mount", *([] if os.geteuid() == 0 else ["--user", "--map-root-user"])]
    if shutil.which("unshare") is None or subprocess.run([*enter, "true"], capture_output=True, check=False).returncode:
        pytest.skip("no mounts of one's own here")
    return subprocess.run(
        [*enter, "sh", "-euc", script, "sh", *words], env=environment(), capture_output=True, text=True, check=False
    )
