"""The command line as its users meet it: results on stdout, one message and exit 2 on bad input."""

from __future__ import annotations

import json
import math
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from feelcheck.cli import app

ESTIMATE_KEYS = {"value", "low", "high", "u", "unit", "n", "status", "caveats"}
DEMO_LOGS = Path(__file__).resolve().parents[2] / "demo_logs"
PROFILES = DEMO_LOGS.parent / "profiles"


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@cache
def document(*words: object) -> dict[str, Any]:
    """What a command prints as JSON: a command that only reads runs once for all who ask."""
    result = run(*words)
    assert result.exit_code == 0, result.output
    loaded: dict[str, Any] = json.loads(result.stdout)
    return loaded


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("sessions")
    result = run("log", "birch", "--source", "synthetic", "--script", "quick", "--seed", 5, "--out", out)
    assert result.exit_code == 0, result.output
    return Path(result.stdout.strip().splitlines()[-1])


def test_analyze_prints_one_document_with_the_promised_keys(session: Path) -> None:
    found = document("analyze", session, "--json")
    assert found["schema"] == "feelcheck.hand/1"
    assert set(found) >= {"source", "timing", "axes", "release", "flicks", "caveats"}
    axis = found["axes"]["left_x"]
    for name in ("quantization_step", "resolution", "rest_noise", "return_error", "dead_zone", "update_interval"):
        assert set(axis[name]) == ESTIMATE_KEYS, name
    for direction in ("rising", "falling"):
        assert set(axis[direction]) >= {
            "time_constant", "poles", "transition_10_90", "smoothing_delay", "mean_delay", "model"
        }  # fmt: skip
        bracket = axis[direction]["rim_bracket"]
        assert set(bracket) == {"family", "low", "high", "n"}
        assert bracket["low"] < axis[direction]["smoothing_delay"]["value"] < bracket["high"]
        assert axis[direction]["time_constant"]["unit"] == "ms"
    assert axis["rising"]["smoothing_delay"]["value"] == pytest.approx(9.0, rel=0.25)
    assert axis["falling"]["smoothing_delay"]["value"] == pytest.approx(14.0, rel=0.25)
    assert found["timing"]["report_interval"]["value"] == pytest.approx(1.0, rel=0.005)


def test_several_logs_come_under_results(tmp_path: Path) -> None:
    for name, rate in (("alder", 0.05), ("birch", 0.07)):
        rows = "".join(f"{4 * k},{round(30000 * math.sin(rate * k))}\n" for k in range(800))
        (tmp_path / f"{name}.csv").write_text("time_ms,x\n" + rows)
    found = document("analyze", tmp_path / "alder.csv", tmp_path / "birch.csv", "--json")
    assert [one["schema"] for one in found["results"]] == ["feelcheck.hand/1"] * 2
    assert [Path(one["source"]["path"]).name for one in found["results"]] == ["alder.csv", "birch.csv"]


def test_the_text_says_values_intervals_and_that_it_was_simulated(session: Path) -> None:
    text = run("analyze", session).stdout
    assert "one pole" in text
    assert "simulated" in text
    assert "nan" not in text.lower()


@pytest.mark.parametrize("suffix", [".png", pytest.param(".svg", marks=pytest.mark.full)])
def test_a_plot_is_drawn(session: Path, tmp_path: Path, suffix: str) -> None:
    picture = tmp_path / f"birch{suffix}"
    assert run("analyze", session, "--plot", picture).exit_code == 0
    assert picture.stat().st_size > 10_000


def test_an_exported_table_is_analysed_alike(session: Path, tmp_path: Path) -> None:
    wide = tmp_path / "birch.csv"
    assert run("export", session, "--out", wide).exit_code == 0
    exported = document("analyze", wide, "--json")["axes"]["left_x"]["falling"]["smoothing_delay"]
    direct = document("analyze", session, "--json")["axes"]["left_x"]["falling"]["smoothing_delay"]
    assert exported["value"] == pytest.approx(direct["value"], rel=0.1)


