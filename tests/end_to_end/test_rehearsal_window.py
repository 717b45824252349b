"""A whole blind block through the real SDL path: a simulated pad, a window on a screen in memory, a known observer."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from feelcheck.numerics.played_response import AddedResponse, PlayedAxis
from feelcheck.rehearsal.order import SPARE

ROOT = Path(__file__).parents[2]
ALDER, BIRCH = (str(ROOT / "profiles" / f"{name}.toml") for name in ("alder", "birch"))
N_TRIALS = 3
DRIVER = """
from feelcheck.pipeline import RehearsalAsked
RehearsalAsked.__init__.__kwdefaults__["linger_s"] = 1.0
from feelcheck.__main__ import main
main()
"""

pytestmark = pytest.mark.skipif(not shutil.which("Xvfb"), reason="needs Xvfb")


def rehearsed(display: str, out: Path, *arguments: str) -> tuple[dict[str, Any], str]:
    environment = {key: value for key, value in os.environ.items() if key not in ("SDL_VIDEODRIVER", "DISPLAY")}
    environment |= {"DISPLAY": display, "OMP_NUM_THREADS": "1", "FEELCHECK_PICTURES": str(out / "pictures")}
    environment |= {"FEELCHECK_WINDOW": "960x540"}
    command = [sys.executable, "-c", DRIVER, "rehearse", *arguments, "--json", "--out", str(out)]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300, check=False)
    assert run.returncode == 0, run.stderr
    document: dict[str, Any] = json.loads(run.stdout)
    return document, run.stderr


@pytest.fixture(scope="module")
def block(display: str, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], str, Path]:
    out = tmp_path_factory.mktemp("block")
    asked = ["--trials", str(N_TRIALS), "--interval-s", "0.4", "--observer-threshold-ms", "3", "--seed", "1"]
    document, said = rehearsed(display, out, BIRCH, ALDER, "--task", "trials", *asked)
    return document, said, out


def test_a_whole_blind_block_is_played_and_told(block: tuple[dict[str, Any], str, Path]) -> None:
    document, said, out = block
    assert document["kind"] == "trials"
    assert (document["n"], document["aborted"], document["simulated"]) == (N_TRIALS, False, True)
    assert document["n_correct"] >= N_TRIALS - 1  # twelve milliseconds apart, a threshold of three
    assert document["seal"] in said  # told before the first trial
    assert Path(document["folder"]).parent == out
    pictures = {path.stem for path in (out / "pictures").iterdir()}
    assert {"blind_trials_first", "blind_trials_answer", "blind_trials_finished"} <= pictures


def test_the_order_that_was_sealed_is_the_one_that_was_played(block: tuple[dict[str, Any], str, Path]) -> None:
    document, _, _ = block
    rows = pd.read_csv(Path(document["folder"]) / "events.csv")
    notes = [str(name) for name in rows.loc[rows["kind"] == "note", "name"]]
    opened = next(note for note in notes if note.startswith("order "))
    _, digits, _, salt = opened.split()
    assert len(digits) == N_TRIALS + SPARE
    assert hashlib.sha256((salt + digits).encode()).hexdigest() == document["seal"]
    slower = "".join("1" if trial["slower"] == "first" else "2" for trial in document["trials"])
    assert digits.startswith(slower)
    # Nothing that was written before the last answer tells the order.
    assert notes.index(opened) > notes.index(f"trial {N_TRIALS}: answered {document['trials'][-1]['answer']}")


def test_answers_came_over_the_pads_own_buttons_and_the_stick_was_flicked(
    block: tuple[dict[str, Any], str, Path],
) -> None:
    document, _, _ = block
    rows = pd.read_csv(Path(document["folder"]) / "events.csv")
    pressed = rows[(rows["kind"] == "button") & (rows["value"] == 1) & rows["name"].isin(["button_1", "button_2"])]
    answers = ["first" if name == "button_1" else "second" for name in pressed["name"]]
    assert answers == [trial["answer"] for trial in document["trials"]]
    across = rows[(rows["kind"] == "axis") & (rows["name"] == "left_x")]
    assert across["value"].max() > 30000
    assert len(across) > 500


def test_own_delays_were_measured_and_late_frames_counted(block: tuple[dict[str, Any], str, Path]) -> None:
    document, _, _ = block
    for name in ("report_to_state", "state_to_frame"):
        assert 0.0 < document["latency"][name]["value"] < 1000.0
        assert document["latency"][name]["unit"] == "ms"
    assert 0 <= document["late_frames"] <= document["n_frames"]
    assert document["n_frames"] > 5


def test_the_rows_that_were_kept_give_the_played_output_again(block: tuple[dict[str, Any], str, Path]) -> None:
    document, _, _ = block
    rows = pd.read_csv(Path(document["folder"]) / "events.csv")
    across = rows[(rows["kind"] == "axis") & (rows["name"] == "left_x")]
    slow = document["played"][1]["x"]
    added = AddedResponse(
        rising_poles_s=tuple(ms / 1e3 for ms in slow["rising_poles_ms"]),
        falling_poles_s=tuple(ms / 1e3 for ms in slow["falling_poles_ms"]),
    )
    t_s = (across["t_hi_ns"].to_numpy() - across["t_hi_ns"].iloc[0]) * 1e-9
    v = across["value"].to_numpy() / 32767
    at_once, bit_by_bit = PlayedAxis(added, interval_s=1e-3), PlayedAxis(added, interval_s=1e-3)
    seen = []
    for t, value in zip(t_s.tolist(), v.tolist(), strict=True):
        at_once.take(t, value)
        bit_by_bit.take(t, value)
        seen.append(bit_by_bit.at(t))
    assert at_once.at(float(t_s[-1])) == seen[-1]
    # The slow one trails by up to delay times speed and never overtakes.
    assert 0.05 < max(abs(a - b) for a, b in zip(seen, v.tolist(), strict=True)) < 0.5


@pytest.mark.full
def test_aiming_is_played_by_a_simulated_person(display: str, tmp_path: Path) -> None:
    asked = ["--task", "aiming", "--targets", "5", "--observer-threshold-ms", "3", "--seed", "2", "--theme", "dark"]
    document, _ = rehearsed(display, tmp_path, *asked)
    assert document["kind"] == "aiming"
    assert document["n"] == 4 * 5
    assert 0.3 < document["throughput"]["value"] < 6.0
    assert document["throughput"]["unit"] == "bit/s"
