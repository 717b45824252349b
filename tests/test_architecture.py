"""The rooms and their doors: layers, library rooms, light start, top level, public docstrings."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "feelcheck"
HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "pygame")
NOT_AT_THE_BENCH = ("matplotlib", "scipy.stats", "feelcheck.hand", "feelcheck.comparison", "feelcheck.feel")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "feelcheck", "tests", "profiles", "demo_logs"}
MODULES = sorted(PACKAGE.rglob("*.py"))


def test_layers_and_library_rooms_hold() -> None:
    run = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports")], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout[-3000:]


@pytest.mark.parametrize(
    ("words", "light_of"),
    [
        (["--help"], HEAVY),
        (["guide", "hand"], HEAVY),
        (["bench", "nowhere.csv"], HEAVY),
        (["analyze", "nowhere.csv"], ("matplotlib", "feelcheck.bench", "feelcheck.comparison", "feelcheck.network")),
        (["bench", "demo_logs/birch_field_step.csv"], NOT_AT_THE_BENCH),
        (["profile", "new", "fir"], HEAVY[1:]),
        (["compare", "nowhere.toml", "nowhere.toml"], HEAVY[1:]),
        (["report", "demo_logs/alder_as_found", "--out", "demo_logs/alder_as_found/datapackage.json"], HEAVY),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_a_command_loads_no_library_that_it_does_not_need(
    words: list[str], light_of: tuple[str, ...], tmp_path: Path
) -> None:
    (tmp_path / "demo_logs").symlink_to(ROOT / "demo_logs")
    code = (
        "import sys\n"
        "from typer.testing import CliRunner\n"
        "from feelcheck.cli import app\n"
        f"result = CliRunner().invoke(app, {words!r})\n"
        "assert result.exit_code in (0, 2), result.output\n"
        f"loaded = [name for name in {light_of!r} if name in sys.modules]\n"
        "assert not loaded, loaded\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=tmp_path)


def test_a_private_module_is_used_in_its_own_package_alone() -> None:
    strangers = []
    for path in MODULES:
        package = ".".join(path.relative_to(ROOT).parts[:-1])
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.ImportFrom) or not node.module:
                continue
            owner, _, private = node.module.partition("._")
            if private and not f"{package}.".startswith(f"{owner}."):
                strangers.append(f"{path.relative_to(ROOT)}: {node.module}")
    assert not strangers, strangers


def test_top_level_holds_nothing_else() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.splitlines()
    if not tracked:
        pytest.skip("not a git checkout")
    names = {path.split("/")[0] for path in tracked}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_modules_and_functions_stay_short(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    code_lines = [line for line in text.splitlines() if line.strip() and not line.strip().startswith("#")]
    assert len(code_lines) <= 400
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert _body_lines(node) <= 50, f"{path.name}:{node.name}"


def _body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = node.body[1:] if ast.get_docstring(node) else node.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_every_public_name_has_a_docstring(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert ast.get_docstring(tree), f"{path.name}: the module says nothing"
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{path.name}:{node.name}"
