"""The event-device source and the recorder against a real kernel, in a small virtual machine."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
UNAVAILABLE = 77
LIMIT_S = 420
"""A quiet core needs 75 s; beside the other tests it has part of one."""


@pytest.mark.kernel
@pytest.mark.parametrize(("marked", "least"), [("not full", 8), pytest.param("full", 4, marks=pytest.mark.full)])
def test_event_devices_of_a_real_kernel(marked: str, least: int) -> None:
    inside = ["env", "PYTEST_DISABLE_PLUGIN_AUTOLOAD=1", sys.executable, "-B", "-m", "pytest", "-q", "-o", "addopts="]
    inside += ["-p", "no:cacheprovider", "--import-mode=importlib", "-rs", "-m", marked]
    inside += [f"--rootdir={HERE.parents[1]}"]
    command = [sys.executable, str(HERE / "machine.py"), "--limit", str(LIMIT_S), *inside, str(HERE / "guest_evdev.py")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=LIMIT_S + 120)
    print(done.stdout)
    if done.returncode == UNAVAILABLE:
        pytest.skip(done.stdout.strip().splitlines()[-1])
    assert done.returncode == 0, done.stdout + done.stderr
    assert int(re.findall(r"(\d+) passed", done.stdout)[-1]) >= least