def test_bench_prints_one_document_with_the_promised_keys() -> None:
    found = document("bench", DEMO_LOGS / "birch_field_step.csv", "--json")
    assert found["schema"] == "feelcheck.bench/1"
    assert set(found) >= {
        "source", "drive", "rising", "falling", "asymmetry", "update_interval", "noise", "swing", "caveats"
    }  # fmt: skip
    assert set(found["drive"]) >= {"transition_10_90", "swing"}
    assert set(found["rising"]) >= {
        "time_constant", "poles", "transition_10_90", "step_transition_10_90", "dead_time", "smoothing_delay",
        "mean_delay", "settled_fraction", "saturated", "n_edges", "model",
    }  # fmt: skip
    assert found["rising"]["time_constant"]["value"] == pytest.approx(9.0, rel=0.02)


def test_a_record_from_nothing_to_a_comparison(session: Path, tmp_path: Path) -> None:
    folder = tmp_path / "profiles"
    made = [run("profile", "new", name, "--folder", folder) for name in ("alder", "birch")]
    assert [result.exit_code for result in made] == [0, 0]
    record = folder / "birch.toml"
    assert run("profile", "add", record, session, "--mounting", 1).exit_code == 0
    again = run("profile", "add", record, session)
    assert again.exit_code == 2
    assert "counts once" in again.output
    part = run("profile", "part", record, "c3", "2.2u", "--role", "pin_capacitor", "--axis", "left_x")
    assert part.exit_code == 0
    shown = run("profile", "show", record).stdout
    assert "2.2 uF" in shown
    lonely = run("compare", folder / "alder.toml", record)
    assert lonely.exit_code == 2
    assert "hand sessions on both sides" in lonely.output


def test_shipped_records_compare_as_their_truth() -> None:
    found = document("compare", PROFILES / "alder.toml", PROFILES / "birch.toml", "--json")
    assert found["schema"] == "feelcheck.compare/1"
    delays = {
        row["direction"]: row
        for row in found["metrics"]
        if row["name"] == "smoothing_delay" and row["axis"] == "left_x"
    }
    for direction, truth_ms in (("rising", 6.0), ("falling", 11.0)):
        assert delays[direction]["verdict"] == "different"
        assert delays[direction]["difference"]["low"] - 0.8 < truth_ms < delays[direction]["difference"]["high"] + 0.8


def test_meaning_in_use_of_a_shipped_record() -> None:
    found = document("feel", PROFILES / "birch.toml", "--turn-rate-deg-s", 200, "--json")
    axis = next(axis for axis in found["axes"] if axis["axis"] == "left_x")
    assert axis["estimates"]["drift_per_pair"]["value"] == pytest.approx(2.0, abs=0.8)


def test_a_change_of_one_axis_is_set_beside_the_same_axis_and_cautions_are_said_once() -> None:
    references = (PROFILES / "birch.toml", f"{PROFILES / 'birch.toml'}@c3=100n")
    changed = document("feel", *references, "--json")["results"][1]
    assert changed["difference_at"].startswith("left_x, ")
    assert changed["difference"]["high"] < 0
    text = run("feel", *references).stdout
    assert text.count("\nCautions\n") == 1
    assert text.count("stop at once on pain") == 1


def test_a_recorded_session_reaches_trailing_and_speed_steps_through_its_record(session: Path, tmp_path: Path) -> None:
    assert run("profile", "new", "birch", "--folder", tmp_path).exit_code == 0
    record = tmp_path / "birch.toml"
    assert run("profile", "add", record, session).exit_code == 0
    found = document("feel", record, "--json")["axes"][0]["estimates"]
    analysed = document("analyze", session, "--json")["axes"]["left_x"]
    for direction in ("rising", "falling"):
        product = analysed[direction]["smoothing_delay"]["value"] / 1e3 * analysed["peak_speed"]["value"]
        assert found[f"trailing_{direction}"]["value"] == pytest.approx(product, rel=1e-4)
        assert found[f"trailing_{direction}"]["low"] < product < found[f"trailing_{direction}"]["high"]
    step = analysed["quantization_step_of_throw"]["value"]
    assert found["steady_speed_step_below"]["value"] == pytest.approx(step / 0.07, rel=1e-4)
    assert found["speed_ripple_below"]["value"] == pytest.approx(step / 0.30, rel=1e-4)
    text = run("feel", record, "--full").stdout
    for words in ("trails the thumb by, in a flick", "over 7 % below a deflection", "share of the picture's width"):
        assert words in text


