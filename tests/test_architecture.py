"""The rooms and their doors: layers, library rooms, light start, top level, public docstrings."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "feelcheck"
HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "pygame")
NOT_AT_THE_BENCH = ("matplotlib", "scipy.stats", "feelcheck.hand", "feelcheck.comparison", "feelcheck.feel")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "feelcheck", "tests", "profiles", "demo_logs"}
MODULES = sorted(PACKAGE.rglob("*.py"))
ARRAY = re.compile(r"FloatArray|NDArray|ArrayLike|ndarray")


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


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
        for node in ast.walk(_tree(path)):
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


def test_modules_and_functions_stay_short() -> None:
    long = []
    for path in MODULES:
        # A room's table of numbers is one list, however many there are.
        if path.name != "numbers.py" and _code_lines(path) > 350:
            long.append(str(path.relative_to(PACKAGE)))
        for node in ast.walk(_tree(path)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and _body_lines(node) > 50:
                long.append(f"{path.relative_to(PACKAGE)}:{node.name}")
    assert not long, long


def _code_lines(path: Path) -> int:
    """Lines that hold code: what is documented well is not long."""
    told = set[int]()
    for node in ast.walk(_tree(path)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(node):
            told |= set(range(node.body[0].lineno, (node.body[0].end_lineno or 0) + 1))
    lines = enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
    return sum(bool(line.strip()) and not line.strip().startswith("#") and n not in told for n, line in lines)


def _body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = node.body[1:] if ast.get_docstring(node) else node.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def test_every_module_and_public_name_has_a_docstring() -> None:
    silent = [str(path.relative_to(PACKAGE)) for path in MODULES if not ast.get_docstring(_tree(path))]
    for path in MODULES:
        for node in _tree(path).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                overload = any(isinstance(one, ast.Name) and one.id == "overload" for one in node.decorator_list)
                silent += [] if overload or ast.get_docstring(node) else [f"{path.relative_to(PACKAGE)}:{node.name}"]
    assert not silent, silent


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0]


def _home(module: str, name: str) -> tuple[Path, str] | None:
    """Return the file in which a name that a module gives is written, through whatever re-exports it."""
    path = ROOT.joinpath(*module.split("."))
    path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    if not path.is_file():
        return None
    given = [node for node in _tree(path).body if isinstance(node, ast.ImportFrom) and node.module]
    for node in given:
        if name in {alias.asname or alias.name for alias in node.names}:
            return _home(str(node.module), name)
    return path, name


@cache
def _doors() -> set[tuple[Path, str]]:
    """Return what a room gives to other rooms: the names that they import from it."""
    found = set()
    for path in MODULES:
        for node in ast.walk(_tree(path)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("feelcheck"):
                homes = {_home(str(node.module), alias.name) for alias in node.names}
                found |= {home for home in homes if home and _room(home[0]) != _room(path)}
    return found


def _public_functions() -> Iterator[tuple[Path, ast.FunctionDef, list[str]]]:
    """Yield the doors and every function of a public module that takes something, with the names of the arrays.

    A command's parameters are told by its help, a suite's are pytest's.
    """
    for path in MODULES:
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        inside = parts[0] in ("cli", "conformance") or any(part.startswith("_") for part in parts)
        for node in _tree(path).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                typed = [a for a in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs) if a.annotation]
                arrays = [a.arg for a in typed if ARRAY.search(ast.unparse(a.annotation or a))]
                if typed and ((path, node.name) in _doors() or not inside):
                    yield path, node, arrays


def _undocumented(node: ast.FunctionDef, arrays: list[str]) -> bool:
    """Whether a docstring lacks the section of parameters, or the shape of one of the arrays."""
    _, _, parameters = (ast.get_docstring(node) or "").partition("Parameters\n----------\n")
    told = re.split(r"\n\n\w+\n-{3,}\n", parameters)[0]
    entries = re.findall(r"^(\S.*(?:\n .*)*)", told, re.MULTILINE)
    shapes = {name for entry in entries if "shape" in entry or "As for" in entry for name in re.findall(r"\w+", entry)}
    return not entries or not set(arrays) <= shapes


def _taken(method: ast.FunctionDef) -> dict[str, str]:
    """Return what a method takes, with its type; what is named `_` nobody looks at."""
    found = [*method.args.posonlyargs, *method.args.args, *method.args.kwonlyargs, method.args.vararg]
    named = {one.arg: ast.unparse(one.annotation) if one.annotation else "" for one in found if one is not None}
    return {name: kind for name, kind in named.items() if name not in ("self", "cls", "_")}


def _methods(node: ast.ClassDef) -> dict[str, ast.FunctionDef]:
    return {one.name: one for one in node.body if isinstance(one, ast.FunctionDef) and not one.name.startswith("_")}


@cache
def _classes() -> dict[ast.ClassDef, Path]:
    return {node: path for path in MODULES for node in _tree(path).body if isinstance(node, ast.ClassDef)}


def _bases(node: ast.ClassDef) -> list[ast.ClassDef]:
    """Return the classes that one is derived from, those of its bases too; a private one is of the same module."""
    names = {ast.unparse(base).partition("[")[0] for base in node.bases}
    here = _classes()[node]
    own = [k for k, path in _classes().items() if k.name in names and (path == here or not k.name.startswith("_"))]
    return [*own, *(further for base in own for further in _bases(base))]


@cache
def _protocols() -> list[dict[str, ast.FunctionDef]]:
    """Return the methods of each protocol, with those that it takes over from another."""
    protocols = [node for node in _classes() if any("Protocol" in ast.unparse(base) for base in node.bases)]
    return [{k: m for one in (*_bases(node), node) for k, m in _methods(one).items()} for node in protocols]


def _promised(node: ast.ClassDef) -> Iterator[ast.FunctionDef]:
    """Yield the methods that a class takes over: those of its bases, and of every protocol all of which it has."""
    own = _methods(node)
    for base in _bases(node):
        yield from _methods(base).values()
    for protocol in _protocols():
        if protocol.keys() <= own.keys():
            yield from (method for name, method in protocol.items() if method is not own[name])


def test_public_methods_document_their_parameters() -> None:
    """Every method of a public class, but one that is documented with the same parameters where it is promised."""
    silent = []
    for path in MODULES:
        for node in _tree(path).body:
            if not isinstance(node, ast.ClassDef) or node.name.startswith("_"):
                continue
            promised = {(one.name, *_taken(one)) for one in _promised(node) if not _undocumented(one, [])}
            for name, method in _methods(node).items():
                taken = _taken(method)
                arrays = [each for each, kind in taken.items() if ARRAY.search(kind)]
                if taken and (name, *taken) not in promised and _undocumented(method, arrays):
                    silent.append(f"{path.relative_to(PACKAGE)}:{method.lineno} {node.name}.{name}")
    assert not silent, silent


def test_public_functions_document_their_parameters() -> None:
    """A section names them all (ruff's D417 finds the ones that it forgot), with the shape of every array."""
    silent = [
        f"{path.relative_to(PACKAGE)}:{node.lineno} {node.name}"
        for path, node, arrays in _public_functions()
        if _undocumented(node, arrays)
    ]
    assert not silent, silent


def test_doors_of_rooms_tell_what_they_raise() -> None:
    silent = []
    for path, node, _ in _public_functions():
        raises = any(isinstance(inner, ast.Raise) and inner.exc for inner in ast.walk(node))
        if (path, node.name) in _doors() and raises and "Raises\n------\n" not in (ast.get_docstring(node) or ""):
            silent.append(f"{path.relative_to(PACKAGE)}:{node.lineno} {node.name}")
    assert not silent, silent


def test_words_of_the_glossary_stand_where_it_says() -> None:
    _, _, page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Glossary")
    rows = [line.strip("|").split("|") for line in page.partition("\n## ")[0].splitlines() if line.startswith("| ")][1:]
    assert len(rows) > 20
    gone = []
    for words, _, where in rows:
        places = [PACKAGE / name for name in re.findall(r"`([^`]+)`", where)]
        files = [file for place in places for file in (place.rglob("*.py") if place.is_dir() else [place])]
        text = " ".join(f"{file} {file.read_text(encoding='utf-8')}" for file in files).replace("_", " ").lower()
        gone += [word for word in words.replace("`", "").split(",") if word.replace("_", " ").strip() not in text]
    assert not gone, gone
