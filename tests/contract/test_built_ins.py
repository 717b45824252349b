"""The built-in plugins pass the suites that the package ships, and a plugin that is wrong does not."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

WRONG = """
from feelcheck.model import Estimate, Finding, MetricOutput

class Metric:
    name = "tilt"

    def measure(self, view):
        print("hello")
        found = Estimate.measured("tilt", 1.0, u=0.1, unit="deg")
        return MetricOutput(findings=(Finding(estimate=found, axis="middle"),))
"""


def _suites(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "feelcheck.conformance", "-q", "-rf", "--tb=line", *arguments]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False)


def test_built_in_plugins_pass_the_shipped_suites(tmp_path: Path) -> None:
    run = _suites(cwd=tmp_path)
    assert run.returncode == 0, run.stdout[-4000:] + run.stderr
    assert " passed" in run.stdout


def test_a_wrong_metric_fails_by_name(tmp_path: Path) -> None:
    (tmp_path / "workbench.py").write_text(WRONG)
    facts = tmp_path / "workbench-1.0.dist-info"
    facts.mkdir()
    (facts / "METADATA").write_text("Metadata-Version: 2.1\nName: workbench\nVersion: 1.0\n")
    (facts / "entry_points.txt").write_text("[feelcheck.metrics]\ntilt = workbench:Metric\n")
    run = _suites("--plugin", "tilt", cwd=tmp_path)
    assert run.returncode == 1, run.stdout + run.stderr
    failed = {line.split("::")[1].split()[0] for line in run.stdout.splitlines() if line.startswith("FAILED")}
    assert failed == {"test_what_it_returns_is_of_its_family[tilt]", "test_it_stands_beside_the_built_in_ones[tilt]"}


def test_an_unknown_name_is_refused(tmp_path: Path) -> None:
    run = _suites("--plugin", "maple", cwd=tmp_path)
    assert run.returncode == 4
    assert "no plugin is installed as maple; known: " in run.stderr