def test_a_capture_and_a_change_of_parts_are_felt_in_the_recorded_pad(session: Path, tmp_path: Path) -> None:
    assert run("profile", "new", "birch", "--folder", tmp_path).exit_code == 0
    record = tmp_path / "birch.toml"
    assert run("profile", "add", record, session).exit_code == 0
    capture = DEMO_LOGS / "alder_field_step.csv"
    result = run("feel", record, capture, "--plot", tmp_path / "feel.svg")
    assert result.exit_code == 0, result.output
    assert "response as measured on the bench" in result.stdout
    assert "those of the hand sessions of birch" in " ".join(result.stdout.split())
    assert (tmp_path / "feel.svg").stat().st_size > 5_000
    changed = f"{PROFILES / 'birch.toml'}@c3=100n"
    found = document("feel", record, changed, "--json")["results"][1]
    assert found["axes"][0]["origin"] == "parts"
    assert found["axes"][0]["estimates"]["trailing_rising"]["value"] < 0.02
    assert found["difference"]["high"] < 0


@pytest.mark.parametrize(("option", "value"), [("--field-of-view-deg", 60), ("--screen-deg", 8), ("--flick-ms", 50)])
def test_every_setting_of_the_game_changes_what_it_is_for(option: str, value: float) -> None:
    # A flick's duration is asked for only where nobody's own flicks were recorded.
    recorded = () if option == "--flick-ms" else (PROFILES / "elm.toml",)
    words = ("feel", *recorded, DEMO_LOGS / "birch_field_step.csv", "--json")
    usual, other = (found.get("results", [found]) for found in (document(*words), document(*words, option, value)))
    assert [one["axes"] for one in usual] != [one["axes"] for one in other]


def test_a_change_of_parts_is_predicted_before_soldering() -> None:
    found = document("compare", PROFILES / "birch.toml", f"{PROFILES / 'birch.toml'}@c3=100n", "--json")
    delays = {row["direction"]: row for row in found["metrics"]}
    assert delays["rising"]["candidate"]["value"] == pytest.approx(0.0048 * 100 * 0.775, rel=0.05)
    assert {row["verdict"] for row in found["metrics"]} == {"undecided"}
    assert found["caveats"][0]["code"] == "predicted"


def test_parts_at_one_place_count_together_until_one_is_lifted() -> None:
    # Cedar: 4.7 kohm into 1 uF and 47 nF side by side; X5R keeps 0.55 to 1 of its value here, in the middle 0.775.
    cedar = PROFILES / "cedar.toml"
    found = document("feel", cedar, f"{cedar}@c3=lifted", "--json")["results"]
    carried = [one["axes"][0]["estimates"]["carry_on_after_release"]["value"] / 200 for one in found]
    assert found[0]["axes"][0]["origin"] == "parts"
    assert carried[0] == pytest.approx(4.7e3 * 1.047e-6 * 0.775, rel=0.1)
    assert carried[0] / carried[1] == pytest.approx(1.047 / 0.047, rel=0.02)


def test_the_chain_of_shipped_records_holds() -> None:
    found = document("compare", PROFILES / "alder.toml", PROFILES / "birch.toml", "--json")
    links = [(link["specimen"], link["link"]) for link in found["chain"]]
    assert {("alder", "parts-bench"), ("alder", "bench-hand"), ("birch", "parts-bench")} <= set(links)
    assert "disagree" not in {link["verdict"] for link in found["chain"]}


def test_a_capture_stands_in_for_a_record_in_use() -> None:
    found = document("feel", DEMO_LOGS / "birch_field_step.csv", "--json")
    axis = found["axes"][0]
    assert axis["origin"] == "bench"
    assert axis["estimates"]["drift_per_pair"]["value"] == pytest.approx(2.0, abs=0.1)


