"""`import feelcheck`: light, complete, typed names; results as tables, documents, displays; tables in hand."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import typer
from typer.testing import CliRunner

import feelcheck
import feelcheck.accessor
from feelcheck.cli import app
from feelcheck.errors import FormatError
from feelcheck.hand import analyse, prepare
from feelcheck.model import Capture, HandResult, Recording, Results

NAMES = {"analyze", "bench", "compare", "feel", "log", "parts", "read", "rehearse", "report", "survey", "verify"}


@pytest.fixture(scope="module")
def log() -> pd.DataFrame:
    """Four seconds of a stick at 250 reports a second."""
    k = np.arange(1000)
    x, y = np.round(30000 * np.sin(k * 0.05)), np.round(20000 * np.cos(k * 0.03))
    return pd.DataFrame({"time_ms": 4.0 * k, "left_x": x.astype(int), "left_y": y.astype(int)})


@pytest.fixture(scope="module")
def hand(log: pd.DataFrame) -> HandResult:
    return analyse(prepare(feelcheck.read(log)), [])


def test_importing_it_is_light_and_names_stay_functions_beside_rooms_of_the_same_name() -> None:
    code = (
        "import sys, feelcheck\n"
        "heavy = [n for n in ('numpy', 'scipy', 'pandas', 'matplotlib', 'pygame', 'typer') if n in sys.modules]\n"
        "assert not heavy, heavy\n"
        "assert callable(feelcheck.bench)\n"
        "import feelcheck.bench, feelcheck.feel\n"
        "from feelcheck.bench import measure_repeats\n"
        "assert callable(feelcheck.bench) and callable(feelcheck.feel) and 'feelcheck.bench' in sys.modules\n"
    )
    subprocess.run([sys.executable, "-W", "error", "-c", code], check=True)


def test_it_names_what_it_gives() -> None:
    assert set(feelcheck.__all__) >= NAMES  # type: ignore[attr-defined]
    assert set(dir(feelcheck)) >= NAMES
    assert all(callable(getattr(feelcheck, name)) and getattr(feelcheck, name).__doc__ for name in NAMES)
    with pytest.raises(AttributeError, match="solder"):
        feelcheck.solder  # type: ignore[attr-defined]  # noqa: B018


def test_a_frame_is_read_as_its_file_would_be(log: pd.DataFrame, tmp_path: Path) -> None:
    log.to_csv(tmp_path / "alder.csv", index=False)
    by_file, by_frame = feelcheck.read(tmp_path / "alder.csv"), feelcheck.read(log)
    assert isinstance(by_file, Recording)
    assert [s.name for s in by_frame.streams] == ["left_x", "left_y"]
    for one, other in zip(by_file.streams, by_frame.streams, strict=True):
        assert np.array_equal(one.codes, other.codes)
        assert np.array_equal(one.time.t_s, other.time.t_s)
    assert by_frame.provenance.format == "data frame"
    assert by_frame.provenance.path == ""


@pytest.mark.parametrize("index", ["stamps", "durations", "numbers"])
def test_the_index_may_be_the_time(log: pd.DataFrame, index: str) -> None:
    seconds = log["time_ms"] / 1e3
    made = {
        "stamps": pd.Timestamp("2026-05-01T10:00") + pd.to_timedelta(seconds, unit="s"),
        "durations": pd.to_timedelta(seconds, unit="s"),
        "numbers": pd.Index(seconds, name="t_s"),
    }[index]
    frame = log.drop(columns="time_ms").set_index(pd.Index(made, name="t_s" if index == "numbers" else "t"))
    read = feelcheck.read(frame)
    assert read.streams[0].time.duration_s == pytest.approx(3.996, abs=1e-6)
    assert np.array_equal(read.streams[0].codes, log["left_x"])


def test_what_a_frame_does_not_say_is_stated_by_name(log: pd.DataFrame) -> None:
    bare = log.rename(columns={"time_ms": "n", "left_x": "a", "left_y": "b"}).assign(n=range(1000))
    read = feelcheck.read(bare, time="n", rate_hz=250, axes=["a", "b"], full_scale=40000)
    assert read.streams[0].time.duration_s == pytest.approx(3.996)
    assert read.streams[0].scale.reach == 40000
    with pytest.raises(FormatError, match="name a column"):
        feelcheck.read(bare, time="clock")
    with pytest.raises(FormatError, match="names, each once"):
        feelcheck.read(pd.concat([bare, bare], axis=1))


def test_a_hand_result_shows_itself(hand: HandResult) -> None:
    frame = hand.to_frame()
    assert list(frame.columns[:5]) == ["part", "axis", "direction", "quantity", "value"]
    row = frame[(frame["quantity"] == "smoothing_delay") & (frame["axis"] == "left_x")]
    assert list(row["direction"]) == ["rising", "falling"]
    assert list(row["status"]) == ["not_resolved", "not_resolved"]
    interval = frame[frame["quantity"] == "report_interval"].iloc[0]
    assert (interval["part"], interval["unit"], interval["axis"]) == ("timing", "ms", "")
    assert interval["value"] == pytest.approx(4.0)
    shown = hand._repr_html_()
    assert "not resolved" in shown
    assert "report interval" in shown
    assert pickle.loads(pickle.dumps(hand)).to_dict() == hand.to_dict()
    assert len(repr(hand)) < 1000


def test_a_recording_shows_itself(hand: HandResult, log: pd.DataFrame) -> None:
    recording = hand.recording
    assert list(recording.to_frame().columns) == ["t_s", "left_x", "left_y"]
    assert len(recording.to_frame()) == len(log)
    assert recording.to_dict()["axes"]["left_y"]["n_codes"] == 1000
    assert "left_x" in recording._repr_html_()
    assert pickle.loads(pickle.dumps(recording)).to_dict() == recording.to_dict()
    assert len(repr(recording)) < 1000


def test_a_capture_in_hand_measures_as_its_file_and_the_document_is_the_command_s(tmp_path: Path) -> None:
    k = np.arange(600)
    noise = np.random.default_rng(1).normal(0.0, 0.002, k.size)
    rising = np.where(k < 100, 0.0, 1.0 - np.exp(-(k - 100) / 50.0))
    frame = pd.DataFrame({"t (ms)": k / 10, "coil (A)": (k >= 100) * 1.0, "output (V)": np.round(rising + noise, 4)})
    frame.to_csv(tmp_path / "elm.csv", index=False)
    result = feelcheck.bench(tmp_path / "elm.csv")
    printed = json.loads(CliRunner().invoke(app, ["bench", str(tmp_path / "elm.csv"), "--json"]).stdout)
    assert json.loads(json.dumps(result.to_dict())) == printed
    again = frame.feelcheck.bench()
    assert again.to_dict()["rising"] == result.to_dict()["rising"]
    table = result.to_frame()
    delay = table[(table["direction"] == "rising") & (table["quantity"] == "smoothing_delay")].iloc[0]
    assert delay["value"] == pytest.approx(5.0, rel=0.02)
    assert delay["axis"] == result.output_name
    assert "<svg" in result._repr_html_()
    assert pickle.loads(pickle.dumps(result)).to_dict() == result.to_dict()


def test_parts_take_values_as_they_are_marked() -> None:
    result = feelcheck.parts(resistor="4.7k", capacitor="1u")
    assert result.to_dict()["time_constant"]["value"] == pytest.approx(4.7, rel=1e-4)
    assert "4.70" in result._repr_html_()
    assert pickle.loads(pickle.dumps(result)).to_dict() == result.to_dict()


def test_several_results_go_together(hand: HandResult) -> None:
    both = Results([hand, hand])
    assert both.to_dict()["schema"] == "feelcheck.hand/1"
    assert len(both.to_dict()["results"]) == 2
    assert len(both.to_frame()) == 2 * len(hand.to_frame())
    assert both._repr_html_().count("<h4>") == 2
    assert repr(both).startswith("Results(")
    assert pickle.loads(pickle.dumps(both)).to_dict() == both.to_dict()


def test_names_of_the_user_s_own_are_escaped_in_a_display(log: pd.DataFrame) -> None:
    odd = log.rename(columns={"left_x": "<b>x</b>", "left_y": "y"})
    shown = analyse(prepare(feelcheck.read(odd, axes=["<b>x</b>", "y"])), [])._repr_html_()
    assert "<b>x</b>" not in shown


def test_the_command_line_mounts_into_a_host_s_app() -> None:
    host = typer.Typer()

    @host.command()
    def weigh() -> None:
        typer.echo("7 kg")

    host.add_typer(app, name="sticks")
    runner = CliRunner()
    assert runner.invoke(host, ["weigh"]).stdout == "7 kg\n"
    run = runner.invoke(host, ["sticks", "parts", "--resistor", "4.7k", "--capacitor", "1u", "--json"])
    assert run.exit_code == 0
    assert json.loads(run.stdout)["schema"] == "feelcheck.parts/1"
    assert runner.invoke(host, ["sticks", "bench", "no_such_file.csv"]).exit_code == 2
    assert "analyze" in runner.invoke(host, ["sticks", "--help"]).stdout


def test_log_takes_a_label_and_options_or_one_record_of_them(tmp_path: Path) -> None:
    from feelcheck.recorder import RecordingAsked

    given = {"script": "quick", "source": "synthetic", "seconds": 1.0, "seed": 3}
    sessions = [
        feelcheck.log("alder", out=tmp_path / "a", **given),
        feelcheck.log(specimen="alder", out=tmp_path / "b", **given),
        feelcheck.log(RecordingAsked(specimen="alder", out=tmp_path / "c", **given)),  # type: ignore[arg-type]
    ]
    first, *others = ((session / "events.csv").read_bytes() for session in sessions)
    assert others == [first, first]


def test_a_session_is_a_result_and_a_path_to_its_folder(tmp_path: Path) -> None:
    session = feelcheck.log("alder", script="quick", source="synthetic", seconds=1.0, seed=3, out=tmp_path)
    assert Path(session) == session.folder == tmp_path / "alder_as_found"
    assert session.to_dict()["sessions"][0]["specimen"] == "alder"
    assert list(session.to_frame()["recording"]) == ["complete"]
    assert "alder_as_found" in session._repr_html_()
    assert pickle.loads(pickle.dumps(session)) == session
    read = feelcheck.read(session)
    assert isinstance(read, Recording)
    assert read.provenance.simulated


def test_a_capture_is_read_like_a_log_and_several_blocks_together(tmp_path: Path) -> None:
    k = np.arange(300)
    block = pd.DataFrame({"t (ms)": k / 10, "coil (A)": (k >= 60) * 1.0, "output (V)": np.where(k < 60, 0.0, 1.0)})
    block.to_csv(tmp_path / "elm.csv", index=False)
    capture = feelcheck.read(tmp_path / "elm.csv")
    assert isinstance(capture, Capture)
    assert list(capture.to_frame().columns) == ["t_s", "coil (A)", "output (V)"]
    document = capture.to_dict()
    assert (document["n_samples"], document["channels"]["output"]["unit"]) == (300, "V")
    assert "Capture: elm.csv" in capture._repr_html_()
    assert pickle.loads(pickle.dumps(capture)).to_dict() == document
    pd.concat([block, block]).to_csv(tmp_path / "two.csv", index=False)
    both = feelcheck.read(tmp_path / "two.csv")
    assert isinstance(both, Results)
    assert len(both.to_frame()) == 600
    assert isinstance(feelcheck.read(tmp_path / "elm.csv", axes=["coil", "output"], time="t (ms)"), Recording)


@pytest.mark.parametrize(
    ("call", "got"),
    [
        (lambda: feelcheck.analyze(3), "a int"),  # type: ignore[arg-type]
        (lambda: feelcheck.bench(None), "a NoneType"),  # type: ignore[arg-type]
        (lambda: feelcheck.bench([]), "nothing"),
        (lambda: feelcheck.compare("oak.toml", []), "nothing"),
        (lambda: feelcheck.feel([]), "nothing"),
        (lambda: feelcheck.report([], "page.html"), "nothing"),
        (lambda: feelcheck.survey([], "sticks.csv"), "nothing"),
        (lambda: feelcheck.feel([3]), "a int"),  # type: ignore[list-item]
    ],
)
def test_what_is_no_path_and_no_table_is_told(
    call: Callable[[], object], got: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(FormatError, match=rf"(?s)path.*needed.*got: {got}"):
        call()
    assert not list(tmp_path.iterdir())


def test_a_report_is_a_result_and_a_path_to_its_page(tmp_path: Path) -> None:
    record = Path(__file__).parents[1] / "golden" / "inputs" / "birch.toml"
    page = feelcheck.report(record, tmp_path / "page.html")
    assert Path(page).read_text(encoding="utf-8").startswith("<!doctype html>")
    assert page.to_dict()["schema"] == "feelcheck.report/1"
    assert "trailing_rising" in set(page.to_frame()["quantity"])
    assert page.title in page._repr_html_()
    assert pickle.loads(pickle.dumps(page)).to_dict() == page.to_dict()
