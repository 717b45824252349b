"""Every command, given something it cannot mean: exit 2, one message, nothing on stdout, no traceback."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from feelcheck.cli import app

ROOT = Path(__file__).resolve().parents[3]
ALDER, BIRCH = (str(ROOT / "profiles" / f"{name}.toml") for name in ("alder", "birch"))
CAPTURE = str(ROOT / "demo_logs" / "birch_field_step.csv")
SESSION = str(ROOT / "demo_logs" / "alder_as_found")
RC = ("parts", "--resistor", "4.7k", "--capacitor", "1u")


def run(*words: str) -> Result:
    return CliRunner().invoke(app, list(words))


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty folder with one record in it: nothing may be written anywhere else."""
    shutil.copy(BIRCH, tmp_path / "birch.toml")
    (tmp_path / "empty").mkdir()
    (tmp_path / "noise.csv").write_bytes(b"\x00\xff" * 200)
    (tmp_path / "one_reading.csv").write_text("operator,specimen,repeat,value\na,alder,1,1\n")
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        # parts
        ((*RC, "--high-v", "0.1"), "0 <= low < high"),
        ((*RC, "--low-v", "-1"), "0 <= low < high"),
        ((*RC, "--high-v", "nan"), "--high-v needs a finite number"),
        ((*RC, "--high-v", "inf"), "--high-v needs a finite number"),
        ((*RC, "--resistor-tolerance", "150"), "less than 100 %"),
        ((*RC, "--capacitor-tolerance", "100"), "less than 100 %"),
        ((*RC, "--resistor-tolerance", "0"), "greater than or equal"),
        ((*RC, "--direction", "sideways"), "rising or falling"),
        ((*RC, "--what-if", "capacitor"), "part=lifted or part=value"),
        ((*RC, "--what-if", "fuse=lifted"), "allowed: resistor, capacitor"),
        ((*RC, "--what-if", "capacitor=lots"), "4.7k or 560n"),
        ((*RC, "--source", "-5"), "4.7k or 560n"),
        (("parts", "--load", "4.7k"), "needs parts"),
        (("parts", "--resistor", "4.7k", "--from-bench", "nowhere.csv"), "cannot be opened"),
        # log
        (("log", "alder", "--source", "synthetic", "--recalibrated", "maybe"), "Say yes or no"),
        (("log", "alder", "--source", "synthetic", "--connection", "wifi"), "Say cable or radio"),
        # bench
        (("bench", "empty"), "not a folder"),
        (("bench", "noise.csv"), "no block of numeric rows"),
        (("bench", CAPTURE, "--interval", "-4us"), "4us or 250kHz"),
        (("bench", CAPTURE, "--interval", "nan"), "4us or 250kHz"),
        (("bench", CAPTURE, "--drive", "#9"), "columns: Coil, Sensor"),
        (("bench", CAPTURE, "--scope", "=x"), "known name and a value"),
        (("bench", CAPTURE, "nowhere.csv"), "cannot be opened"),
        (("bench", CAPTURE, CAPTURE), "counts once"),
        # analyze
        (("analyze", "empty"), "not a folder"),
        (("analyze", "noise.csv"), "rows of numbers"),
        (("analyze", CAPTURE), "feelcheck bench"),
        (("analyze", CAPTURE, "--rate-hz", "0"), "--rate-hz must be a positive number"),
        (("analyze", CAPTURE, "--rate-hz", "nan"), "--rate-hz needs a finite number"),
        (("analyze", CAPTURE, "--full-scale", "-1"), "--full-scale must be a positive number"),
        (("analyze", CAPTURE, "--time-unit", "fortnight"), "allowed: s, ms, us, ns, min, samples"),
        (("analyze", SESSION, "--plot", "birch.bmp"), "PNG or SVG"),
        # profile
        (("profile", "new", "../oak"), "letters, digits"),
        (("profile", "new", ""), "letters, digits"),
        (("profile", "new", "birch", "--folder", "."), "never replaces"),
        (("profile", "new", "oak", "--folder", "noise.csv"), "kept in a folder"),
        (("profile", "add", "nowhere.toml", SESSION), "no such record"),
        (("profile", "add", "birch.toml", "nowhere"), "no such file"),
        (("profile", "part", "birch.toml", "c9", "many", "--role", "capacitor"), "4.7k or 560n"),
        (("profile", "part", "birch.toml", "c9", "1u", "--role", "hat"), "allowed: pin_capacitor"),
        (("profile", "part", "birch.toml", "c9", "1u", "--role", "load", "--measured", "guess"), "allowed: marked"),
        (("profile", "part", "birch.toml", " ", "1u", "--role", "capacitor"), "place on the board"),
        (("profile", "part", "birch.toml", "c9", "1u", "--role", "load", "--tolerance-percent", "100"), "less than"),
        (("profile", "part", "birch.toml", "c9", "1u", "--role", "load", "--tolerance-percent", "-1"), "greater"),
        (("profile", "state", "birch.toml", ""), "no equals sign"),
        (("profile", "state", "birch.toml", "c3=lifted"), "no equals sign"),
        (("profile", "state", "birch.toml", "as_found"), "one name"),
        (("profile", "state", "birch.toml", "x", "--change", "c3"), "place=lifted or place=value"),
        (("profile", "state", "birch.toml", "x", "--change", "c3=banana"), "4.7k or 560n"),
        (("profile", "state", "birch.toml", "x", "--change", "c77=lifted"), "allowed: c3"),
        (("profile", "show", "noise.csv"), "text in UTF-8"),
        (("profile", "show", "empty"), "no such record"),
        # compare, repeatability
        (("compare", ALDER), "Missing argument"),
        (("compare", ALDER, f"{BIRCH}@gone"), "allowed: as_found"),
        (("compare", ALDER, f"{BIRCH}@c3="), "place=lifted or place=value"),
        (("compare", ALDER, f"{BIRCH}@c3=much"), "4.7k or 560n"),
        (("compare", ALDER, BIRCH, "--margin-ms", "-1"), "greater than or equal"),
        (("compare", ALDER, BIRCH, "--margin-ms", "nan"), "greater than or equal"),
        (("compare", ALDER, BIRCH, "--plot", "nowhere/x.png"), "existing folder"),
        (("compare", "empty", "empty"), "holds at least one"),
        (("repeatability", "noise.csv"), "is a text file"),
        (("repeatability", "one_reading.csv"), "at least two operators"),
        (("repeatability", "empty"), "operator/specimen/recording"),
        (("repeatability", "one_reading.csv", "--plot", "x.pdf"), "PNG or SVG"),
        # feel, report
        (("feel", BIRCH, "--turn-rate-deg-s", "inf"), "less than or equal"),
        (("feel", BIRCH, "--turn-rate-deg-s", "-1"), "greater than or equal"),
        (("feel", BIRCH, "--field-of-view-deg", "180"), "less than or equal"),
        (("feel", BIRCH, "--curve", "0"), "greater than or equal"),
        (("feel", BIRCH, "--held-ms", "inf"), "less than or equal"),
        (("feel", BIRCH, "--flick-ms", "inf"), "less than or equal"),
        (("feel", BIRCH, "--dead-zone", "1"), "less than or equal"),
        (("feel", BIRCH, "--rest-band", "nan"), "less than or equal"),
        (("feel", "empty"), "holds at least one"),
        (("report", "nowhere"), "no such file"),
        # sessions, log, export, the rest
        (("sessions", "nowhere"), "no such folder of sessions"),
        (("sessions", "--close", "empty"), "datapackage.json"),
        (("sessions", "--close", SESSION), "Only an unfinished session"),
        (("log",), "Name the specimen"),
        (("log", "alder", "--resume", "empty"), "leave one of the two out"),
        (("log", "--resume", "empty"), "datapackage.json"),
        (("log", "--resume", SESSION), "Only an unfinished session"),
        (("log", "alder", "--source", "synthetic", "--script", "waltz"), "known: coupled, default"),
        (("log", "alder", "--source", "synthetic", "--script", "birch.toml"), "unknown field version"),
        (("log", "alder", "--source", "synthetic", "--seconds", "0"), "longer than no time"),
        (("log", "alder", "--source", "synthetic", "--seconds", "nan"), "--seconds needs a finite number"),
        (("log", "alder", "--source", "synthetic", "--seed", "-1"), "not negative"),
        (("log", "alder", "--source", "synthetic", "--out", "noise.csv"), "kept in a folder"),
        (("log", "alder", "--source", "replay"), "session to play"),
        (("log", "alder", "--source", "replay", "--device", "empty"), "datapackage.json and events.csv"),
        (("export", SESSION, "--out", "x.ods"), "CSV or Parquet"),
        (("export", SESSION, "--out", "nowhere/x.csv"), "existing folder"),
        (("export", SESSION), "Missing option"),
        (("devices", "--watch", "nan"), "greater than or equal"),
        (("plugins", "all"), "unexpected extra argument"),
        (("juggle",), "No such command"),
    ],
    ids=lambda value: " ".join(Path(word).name for word in value) if isinstance(value, tuple) else "",
)  # fmt: skip
def test_exit_2_and_one_message(words: tuple[str, ...], message: str, tmp_path: Path) -> None:
    before = (tmp_path / "birch.toml").read_bytes()
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert isinstance(result.exception, SystemExit)
    assert message in " ".join(result.stderr.split())
    assert result.stdout == ""
    assert (tmp_path / "birch.toml").read_bytes() == before


def test_help_is_told_at_once_and_the_version_too() -> None:
    assert run("--help").exit_code == 0
    assert run("--version").stdout.startswith("feelcheck ")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("analyze", SESSION, "--as", "oak"), "oak"),
        (("bench", CAPTURE, "--as", "oak"), "oak"),
        (("compare", ALDER, BIRCH, "--as", "oak"), "oak"),
        (("report", ALDER, "--out", "page.html", "--as", "oak"), "oak"),
        (("analyze", SESSION, "--against", "noise.csv"), "table"),
        (("bench", CAPTURE, "--against", "noise.csv"), "table"),
    ],
)
def test_a_wrong_renderer_or_table_is_refused_before_anything_is_measured(
    words: tuple[str, ...], message: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from feelcheck import pipeline

    for measuring in ("analyze_many", "bench_many", "compare", "report_of"):
        monkeypatch.setattr(pipeline, measuring, lambda *_, **__: pytest.fail("measured first"), raising=False)
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert message in result.stderr
    assert not result.stdout
