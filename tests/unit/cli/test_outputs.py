"""Every output of every command passes the one rule, and no module goes round it."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer
from matplotlib.figure import Figure
from typer.testing import CliRunner

import feelcheck
from feelcheck.cli import app
from feelcheck.cli._outputs import Writes, declared_outputs
from feelcheck.outputs import forms
from feelcheck.renderers._saving import save_figure

PACKAGE = Path(feelcheck.__file__).parent
DATA = PACKAGE.parent
SESSION, LOG = DATA / "demo_logs" / "alder_as_found", "hand.csv"
ALDER, CAPTURE = DATA / "profiles" / "alder.toml", DATA / "demo_logs" / "birch_field_step.csv"

READ_BY_OPTION = {"watch", "against", "resume", "from_bench", "close", "files"}
"""Options that name something to be read, or a session whose header alone is changed."""

WRITING_CALLS = {"write_text", "write_bytes", "to_csv", "to_parquet", "to_excel", "to_json", "savefig", "mkstemp"}
WRITING_CALLS |= {"NamedTemporaryFile", "TemporaryFile", "write_table"}
COPYING = {"copyfile", "copy", "copy2", "copytree", "move"}
ALLOWED = {
    ("conformance/samples.py", "copyfile"): "files of the suites, in a folder that pytest made",
    ("conformance/samples.py", "copytree"): "files of the suites, in a folder that pytest made",
    ("conformance/samples.py", "move"): "files of the suites, in a folder that pytest made",
    ("conformance/samples.py", "open"): "files of the suites, in a folder that pytest made",
    ("conformance/samples.py", "write_bytes"): "files of the suites, in a folder that pytest made",
    ("conformance/samples.py", "write_text"): "files of the suites, in a folder that pytest made",
    ("capturing/process.py", "fdopen"): "the pipe to the parent process",
    ("capturing/child.py", "TemporaryFile"): "what the capture process says, without a name",
    ("foreign.py", "TemporaryFile"): "what a plugin writes past Python, without a name",
    ("recorder/window/window.py", "save"): "pictures of the window for contributors, into a folder that they name",
    ("rehearsal/window/window.py", "save"): "pictures of the window for contributors, into a folder that they name",
    ("sources/synthetic/tables.py", "open"): "logs with known truth for tests",
    ("formats/session_log.py", "os.open"): "the recorder's own append-only events file, in a folder it has just made",
    ("formats/export.py", "to_csv"): "into the stream of the rule",
    ("formats/frame.py", "to_csv"): "into memory, for a hash",
    ("formats/export.py", "write_table"): "into the stream of the rule",
    ("formats/survey_table.py", "to_csv"): "into the stream of the rule",
    ("formats/survey_table.py", "write_table"): "into the stream of the rule, or of a part that replaces its older one",
    ("renderers/_saving.py", "savefig"): "into the stream of the rule, and into memory",
}


def _commands(group: typer.Typer) -> list[Callable[..., Any]]:
    own = [inspect.unwrap(info.callback) for info in group.registered_commands if info.callback]
    inside = [info.typer_instance for info in group.registered_groups if info.typer_instance]
    return own + [command for one in inside for command in _commands(one)]


COMMANDS = _commands(app)


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command.__name__))
def test_every_path_that_is_an_option_is_declared_as_read_or_written(command: Callable[..., Any]) -> None:
    declared = declared_outputs(command)
    for name, parameter in inspect.signature(command).parameters.items():
        is_option = "typer.Option" in str(parameter.annotation) or "Option(" in str(parameter.annotation)
        names_a_path = "Path" in str(parameter.annotation) or name in ("out", "plot", "card", "table")
        if is_option and names_a_path:
            assert (name in declared) != (name in READ_BY_OPTION), f"{command.__name__} --{name}"


def test_every_command_passes_the_check() -> None:
    for command in app.registered_commands:
        assert command.callback is not None
        assert hasattr(command.callback, "__wrapped__"), f"{command.callback} is not wrapped by reports_errors"


def test_every_form_is_written_somewhere() -> None:
    used = {mark.form.name for command in COMMANDS for mark in declared_outputs(command).values()
            if isinstance(mark, Writes)}  # fmt: skip
    known = {value.name for value in vars(forms).values() if isinstance(value, forms.Form)}
    assert known - used <= {"table of a page", "survey page"}


def _writes(node: ast.Call) -> str:
    """The name of a call that puts something on a disk, empty for any other."""
    called = node.func
    name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
    words = [arg.value for arg in [*node.args, *(key.value for key in node.keywords)] if isinstance(arg, ast.Constant)]
    modes = [word for word in words if isinstance(word, str) and 0 < len(word) <= 3 and set(word) <= set("rwaxbt+")]
    if name in ("open", "fdopen") and any(set(mode) & set("wax+") for mode in modes):
        return name
    if name == "open" and "O_CREAT" in ast.dump(node):
        return "os.open"
    if isinstance(called, ast.Attribute) and getattr(called.value, "id", "") == "shutil" and name in COPYING:
        return name
    if name == "save" and "image" in ast.dump(called):
        return name
    return name if name in WRITING_CALLS else ""


def test_no_module_writes_a_file_past_the_one_place() -> None:
    found = set()
    for path in sorted(PACKAGE.rglob("*.py")):
        place = path.relative_to(PACKAGE).as_posix()
        if place.startswith("outputs/"):
            continue
        calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
        found |= {(place, name) for node in calls if (name := _writes(node))}
    assert found == set(ALLOWED), "write through feelcheck.outputs"


def test_the_search_for_writers_finds_them() -> None:
    for text in ("open(p, 'w')", "p.open('xb')", "p.write_text('')", "figure.savefig(p)", "p.open(mode='a')"):
        (call,) = [node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Call)]
        assert _writes(call), text
    (call,) = [node for node in ast.walk(ast.parse("p.open('rb')")) if isinstance(node, ast.Call)]
    assert not _writes(call)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a session, a log, a record and a capture of one's own."""
    monkeypatch.chdir(tmp_path)
    session = tmp_path / "S"
    session.mkdir()
    for path in SESSION.iterdir():
        (session / path.name).write_bytes(path.read_bytes())
    (tmp_path / LOG).write_text("t_s,x\n" + "".join(f"{k / 100},{k % 50}\n" for k in range(200)))
    (tmp_path / "alder.toml").write_bytes(ALDER.read_bytes())
    (tmp_path / "page.html").write_text("<!doctype html><title>my own page</title>")
    (tmp_path / "photo.png").write_bytes(b"\x89PNG\r\n\x1a\n my own photo")
    (tmp_path / "capture.csv").write_bytes(CAPTURE.read_bytes())
    return tmp_path


