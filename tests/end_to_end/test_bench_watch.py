"""A folder watched while another process writes captures into it slowly; ended by a count, and by Ctrl-C."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parent))

from faults import begun

WRITER = textwrap.dedent(
    """
    import sys, time
    from pathlib import Path
    text, target, pause = Path(sys.argv[1]).read_bytes(), sys.argv[2], float(sys.argv[3])
    step = len(text) // 5 + 1
    with open(target, "wb", buffering=0) as stream:
        for k in range(0, len(text), step):
            stream.write(text[k : k + step])
            time.sleep(pause)
    """
)
PATIENCE_S = 150.0


def capture(path: Path, tau_ms: float, seed: int) -> Path:
    """A pole after a sudden drive, up and down, in closed form."""
    rng = np.random.default_rng(seed)
    t_ms = 0.1 * np.arange(600)
    up, down = t_ms - 5.0, t_ms - 35.0
    rise, fall = (np.where(t > 0, -np.expm1(-np.clip(t, 0, None) / tau_ms), 0.0) for t in (up, down))
    coil = (up > 0).astype(float) - (down > 0)
    volts = 0.2 + 1.4 * (rise - fall) + 0.003 * rng.standard_normal(t_ms.size)
    rows = "".join(f"{t:.2f},{u:.4f},{v:.4f}\n" for t, u, v in zip(t_ms, coil, volts, strict=True))
    path.write_text("Time (ms),Coil (A),Sensor (V)\n" + rows)
    return path


def watching(folder: Path, *more: str, said: str = "Watching") -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "feelcheck", "bench", "--watch", str(folder), *more]
    found = begun(command)
    assert found.stderr is not None
    assert said in found.stderr.readline(), "it says when it has begun"
    return found


def write_slowly(source: Path, target: Path, pause_s: float) -> None:
    subprocess.run([sys.executable, "-c", WRITER, str(source), str(target), str(pause_s)], check=True)


def test_each_capture_is_measured_whole_once_it_is_written(tmp_path: Path) -> None:
    folder = tmp_path / "scope"
    folder.mkdir()
    capture(folder / "old.csv", 9.0, 1)
    before, after = capture(tmp_path / "b.csv", 4.7, 2), capture(tmp_path / "a.csv", 1.0, 3)
    watcher = watching(folder, "--count", "2", "--json", said="What is there already (1) is left alone")
    write_slowly(before, folder / "one.csv", 0.4)
    (folder / "notes.txt").write_text("field stepped by hand\n")
    write_slowly(after, folder / "two.csv", 0.4)
    out, lines = watcher.communicate(timeout=PATIENCE_S)
    assert watcher.returncode == 0
    document = json.loads(out)
    names = [Path(result["source"]["path"]).name for result in document["results"]]
    assert (names, document["reference"]) == (["one.csv", "two.csv"], "one.csv")
    assert [result["source"]["n_samples"] for result in document["results"]] == [600, 600]
    assert [Path(one["path"]).name for one in document["left_out"]] == ["notes.txt"]
    (told,) = [line for line in lines.splitlines() if "two.csv:" in line]
    assert "against one.csv" in told
    assert "rising -3.7" in told
    assert (folder / "feelcheck_last_edge.png").stat().st_size > 10_000


def test_ctrl_c_ends_with_the_table_and_the_command_that_keeps_it(tmp_path: Path) -> None:
    folder = tmp_path / "scope"
    folder.mkdir()
    named = capture(tmp_path / "named.csv", 4.7, 4)
    watcher = watching(folder, "--against", str(named), "--plot", str(tmp_path / "edge.svg"))
    capture(folder / "one.csv", 4.7, 5)
    (folder / "half.csv").touch()
    assert watcher.stdout is not None
    line = watcher.stdout.readline()
    assert "one.csv: rising 4.7" in line
    assert "against named.csv" in line
    deadline = time.monotonic() + PATIENCE_S
    while not (tmp_path / "edge.svg").exists() and time.monotonic() < deadline:
        time.sleep(0.2)
    watcher.send_signal(signal.SIGINT)
    rest, _ = watcher.communicate(timeout=PATIENCE_S)
    assert watcher.returncode == 0
    assert "The sitting: 1 capture (smoothing delay, differences to named.csv)" in rest
    assert "left out: half.csv: it was not finished when the sitting ended" in rest
    assert f"feelcheck profile add profiles/NAME.toml {folder / 'one.csv'} --axis left_x" in rest
    assert not (folder / "feelcheck_last_edge.png").exists()
