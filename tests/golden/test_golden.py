"""What the commands say, word for word; numbers as far as they are known.

Each file here holds commands (``$ feelcheck ...``), what they print on both streams, and how they exit (``-> 0``).
Words, statuses, units and the order of lines are held exactly. A number that stands before an interval may move by a
quarter of its width, the ends by half of it; a bound by a fifth; any other number by 2 %. The inputs are formulas and
small records, so the numbers can be worked on paper: 4 and 6 ms in the capture, 5, 9 and 14 ms in the records.
Run this file as a script to write the files anew, and read the difference before you keep it.
"""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from feelcheck.cli import app

HERE = Path(__file__).parent
FILES = sorted(path.name for path in HERE.glob("*.txt"))
NUMBER = r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?"
INTERVAL = re.compile(rf"({NUMBER})([^()\d]*) \(({NUMBER}) to ({NUMBER})\)")
BOUND = re.compile(rf"at (?:most|least) ({NUMBER})")


def write_inputs(folder: Path) -> None:
    """Put the small records there, and a capture and a log whose truth is a formula."""
    shutil.copytree(HERE / "inputs", folder, dirs_exist_ok=True)
    t_ms = 0.05 * np.arange(1600)
    high = (t_ms % 80 >= 10) & (t_ms % 80 < 50)
    out = np.where(t_ms < 10, 0.0, np.where(high, 1 - np.exp(-(t_ms - 10) / 4.0), np.exp(-(t_ms - 50) / 6.0)))
    out = np.round(0.2 + 1.4 * out + 0.002 * np.random.default_rng(1).standard_normal(t_ms.size), 4)
    rows = (f"{t:.2f},{int(h)},{v:.4f}\n" for t, h, v in zip(t_ms, high, out, strict=True))
    (folder / "step.csv").write_text("Time (ms),Coil (A),Sensor (V)\n" + "".join(rows))
    t_s = 0.004 * np.arange(900)
    waves = (np.round(60 * np.sin(2 * np.pi * t_s / period)).astype(int) for period in (1.1, 0.9))
    log = (f"{t:.3f},{x},{y}\n" for t, x, y in zip(t_s, *waves, strict=True))
    (folder / "slow_waves.csv").write_text("t_s,left_x,left_y\n" + "".join(log))


RATES = "How far such verdicts can be trusted"


def told(command: str) -> str:
    """Return what a command prints and how it exits, without the table of rates: it is counted anew with each rule."""
    result = CliRunner().invoke(app, command.split()[1:])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    sections = [section for section in result.output.rstrip().split("\n\n") if not section.startswith(RATES)]
    return "\n\n".join(sections) + f"\n-> {result.exit_code}"


def commands(text: str) -> list[tuple[str, str]]:
    """Return commands with what is expected of them."""
    parts = re.split(r"^\$ (.*)\n", text, flags=re.MULTILINE)[1:]
    return [(command, expected.strip("\n")) for command, expected in zip(parts[::2], parts[1::2], strict=True)]


def words(line: str) -> str:
    """Return a line without its numbers and without the padding of its columns."""
    return re.sub(r"\s+", " ", re.sub(NUMBER, "#", line)).strip()


def allowed(line: str) -> list[float]:
    """Return how far each number of a line may move."""
    room = {match.start(): max(abs(float(match[0])) * 0.02, 1e-12) for match in re.finditer(NUMBER, line)}
    for match in BOUND.finditer(line):
        room[match.start(1)] = 0.2 * abs(float(match[1]))
    for match in INTERVAL.finditer(line):
        width = float(match[4]) - float(match[3])
        room |= {match.start(1): width / 4, match.start(3): width / 2, match.start(4): width / 2}
    return [room[start] for start in sorted(room)]


def compare(found: str, expected: str) -> None:
    """Fail on the first line that says something else."""
    assert [words(line) for line in found.splitlines()] == [words(line) for line in expected.splitlines()]
    for own, kept in zip(found.splitlines(), expected.splitlines(), strict=True):
        moved = [
            abs(float(a) - float(b)) for a, b in zip(re.findall(NUMBER, own), re.findall(NUMBER, kept), strict=True)
        ]
        assert all(by <= room for by, room in zip(moved, allowed(kept), strict=True)), f"{own}\nis not\n{kept}"


@pytest.mark.parametrize("name", FILES)
def test_commands_say_what_they_said(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_inputs(tmp_path)
    monkeypatch.chdir(tmp_path)
    for command, expected in commands((HERE / name).read_text(encoding="utf-8")):
        compare(told(command), expected)


KEPT = "delay  10.1 ms (9.8 to 10.4)  at most 5.0 ms  one pole  250 Hz"


@pytest.mark.parametrize(
    ("found", "alike"),
    [
        (KEPT, True),
        (KEPT.replace("10.1", "10.2").replace("  one", " one"), True),
        (KEPT.replace("10.1", "10.4"), False),
        (KEPT.replace("at most 5.0", "at most 5.9"), True),
        (KEPT.replace("at most 5.0", "at most 6.1"), False),
        (KEPT.replace("at most", "at least"), False),
        (KEPT.replace("one pole", "two poles"), False),
        (KEPT.replace("250", "256"), False),
        (KEPT.replace(" ms (", " s ("), False),
        (KEPT + "\n", True),
        (KEPT + "\nmore", False),
    ],
)
def test_the_comparison_forgives_digits_and_nothing_else(found: str, alike: bool) -> None:
    try:
        compare(found, KEPT)
    except AssertionError:
        assert not alike
    else:
        assert alike


if __name__ == "__main__":
    import os
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        write_inputs(Path(folder))
        os.chdir(folder)
        for name in sys.argv[1:] or FILES:
            pairs = commands((HERE / name).read_text(encoding="utf-8"))
            blocks = [f"$ {command}\n{told(command)}\n" for command, _ in pairs]
            (HERE / name).write_text("\n".join(blocks), encoding="utf-8")
