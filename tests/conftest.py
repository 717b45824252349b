"""What tests of several folders share: the scripted hand, a screen in memory, and compiled modules."""

from __future__ import annotations

import os
import select
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import typer.main
from hypothesis import settings

# The same draws in every run; `--hypothesis-profile default` draws new ones, and more of them.
settings.register_profile("steady", deadline=None, derandomize=True, max_examples=50)
settings.load_profile("steady")

# What the caller's shell, terminal or runner is like is no matter of the tests: width and colours of what is printed,
# who may read a file, where windows and pads are looked for.
for name in (
    "COLUMNS", "LINES", "TERM_PROGRAM", "TERMINAL_WIDTH", "FORCE_COLOR", "NO_COLOR", "PY_COLORS", "CLICOLOR_FORCE",
    "GITHUB_ACTIONS", "PYTHONWARNINGS", "FEELCHECK_WINDOW", "FEELCHECK_PICTURES", "FEELCHECK_LINGER_S",
    "SDL_JOYSTICK_DEVICE", "SDL_AUDIODRIVER",
):  # fmt: skip
    os.environ.pop(name, None)
os.umask(0o022)

sys.path += [str(Path(__file__).parent / "unit" / room) for room in ("recorder", "hand", "bench")]


@pytest.fixture(scope="session", autouse=True)
def one_tree_of_commands() -> Iterator[None]:
    """Make all commands' options once: it takes longer than most commands that a test runs."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("typer.testing._get_command", cache(typer.main.get_command))
        yield


@pytest.fixture(scope="session")
def display() -> Iterator[str]:
    """A screen in memory."""
    read, write = os.pipe()
    command = ["Xvfb", "-displayfd", str(write), "-screen", "0", "1920x1080x24"]
    server = subprocess.Popen(command, pass_fds=[write], stderr=subprocess.DEVNULL)
    os.close(write)
    ready, _, _ = select.select([read], [], [], 30)
    assert ready, "Xvfb did not start"
    number = os.read(read, 16).decode().strip()
    yield f":{number}"
    server.terminate()
    server.wait(10)
    os.close(read)


@pytest.fixture(scope="session")
def compiled_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let programs that a benchmark starts keep compiled modules, ours and the libraries', in one folder of this run.

    Costs are those of an installed program. Installing compiles; a checkout that may not write beside its modules would
    compile ours anew in each process while the libraries come compiled. Every measurement takes the cheapest of several
    runs, so that the first fills the folder.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        patch.setenv("PYTHONPYCACHEPREFIX", str(tmp_path_factory.mktemp("compiled")))
        yield