def test_parts_print_one_document_with_the_promised_keys() -> None:
    found = document("parts", "--resistor", "4.7k", "--capacitor", "1u", "--json")
    assert found["schema"] == "feelcheck.parts/1"
    assert found["time_constant"]["value"] == pytest.approx(4.7, rel=1e-4)
    assert found["transition_10_90"]["value"] == pytest.approx(10.327, rel=1e-3)
    assert found["corner_frequency"]["unit"] == "Hz"


def test_a_part_is_inferred_from_a_capture() -> None:
    found = document("parts", "--resistor", "3.3k", "--from-bench", DEMO_LOGS / "alder_field_step.csv", "--json")
    assert found["inferred"]["capacitance"]["value"] == pytest.approx(0.906e-6, rel=0.02)
    assert any(mark["value"] == pytest.approx(1e-6) for mark in found["inferred"]["preferred"])


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("parts", "--resistor", "many"), "4.7k or 560n"),
        (("parts",), "needs parts"),
        (("compare", str(PROFILES / "alder.toml"), f"{PROFILES / 'birch.toml'}@r9=lifted"), "allowed: c3"),
        (("analyze", "no_such_log.csv"), "no such file"),
        (("bench", "no_such_capture.csv"), "no_such_capture"),
        (("compare", "no_such.toml", "neither.toml"), "no such record"),
        (("feel", "no_such.toml"), "no such record"),
        (("profile", "show", "no_such.toml"), "no such record"),
        (("repeatability", "no_such_folder"), "no_such_folder"),
        (("log", "alder", "--source", "carrier_pigeon"), "carrier_pigeon"),
        (("log", "alder", "--source", "synthetic", "--simulate", "oak"), "oak"),
        (("guide", "knitting"), "no guide"),
        (("export", "no_such_session", "--out", "x.csv"), "no such file"),
    ],
)
def test_bad_input_ends_with_one_message_and_exit_2(words: tuple[str, ...], message: str, tmp_path: Path) -> None:
    out = ("--out", str(tmp_path)) if words[0] == "log" else ()
    result = run(*words, *out)
    assert result.exit_code == 2
    assert message in result.output
    assert "Traceback" not in result.output


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00\x01\x02\xff" * 50,
        b"once upon a time\nthere was a stick\n",
        b"a,b\n1,x\n2,y\n",
        b"time_s,x\n0,5\n1,5\n2,5\n",
    ],
    ids=["empty", "binary", "prose", "no_axis", "constant"],
)
def test_files_that_are_no_log_are_refused_in_words(content: bytes, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_bytes(content)
    result = run("analyze", file)
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert len(result.output.strip().splitlines()) <= 12


def test_a_wrong_option_of_bench_is_refused_before_anything_is_measured(tmp_path: Path) -> None:
    capture = DEMO_LOGS / "birch_field_step.csv"
    for words, message in (
        (("--plot", tmp_path / "birch.pdf"), "PNG or SVG"),
        (("--plot", tmp_path / "nowhere" / "birch.png"), "existing folder"),
        (("--interval", "4q"), "4us"),
        (("--time-unit", "furlong"), "allowed: s, ms"),
        (("--time", "when"), "columns: Time"),
        (("--drive", "coil", "--output", "coil"), "two columns"),
        (("--scope", "suply=1.8V"), "allowed: averaging"),
        (("--scope", "supply"), "a value"),
    ):
        result = run("bench", capture, *words)
        assert result.exit_code == 2
        assert message in result.output
        assert "10 to 90 %" not in result.output


def test_the_users_word_on_columns_and_time_is_taken() -> None:
    words = ("--drive", "#1", "--output", "sensor", "--interval", "80us", "--scope", "averaging=16", "--json")
    found = document("bench", DEMO_LOGS / "birch_field_step.csv", *words)
    assert [found["source"]["drive"], found["source"]["output"]] == ["Coil", "Sensor"]
    assert found["source"]["sample_interval_s"] == pytest.approx(80e-6)
    assert found["source"]["settings"]["averaging"] == "16"
    assert "averaged" in {caveat["code"] for caveat in found["caveats"]}
    assert any("4e-05 s apart, although 8e-05 s is stated" in remark for remark in found["source"]["remarks"])


READINGS = """time_unit = "ms"
time_error = 0.1
scope = { averaging = "16" }

[[edge]]
direction = "rising"
drive = 0.0
t10 = 0.5
t50 = 3.25
t90 = 10.8
"""


def test_cursor_readings_are_measured_like_a_capture(tmp_path: Path) -> None:
    typed = tmp_path / "cedar.toml"
    typed.write_text(READINGS)
    found = document("bench", typed, "--json")
    assert found["source"]["format"] == "readings"
    assert found["source"]["settings"] == {"averaging": "16"}
    assert found["rising"]["transition_10_90"]["value"] == pytest.approx(10.3)
    # One pole from 10 to 90 % in 10.3 ms: 10.3 / ln 9.
    assert found["rising"]["time_constant"]["value"] == pytest.approx(10.3 / 2.1972, rel=0.01)
    assert found["falling"] is None
    assert "typed in" in run("bench", typed).output
    inferred = document("parts", "--resistor", "4.7k", "--from-bench", typed, "--json")["inferred"]
    assert inferred["capacitance"]["value"] == pytest.approx(1e-6, rel=0.02)
    mixed = run("bench", typed, DEMO_LOGS / "birch_field_step.csv")
    assert mixed.exit_code == 2
    assert "do not make one result" in mixed.output


def test_a_capture_of_the_drive_alone_is_refused(tmp_path: Path) -> None:
    capture = tmp_path / "alder.csv"
    capture.write_text("Time (s),Coil (A)\n" + "".join(f"{k * 1e-4:.4f},{-1 if k < 50 else 1}\n" for k in range(200)))
    refused = run("bench", capture)
    assert refused.exit_code == 2
    assert "only a drive" in refused.output


def test_without_a_pad_devices_says_what_to_check() -> None:
    found = document("devices", "--watch", 0, "--json")
    assert found["schema"] == "feelcheck.devices/1"
    text = run("devices", "--watch", 0).stdout
    assert ("No pad was found." in text) == (not found["devices"])


def test_every_help_has_an_example_and_names_what_comes_next() -> None:
    assert "Example: feelcheck" in run("--help").output
    for command in app.registered_commands:
        assert command.callback is not None
        text = run(command.name or command.callback.__name__, "--help").output
        assert "Example: feelcheck" in text, command.callback.__name__
        assert "Next: " in text, command.callback.__name__


def test_a_page_of_one_specimen_has_its_chain_and_what_a_change_would_mean(tmp_path: Path) -> None:
    page = tmp_path / "alder.html"
    result = run("report", PROFILES / "alder.toml", f"{PROFILES / 'birch.toml'}@c3=100n", "--out", page)
    assert result.exit_code == 0, result.output
    text = page.read_text(encoding="utf-8")
    assert "Smoothing delay of alder along the chain" in text
    assert "birch@c3=100n" in text
    assert re.search(r"<strong>In use\.</strong> .*left_x at 200 deg/s: after letting go", text)
    assert "Cross-axis response and direction error" in text


def test_the_demo_tells_what_differs_and_writes_the_page(tmp_path: Path) -> None:
    result = run("demo", "--out", tmp_path)
    assert result.exit_code == 0, result.output
    told = " ".join(result.stdout.split())
    assert re.search(r"birch - Response.* - Difference\. Against alder, smoothing delay .* different, higher by", told)
    assert "c3 was lifted then, and the bench says 0.248" in told
    assert "left_x: in a flick the output trails the thumb by" in told
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "<svg" in page
    compared = (tmp_path / "comparison.csv").read_text(encoding="utf-8")
    assert re.search(r"^birch,smoothing delay,left_x,falling,.*,1 ms,different,see \d", compared, re.MULTILINE)
    assert len(page) < 5_000_000
