"""The simulated person is led: in the window, and where a session is gone on with."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

sys.path.append(str(Path(__file__).parent))

from faults import begun

from feelcheck.formats.session import READER

SCRIPT = """
title = "Short"

[[block]]
name = "One full circle"
steps = [
  { action = "circle", stick = "left", duration_s = 2.0, say = "Left stick: one full circle along the rim." },
  { action = "rest", stick = "both", duration_s = 0.6, say = "Thumbs off both sticks." },
]

[[block]]
name = "Diagonal flicks, left"
stick = "left"
flicks_deg = [45]
"""


def start(out: Path, *more: str, screen: str = "") -> subprocess.Popen[str]:
    environment = {key: value for key, value in os.environ.items() if key not in ("SDL_VIDEODRIVER", "DISPLAY")}
    environment |= {"OMP_NUM_THREADS": "1", "FEELCHECK_PICTURES": str(out / "pictures"), "FEELCHECK_LINGER_S": "0.5"}
    if screen:
        environment["DISPLAY"] = screen
    command = [sys.executable, "-m", "feelcheck", "log", *more]
    return begun(command, env=environment)


def notes(folder: Path) -> list[str]:
    table = pd.read_csv(folder / "events.csv")
    return [str(name) for name in table.loc[table["kind"] == "note", "name"]]


@pytest.fixture
def script(tmp_path: Path) -> Path:
    path = tmp_path / "short.toml"
    path.write_text(SCRIPT)
    return path


@pytest.mark.skipif(not shutil.which("Xvfb"), reason="needs Xvfb")
def test_a_window_opens_and_the_simulated_person_does_what_it_asks(tmp_path: Path, script: Path, display: str) -> None:
    more = ["alder", "--source", "virtual", "--low-power", "--script", str(script), "--out", str(tmp_path)]
    process = start(tmp_path, *more, screen=display)
    said = "".join(process.communicate(timeout=300))
    assert process.returncode == 0, said
    shown = {path.stem for path in (tmp_path / "pictures").glob("*.png")}
    assert {"ready_none_none", "asking_circle_none"} <= shown
    told = notes(tmp_path / "alder_as_found")
    # On a busy machine a try may come late and be asked again; none is given up.
    assert told[-1].startswith("3 accepted; ")
    assert told[-1].endswith("; 0 skipped")
    recording = READER.read(tmp_path / "alder_as_found")
    assert recording.provenance.complete
    assert recording.provenance.simulated


def test_a_session_of_the_simulated_person_is_gone_on_with(tmp_path: Path, script: Path) -> None:
    # 0.8 s at most between the first request and the stop: the script, which plays by itself here, takes longer.
    more = ["alder", "--source", "virtual", "--headless", "--low-power", "--out", str(tmp_path)]
    more += ["--script", str(script)]
    process = start(tmp_path, *more)
    events = tmp_path / "alder_as_found" / "events.csv"
    until_s = time.monotonic() + 120
    while time.monotonic() < until_s and not (events.exists() and b"circle" in events.read_bytes()):
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    said = "".join(process.communicate(timeout=120))
    assert process.returncode == 130, said
    assert "Next: feelcheck log --resume" in said
    process = start(tmp_path, "--resume", str(events.parent), "--headless", "--script", str(script))
    said = "".join(process.communicate(timeout=300))
    assert process.returncode == 0, said
    assert "Finished: 3 counted, " in said
    assert " 0 left out." in said
    assert READER.read(events.parent).provenance.complete
