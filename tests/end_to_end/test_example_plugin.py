"""The example distribution: built, installed into an environment of its own, and used by the command line."""

from __future__ import annotations

import json
import os
import re
import shutil
import site
import subprocess
import sys
import venv
from pathlib import Path

import numpy as np
import pytest

EXAMPLE = Path(__file__).parents[1] / "example_plugin"
FAMILIES = ("pendulum", "larch", "larch_capture", "travel", "four_sides", "larch_adapter", "larch_labels")
TAU_S = 2e-3


@pytest.fixture(scope="module")
def python(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment that has the wheel installed; feelcheck and what it needs are lent by the tests' own."""
    folder = tmp_path_factory.mktemp("larch")
    source = shutil.copytree(EXAMPLE, folder / "source", ignore=shutil.ignore_patterns("__pycache__"))
    pip = [sys.executable, "-m", "pip", "-q", "--no-input", "--disable-pip-version-check"]
    wheel = ["wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(source)]
    subprocess.run([*pip, *wheel], check=True, timeout=300)
    venv.create(folder / "env", with_pip=False, symlinks=os.name != "nt")
    made = folder / "env" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    (built,) = folder.glob("larch_bench-1.0-*.whl")
    subprocess.run([*pip, "--python", str(made), "install", "--no-deps", "--no-index", str(built)], check=True)
    asked = "import sysconfig; print(sysconfig.get_path('purelib'))"
    own = Path(subprocess.run([made, "-c", asked], check=True, capture_output=True, text=True).stdout.strip())
    (own / "lent.pth").write_text(
        "".join(f"import site; site.addsitedir({str(p)!r})\n" for p in site.getsitepackages())
    )
    return made


def _run(python: Path, *arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    command = [str(python), "-m", *arguments]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False, timeout=300)


def _capture(path: Path) -> Path:
    """A file of the bench's own: a pole of 2 ms behind steps of the field every 40 ms, rounded to codes."""
    t = 10e-6 * np.arange(16_000)
    phase = t % 0.04
    rises = (t // 0.04) % 2 == 1
    moved = -np.expm1(-phase / TAU_S)
    volts = np.where(rises, 0.3 + moved, 1.3 - moved * (t >= 0.08))
    volts[t < 0.04] = 0.3
    path.write_bytes(b"LARCHCAP" + np.round(volts * 4096 / 1.8).astype("<u2").tobytes())
    return path


def _log(path: Path) -> Path:
    """A log of the bench's own: a swing on both axes, 250 reports a second."""
    t = 0.004 * np.arange(1500)
    x, y = (np.round(1800 * np.sin(rate * t)).astype(int) for rate in (3.0, 5.0))
    path.write_text("".join(f"@{1e3 * a:.0f} L{b:+05d}{c:+05d}\n" for a, b, c in zip(t, x, y, strict=True)))
    return path


def test_every_family_is_installed_and_named(python: Path, tmp_path: Path) -> None:
    listed = _run(python, "feelcheck", "plugins", cwd=tmp_path).stdout
    for name in FAMILIES:
        assert re.search(rf"\b{name} +larch-bench +1\.0 +works", listed), name


def test_they_pass_the_shipped_suites(python: Path, tmp_path: Path) -> None:
    samples = ["--sample", str(_log(tmp_path / "elm.larch")), "--sample", str(_capture(tmp_path / "elm.bin"))]
    others = [family for family in FAMILIES if not family.startswith("larch")]
    for names, sample in ((["larch", *others], samples[:2]), (["larch_capture"], samples[2:])):
        chosen = [word for name in names for word in ("--plugin", name)]
        run = _run(python, "feelcheck.conformance", "-q", *chosen, *sample, cwd=tmp_path)
        assert run.returncode == 0, run.stdout[-3000:] + run.stderr
        assert " passed" in run.stdout


def test_a_capture_of_its_own_format_is_measured(python: Path, tmp_path: Path) -> None:
    run = _run(python, "feelcheck", "bench", str(_capture(tmp_path / "elm.bin")), "--json", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    document = json.loads(run.stdout)
    assert document["source"]["format"] == "larch_capture"
    for side in ("rising", "falling"):
        assert document[side]["time_constant"]["value"] == pytest.approx(1e3 * TAU_S, rel=0.01)


def test_its_metric_its_renderer_and_its_log_reader(python: Path, tmp_path: Path) -> None:
    log = str(_log(tmp_path / "elm.larch"))
    document = json.loads(_run(python, "feelcheck", "analyze", log, "--json", cwd=tmp_path).stdout)
    assert document["source"]["format"] == "larch"
    travel = document["axes"]["left_x"]["travel"]
    assert travel["value"] == pytest.approx(4 * 1800 * (6 * 3.0 / (2 * np.pi)) / 3600, rel=0.02)
    text = _run(python, "feelcheck", "analyze", log, cwd=tmp_path).stdout
    assert "From other packages" in text
    labels = _run(python, "feelcheck", "analyze", log, "--as", "larch_labels", cwd=tmp_path)
    assert labels.stdout == "no axis holds a value\n"


def test_its_board_its_script_and_its_source(python: Path, tmp_path: Path) -> None:
    parts = json.loads(_run(python, "feelcheck", "parts", "--board", "larch_adapter", "--json", cwd=tmp_path).stdout)
    assert parts["rising"]["time_constant"]["value"] == pytest.approx(0.1, rel=1e-4)  # 1 kohm times 100 nF, ms
    words = ("log", "alder", "--script", "four_sides", "--source", "pendulum", "--out", "kept")
    recorded = _run(python, "feelcheck", *words, cwd=tmp_path)
    assert recorded.returncode == 0, recorded.stderr
    (header,) = (tmp_path / "kept").rglob("datapackage.json")
    kept = json.loads(header.read_text())["feelcheck"]
    assert (kept["source"], kept["script"]) == ("pendulum", "four_sides")


def test_what_is_broken_is_named_and_nothing_else_changes(python: Path, tmp_path: Path) -> None:
    away = tmp_path / "larch_broken"
    away.mkdir()
    (away / "broken.py").write_text(
        "class Broken:\n    name, takes, suffix = 'broken', ('bench',), '.txt'\n"
        "    def claims(self, path): raise RuntimeError('the moths were here')\n    read = claims\n"
        "    def render(self, result): return 7\nMADE = Broken()\n"
    )
    facts = away / "broken-1.0.dist-info"
    facts.mkdir()
    (facts / "METADATA").write_text("Metadata-Version: 2.1\nName: broken\nVersion: 1.0\n")
    groups = "".join(f"[feelcheck.{group}]\nbroken = broken:MADE\n" for group in ("captures", "renderers", "boards"))
    (facts / "entry_points.txt").write_text(groups)
    capture = str(_capture(tmp_path / "elm.bin"))
    document = json.loads(_run(python, "feelcheck", "bench", capture, "--json", cwd=away).stdout)
    assert document["rising"]["time_constant"]["status"] == "ok"
    (remark,) = document["source"]["remarks"]
    assert remark == "the capture reader broken of package broken was left out: RuntimeError: the moths were here"
    for words in (("bench", capture, "--as", "broken"), ("parts", "--board", "broken")):
        run = _run(python, "feelcheck", *words, cwd=away)
        assert run.returncode == 2
        assert "broken" in run.stderr
        assert "Traceback" not in run.stderr
