"""The tests of faults made for real, run once and counted."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path
from xml.etree import ElementTree

__all__ = ["fault_table"]

TESTS = Path(__file__).parents[1]
FILES = ("end_to_end/test_faults.py", "end_to_end/test_killed_recorder.py", "unit/outputs/test_locks.py")


def fault_table() -> tuple[str, int]:
    """Run the tests of faults and return a row each in Markdown, and how many failed."""
    with tempfile.TemporaryDirectory() as folder:
        found = Path(folder) / "found.xml"
        names = [str(TESTS / name) for name in FILES]
        subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-m", "", *names, f"--junitxml={found}"],
            cwd=TESTS.parent,
            check=False,
        )
        cases = list(ElementTree.parse(found).getroot().iter("testcase"))
    counts: dict[str, list[str]] = defaultdict(list)
    for case in cases:
        words = str(case.get("name")).partition("[")[0].removeprefix("test_").replace("_", " ")
        tags = ("failure", "error", "skipped")
        counts[words].append(next((tag for tag in tags if case.find(tag) is not None), "held"))
    lines = ["| fault | tests | held | failed | left out here |", "|---|---|---|---|---|"]
    for words, ended in [*counts.items(), ("all", [one for every in counts.values() for one in every])]:
        n_failed, n_left = ended.count("failure") + ended.count("error"), ended.count("skipped")
        lines.append(f"| {words} | {len(ended)} | {ended.count('held')} | {n_failed} | {n_left} |")
    return "\n".join(lines), n_failed
