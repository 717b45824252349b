"""Numbers beyond measure, endless names, pipes, and one bad session beside good ones: each is one clear message."""

from __future__ import annotations

import inspect
import os
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

import feelcheck
from feelcheck.cli import app

DATA = Path(feelcheck.__file__).parent.parent / "demo_logs"
GOOD = DATA / "alder_as_found"


def _options() -> list[tuple[str, str]]:
    found = []
    for command in app.registered_commands:
        assert command.callback is not None
        for name, parameter in inspect.signature(command.callback).parameters.items():
            if "float" in str(parameter.annotation) or "int |" in str(parameter.annotation):
                found.append((command.callback.__name__, f"--{name.replace('_', '-')}"))
    return found


NEEDED = {"log": ["alder", "--source", "synthetic"], "parts": [], "devices": [], "why": ["a.csv", "delay"]}


@pytest.mark.parametrize(("command", "option"), _options())
def test_no_number_beyond_measure_is_taken(
    command: str, option: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.csv").write_text("t_s,x\n0,1\n1,2\n")
    words = NEEDED.get(command, ["a.csv", "a.csv"] if command == "compare" else ["a.csv"])
    for number in ("nan", "inf", "-inf", "1e308", "-1e308", "1e400"):
        run = CliRunner().invoke(app, [command, *words, option, number])
        assert run.exit_code == 2, (number, run.output)
        assert isinstance(run.exception, SystemExit)
        assert option in run.stderr or "range" in run.stderr, run.stderr


def test_a_number_of_many_digits_and_an_endless_name_are_refused(tmp_path: Path) -> None:
    for words, said in (
        (["log", "alder", "--source", "synthetic", "--seed", "9" * 400], "--seed needs a finite number"),
        (["log", "a" * 5000, "--source", "synthetic"], "--specimen needs a shorter text"),
    ):
        run = CliRunner().invoke(app, words)
        assert run.exit_code == 2
        assert said in run.stderr
        assert len(run.stderr) < 400


@pytest.mark.parametrize(
    "line",
    ["analyze P", "bench P", "export P --out x.csv", "report P", "feel P", "compare P P", "repeatability P",
     "profile show P", "profile add P P", "sessions P", "parts --from-bench P --resistor 4.7k", "log --resume P",
     "log oak --source synthetic --script P", "sessions --close P"],
)  # fmt: skip
def test_no_pipe_is_waited_for(line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    os.mkfifo("P")
    for name in ("P", "/dev/zero"):
        run = CliRunner().invoke(app, line.replace("P", name).split())
        assert run.exit_code == 2, run.output
        assert "no file" in run.stderr


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A good session beside bad ones: nested, of pipes, of devices, empty, binary."""
    shutil.copytree(GOOD, tmp_path / "good")
    bad = {
        "nested": b'{"feelcheck": ' + b"[" * 100_000 + b"]" * 100_000 + b"}",
        "digits": b'{"feelcheck": {"recording": "complete", "axes": ' + b"9" * 9000 + b"}}",
        "empty": b"",
        "binary": bytes(range(256)),
        "other": b'{"name": "somebody else\'s package"}',
        "list": b"[]",
        "state": b'{"feelcheck": {"recording": ["complete"]}}',
    }
    for name, header in bad.items():
        (tmp_path / name).mkdir()
        (tmp_path / name / "datapackage.json").write_bytes(header)
        (tmp_path / name / "events.csv").write_bytes((GOOD / "events.csv").read_bytes()[:2000])
    (tmp_path / "pipe").mkdir()
    os.mkfifo(tmp_path / "pipe" / "datapackage.json")
    (tmp_path / "pipe2").mkdir()
    shutil.copy(GOOD / "datapackage.json", tmp_path / "pipe2")
    os.mkfifo(tmp_path / "pipe2" / "events.csv")
    (tmp_path / "loop").mkdir()
    (tmp_path / "loop" / "datapackage.json").symlink_to("datapackage.json")
    return tmp_path


def test_one_bad_session_spoils_no_good_one(shelf: Path, caplog: pytest.LogCaptureFixture) -> None:
    run = CliRunner().invoke(app, ["sessions", str(shelf)])
    assert run.exit_code == 0, run.output
    assert "good" in run.stdout
    assert caplog.text.count("Left out") >= 7
    run = CliRunner().invoke(
        app, ["log", "alder", "--source", "synthetic", "--seconds", "1", "--out", str(shelf)], catch_exceptions=False
    )
    assert run.exit_code == 0, run.output


def test_what_can_be_measured_is_measured_and_the_rest_is_named(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from feelcheck.pipeline import _hand

    def quick(path: Path, **_: object) -> object:
        from feelcheck.formats.session import READER

        READER.read(path)
        return path

    monkeypatch.setattr(_hand, "analyze", quick)
    paths = sorted(path for path in shelf.iterdir())
    told: dict[str, str] = {}
    found = _hand.analyze_many(paths, left_out=lambda path, problem: told.update({path.name: str(problem)}))
    assert [Path(str(path)).name for path in found] == ["good"]
    assert set(told) == {path.name for path in paths} - {"good"}
    assert "nests beyond" in told["nested"]
    assert "pipe" in told["pipe"]
    bad = [path for path in paths if path.name != "good"]
    with pytest.raises(ValueError, match=r"state|recording"):
        _hand.analyze_many(bad, left_out=lambda *_: None)


def test_a_bad_path_among_good_ones_ends_with_2_and_the_results() -> None:
    run = CliRunner().invoke(app, ["analyze", "nowhere", str(GOOD), "--json"])
    assert run.exit_code == 2
    assert '"feelcheck.hand/1"' in run.stdout
    assert "Left out: nowhere" in run.stderr
