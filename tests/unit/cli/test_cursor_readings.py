"""Cursor readings on the command line, at prompts and in files; a drive that was not captured."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from feelcheck.cli import app
from feelcheck.phases import told_to

LINE = "rise 10-90 = 9.1 ms, error = 0.1 ms, drive rise = 2 ms"


def bench(*words: str, typed: str | None = None) -> Any:
    return CliRunner().invoke(app, ["bench", *words], input=typed)


def tau_ms(result: Any) -> float:
    assert result.exit_code == 0, result.output
    document = result.stdout[result.stdout.index("{") :]  # the runner echoes what is typed
    return float(json.loads(document)["rising"]["time_constant"]["value"])


def test_the_same_readings_as_option_prompts_and_file_give_the_same_number(tmp_path: Path) -> None:
    option = tau_ms(bench("--reading", LINE, "--json"))
    prompts = tau_ms(bench("--ask", "--json", typed="rising\n\n\n\n9.1 ms\n\n0.1 ms\nn\n2 ms\n"))
    (tmp_path / "lines.txt").write_text(LINE.replace(", ", "\n"))
    lines = tau_ms(bench(str(tmp_path / "lines.txt"), "--json"))
    (tmp_path / "table.csv").write_text("direction,t10_ms,t90_ms,error_ms\nrising,0.5,9.6,0.1\n")
    table = tau_ms(bench(str(tmp_path / "table.csv"), "--drive-rise", "2ms", "--json"))
    # One pole behind a 2 ms drive that takes 9.1 ms: between 3.97 (exponential) and 4.03 ms (ramp), by hand.
    assert option == pytest.approx(4.0, abs=0.05)
    assert (prompts, lines, table) == pytest.approx((option, option, option))


def test_prompts_are_not_interrupted_by_what_runs() -> None:
    said: list[str] = []
    with told_to(said.append):
        bench("--ask", "--json", typed="rising\n\n\n\n9.1 ms\n\n0.1 ms\nn\n2 ms\n")
    assert said[0] == ""


def test_prompts_ask_again_and_take_several_edges() -> None:
    without_error = "rising\n1 ms\nsoon\n3.9 ms\n11 ms\n\n\n"
    rising = "rising\n0.5 ms\n3.26 ms\n10.8 ms\n\n0.1 ms\n"
    falling = "falling\n1 ms\n\n14 ms\n\n0.1 ms\n"
    found = bench("--ask", typed=f"{without_error}{rising}y\n{falling}n\n\n")
    assert found.exit_code == 0, found.output
    assert "A time needs its unit" in found.output
    assert "Readings need their reading error" in found.output
    # ln 9 between 10 and 90 % of one pole: 10.3 / 2.1972 and 13 / 2.1972
    assert "4.68" in found.stdout
    assert "5.91" in found.stdout


def test_a_wrong_answer_is_asked_for_again_at_once_and_an_edge_more_may_be_left_out() -> None:
    """No edge of that name, a number without unit, a negative error; 0 is an instant; a second edge with no answers."""
    wrong = "sideways\n\n0 ms\n2.9\n2.9 ms\n10.8 ms\n-1 ms\n-0.1 ms\n0.1 ms\n"
    found = bench("--ask", typed=f"{wrong}y\n" + 7 * "\n" + "\n")
    assert found.exit_code == 0, found.output
    for told in ("An edge is rising or falling", "A time needs its unit", "This time is never negative"):
        assert found.output.count(told) == 1
    assert "Once more" not in found.output
    # the line through 0, 2.9, 10.8 over -ln 0.9, -ln 0.5, -ln 0.1, by hand
    assert "4.91" in found.stdout


def test_prompts_without_answers_are_refused_with_the_other_way() -> None:
    found = bench("--ask", typed="rising\n")
    assert (found.exit_code, "give --reading instead" in found.stderr) == (2, True)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "There is nothing to measure"),
        (("--reading", LINE, "capture.csv"), "Either readings are typed or files are measured"),
        (("--reading", "rise 10-90 = 9.1 ms"), "how far a cursor can be off"),
        (("--count", "2", "capture.csv"), "belongs to --watch"),
        (("--watch", "nowhere"), "Only a folder can be watched"),
        (("--watch", ".", "capture.csv"), "Either files are measured or a folder is watched"),
        (("--watch", ".", "--against", "nowhere.csv"), "There is no such file"),
        (("--reading", LINE, "--drive-rise", "2"), "needs a unit of time"),
    ],
)
def test_what_does_not_go_together_is_refused(
    words: tuple[str, ...], message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "capture.csv").write_text("t_s,out_V\n0,0\n1,0\n2,1\n")
    found = bench(*words)
    assert (found.exit_code, message in " ".join(found.stderr.split())) == (2, True), found.output


def test_a_told_drive_takes_its_share_off_a_capture_without_one_and_is_refused_beside_one(tmp_path: Path) -> None:
    t_ms = 0.05 * np.arange(1200)
    on, off = np.clip(t_ms - 10, 0, None), np.clip(t_ms - 12.5, 0, None)
    level = (on - 3.0 * -np.expm1(-on / 3.0) - off + 3.0 * -np.expm1(-off / 3.0)) / 2.5
    volts = 0.2 + 1.4 * level + 0.002 * np.random.default_rng(3).standard_normal(t_ms.size)
    coil = np.clip((t_ms - 10) / 2.5, 0, 1)
    for name, head, columns in (("alone", "Time (ms),Out (V)", (t_ms, volts)),
                                ("both", "Time (ms),Coil (A),Out (V)", (t_ms, coil, volts))):  # fmt: skip
        rows = "\n".join(",".join(f"{value:.4f}" for value in row) for row in zip(*columns, strict=True))
        (tmp_path / f"{name}.csv").write_text(f"{head}\n{rows}\n")
    assert tau_ms(bench(str(tmp_path / "alone.csv"), "--drive-rise", "2ms", "--json")) == pytest.approx(3.0, rel=0.05)
    refused = bench(str(tmp_path / "both.csv"), "--drive-rise", "2ms")
    assert (refused.exit_code, "The drive was captured" in refused.stderr) == (2, True)


def test_the_file_form_stands_in_the_help_and_in_the_guide() -> None:
    for words in (["bench", "--help"], ["guide", "bench"]):
        told = " ".join(CliRunner().invoke(app, words).output.split())
        assert "direction,t10_ms,t50_ms,t90_ms,error_ms" in told
        assert "rise 10-90 = 9.1 ms" in told
