"""How commands end, and what they hand over: errors become exit codes, options become the pipeline's units."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from feelcheck import pipeline
from feelcheck.cli import app
from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.errors import FormatError, RecordingStopped
from feelcheck.model import Play


class ReachedError(Exception):
    """The pipeline was called; everything after it is somebody else's test."""


def ending(error: BaseException) -> tuple[int, str]:
    """Return exit code and stderr of a command that raises this."""
    app = typer.Typer()

    @app.command()
    @reports_errors
    def fail() -> None:
        raise error

    result = CliRunner().invoke(app, [])
    return result.exit_code, result.stderr


def test_an_error_on_purpose_is_said_with_its_facts_and_exits_2() -> None:
    code, said = ending(FormatError("A log needs rows.", {"file": "alder.csv"}, "Record again."))
    assert code == 2
    assert said == "A log needs rows.\n  file: alder.csv\nNext: Record again.\n"


def test_the_systems_refusal_names_the_file() -> None:
    code, said = ending(PermissionError(13, "Permission denied", "alder.toml"))
    assert code == 2
    assert said.startswith("The system refused: Permission denied.\n  file: alder.toml\n  disk: ")


@pytest.mark.parametrize("stop", [KeyboardInterrupt(), RecordingStopped(Path("sessions/alder"))])
def test_ctrl_c_exits_130(stop: BaseException) -> None:
    assert ending(stop) == (130, "Stopped by Ctrl-C.\n")


def test_a_programming_mistake_is_not_hidden() -> None:
    app = typer.Typer(pretty_exceptions_enable=False)

    @app.command()
    @reports_errors
    def fail() -> None:
        raise ZeroDivisionError

    assert isinstance(CliRunner().invoke(app, []).exception, ZeroDivisionError)


def test_a_remark_never_reaches_stdout(capsys: pytest.CaptureFixture[str]) -> None:
    remark("Drawn: x.png")
    assert capsys.readouterr() == ("", "Drawn: x.png\n")