@pytest.mark.parametrize(
    "line",
    [
        "export S --out S/events.csv",
        "export S --out S/events.csv --overwrite",
        "export S --out ./S/../S/events.csv --overwrite",
        "export S --out S/datapackage.json --overwrite",
        "export S --out S --overwrite",
        f"export {LOG} --out {LOG}",
        f"export {LOG} --out {LOG} --overwrite",
        "export S --out capture.csv",
        "export S --out capture.csv --overwrite",
        "export S --out alder.toml --overwrite",
        "report alder.toml --out alder.toml",
        "report alder.toml --out page.html",
        "report alder.toml --out S/events.csv",
        f"analyze {LOG} --plot {LOG}",
        f"analyze {LOG} --plot photo.png",
        f"analyze {LOG} --plot alder.toml",
        "bench capture.csv --plot capture.csv",
        "bench capture.csv --plot photo.png",
        "compare alder.toml S --plot alder.toml",
        "compare alder.toml S --plot photo.png",
        "feel alder.toml --plot photo.png",
        "feel alder.toml --plot capture.csv",
        f"repeatability S --plot {LOG}",
        "profile new alder --folder .",
        "profile new alder --folder alder.toml",
        "demo --out alder.toml",
        "log alder --source synthetic --simulate alder --out alder.toml",
    ],
)
def test_a_wrong_name_destroys_nothing(bench: Path, line: str) -> None:
    before = {path: path.read_bytes() for path in bench.rglob("*") if path.is_file()}
    run = CliRunner().invoke(app, line.split())
    assert run.exit_code == 2, run.output
    assert "Traceback" not in run.output
    assert {path: path.read_bytes() for path in bench.rglob("*") if path.is_file()} == before


def test_a_wrong_name_is_told_before_any_work(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from feelcheck import pipeline

    monkeypatch.setattr(pipeline, "log", lambda *a, **k: pytest.fail("the work began"), raising=False)
    for name in ("report", "export", "analyze_many", "bench_many", "compare", "feel", "repeatability", "demo"):
        monkeypatch.setattr(pipeline, name, lambda *a, **k: pytest.fail("the work began"), raising=False)
    (bench / "feelcheck_demo").mkdir()
    (bench / "feelcheck_demo" / "in_use.csv").write_text("my own")
    for line in (
        "report alder.toml --out page.html",
        "export S --out capture.csv",
        "export S --out capture.csv --overwrite",
        f"analyze {LOG} --plot photo.png",
        "bench capture.csv --plot photo.png",
        "compare alder.toml S --plot photo.png",
        "feel alder.toml --plot photo.png",
        "repeatability S --plot photo.png",
        "demo",
        "demo --out alder.toml",
        "log alder --source synthetic --out alder.toml",
    ):
        run = CliRunner().invoke(app, line.split())
        assert run.exit_code == 2, (line, run.output)


def test_every_numbered_picture_is_checked(bench: Path) -> None:
    (bench / "a_2.png").write_bytes(b"my own")
    run = CliRunner().invoke(app, ["analyze", LOG, "S", "--plot", "a.png"])
    assert run.exit_code == 2
    assert "a_2.png" in run.output
    assert not (bench / "a.png").exists()


def test_several_pictures_are_not_put_in_place_of_the_folder(bench: Path) -> None:
    run = CliRunner().invoke(app, ["analyze", LOG, "S", "--plot", "."])
    assert run.exit_code == 2
    assert isinstance(run.exception, SystemExit), run.exception


def test_an_own_older_output_is_replaced(bench: Path) -> None:
    for _ in range(2):
        run = CliRunner().invoke(app, f"export {LOG} --out wide.parquet".split())
        assert run.exit_code == 0, run.output
        save_figure(Figure(), bench / "edge.svg", forms.BENCH_FIGURE)
    run = CliRunner().invoke(app, f"analyze {LOG} --plot edge.svg".split())
    assert run.exit_code == 2
    assert "a bench figure made by feelcheck" in run.output
    assert CliRunner().invoke(app, f"export {LOG} --out wide.csv".split()).exit_code == 0
    again = CliRunner().invoke(app, f"export {LOG} --out wide.csv".split())
    assert again.exit_code == 2
    assert "--overwrite" in again.output
    assert CliRunner().invoke(app, f"export {LOG} --out wide.csv --overwrite".split()).exit_code == 0