@pytest.fixture
def handed_over(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Run a command and return what its pipeline function was given."""

    def run(function: str, *words: str) -> SimpleNamespace:
        seen = SimpleNamespace(args=(), kwargs={})

        def taken(*args: Any, **kwargs: Any) -> None:
            seen.args, seen.kwargs = args, kwargs
            raise ReachedError

        monkeypatch.setattr(pipeline, "check_references", lambda _: None)
        monkeypatch.setattr(pipeline, function, taken)
        result = CliRunner().invoke(app, list(words))
        assert isinstance(result.exception, ReachedError), result.output
        return seen

    return run


def test_feel_hands_over_seconds_and_fractions(handed_over: Any) -> None:
    words = ("--flick-ms", "80", "--held-ms", "150", "--dead-zone", "0.1", "--curve", "1.5", "--rest-band", "0.05")
    angles = ("--turn-rate-deg-s", "250", "--field-of-view-deg", "100", "--screen-deg", "40")
    seen = handed_over("feel", "feel", "alder.toml", "birch.toml", *words, *angles)
    assert seen.args[0] == ["alder.toml", "birch.toml"]
    assert seen.args[1] == Play(
        turn_rate_deg_s=250.0, field_of_view_deg=100.0, screen_deg=40.0, flick_s=0.08, held_s=0.15,
        dead_zone_fraction=0.1, curve_exponent=1.5, rest_band_fraction=0.05,
    )  # fmt: skip


def test_the_defaults_of_feel_are_those_of_play(handed_over: Any) -> None:
    assert handed_over("feel", "feel", "alder.toml").args[1] == Play()


def test_parts_hand_over_fractions(handed_over: Any) -> None:
    words = ("--resistor", "4.7k", "--capacitor", "1u", "--resistor-tolerance", "1", "--capacitor-tolerance", "20")
    asked = handed_over("parts", "parts", *words, "--dielectric", "X7R", "--high-v", "3").args[0]
    assert (asked.resistor, asked.capacitor, asked.dielectric, asked.high_v) == ("4.7k", "1u", "X7R", 3.0)
    assert (asked.resistor_tolerance, asked.capacitor_tolerance) == (0.01, 0.2)


def test_bench_splits_scope_settings_at_the_first_equals_sign(
    handed_over: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("t_s,out_V\n0,0\n1,0\n2,1\n")
    seen = handed_over("bench_many", "bench", "a.csv", "b.csv", "--scope", "supply=1.8 V", "--scope", "filter=f=20 kHz")
    assert seen.args[0] == [Path("a.csv"), Path("b.csv")]
    assert seen.kwargs["settings"] == {"supply": "1.8 V", "filter": "f=20 kHz"}


def test_analyze_hands_over_only_what_was_given(handed_over: Any) -> None:
    assert set(handed_over("analyze_many", "analyze", "a.csv").kwargs) == {"left_out"}
    words = ("--rate-hz", "250", "--axes", "x,y", "--full-scale", "127", "--time", "t", "--time-unit", "us")
    seen = handed_over("analyze_many", "analyze", "a.csv", *words)
    assert seen.kwargs.pop("left_out")
    assert seen.kwargs == {"rate_hz": 250.0, "axes": "x,y", "full_scale": 127.0, "time": "t", "time_unit": "us"}


def test_compare_takes_the_first_for_the_baseline(handed_over: Any) -> None:
    seen = handed_over("compare", "compare", "alder.toml", "birch.toml", "elm.toml", "--margin-ms", "0.5")
    assert seen.args == ("alder.toml", ["birch.toml", "elm.toml"])
    assert (seen.kwargs["margin_ms"], seen.kwargs["fixed_beforehand"]) == (0.5, False)


def test_a_part_is_handed_over_with_everything_said_of_it(handed_over: Any) -> None:
    words = ("profile", "part", "birch.toml", "c9", "560n", "--role", "capacitor", "--axis", "left_x", "--measured")
    seen = handed_over("note_part", *words, "in_circuit", "--tolerance-percent", "10", "--dielectric", "X7R")
    path, part = seen.args
    assert path == Path("birch.toml")
    assert (part.position, part.role, part.unit, part.axis) == ("c9", "capacitor", "F", "left_x")
    assert part.value == pytest.approx(5.6e-7)
    assert (part.measured, part.tolerance_fraction, part.dielectric) == ("in_circuit", 0.1, "X7R")


def test_a_state_is_handed_over_with_its_changes(handed_over: Any) -> None:
    words = ("profile", "state", "birch.toml", "c3_swapped", "--change", "c3=100n", "--change", "r2=lifted", "--undone")
    _, state = handed_over("note_state", *words).args
    assert (state.name, state.undone, dict(state.changes)) == ("c3_swapped", True, {"c3": "100n", "r2": "lifted"})


def test_log_hands_over_the_facts_that_were_given(handed_over: Any) -> None:
    words = ("log", "alder", "--source", "synthetic", "--seconds", "2", "--seed", "7", "--cap", "domed", "--spring", "")
    seen = handed_over("log", *words, "--headless")
    (asked,) = seen.args
    assert (asked.specimen, asked.seconds, asked.seed, asked.facts) == ("alder", 2.0, 7, {"cap": "domed"})
    assert (asked.script, asked.state) == ("default", "as_found")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("alder",), "no session was left behind.\nNext: feelcheck log alder\n"),
        (("--resume", "a"), "the session is as it was.\nNext: feelcheck log --resume a\n"),
    ],
)
def test_a_stop_before_anything_was_recorded_says_what_is_left_and_what_next(
    words: tuple[str, ...], said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def stopped(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(pipeline, "log", stopped)
    monkeypatch.setattr(pipeline, "resume", stopped)
    result = CliRunner().invoke(app, ["log", *words, "--headless"])
    assert (result.exit_code, result.stderr) == (130, f"Stopped by Ctrl-C before anything was recorded: {said}")


def test_a_resumed_session_keeps_its_script_unless_another_is_named(handed_over: Any) -> None:
    assert handed_over("resume", "log", "--resume", "sessions/alder").kwargs["script"] == ""
    assert handed_over("resume", "log", "--resume", "sessions/alder", "--script", "quick").kwargs["script"] == "quick"


def test_adding_with_an_axis_makes_a_bench_result(handed_over: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "check_additions", lambda *_, **__: None)
    words = ("profile", "add", "birch.toml", "one.csv", "two.csv")
    assert handed_over("add_capture", *words, "--axis", "left_x").args[1] == [Path("one.csv"), Path("two.csv")]
    seen = handed_over("add_session", *words, "--mounting", "2", "--operator", "Mo")
    assert seen.args == (Path("birch.toml"), Path("one.csv"))
    assert seen.kwargs == {"state": "", "mounting": 2, "operator": "Mo", "force": False}


@pytest.mark.parametrize(
    "words", [("parts", "--resistor", "4.7k", "--capacitor", "1u"), ("profile", "show", "profiles/birch.toml")]
)
def test_json_is_one_document_alone_on_stdout(words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(Path(__file__).resolve().parents[3])
    result = CliRunner().invoke(app, [*words, "--json"])
    assert result.exit_code == 0
    assert json.loads(result.stdout)["schema"].startswith("feelcheck.")


def test_plugins_are_listed_with_their_origin() -> None:
    lines = CliRunner().invoke(app, ["plugins"]).stdout.splitlines()
    assert lines[0].split() == ["group", "name", "from", "version", "state"]
    assert any(line.split()[:2] == ["metrics", "gate_stop"] or "gate_stop" in line for line in lines[1:])
