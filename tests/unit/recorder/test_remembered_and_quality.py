"""What is asked once, and what a recording says of its own quality."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.formats.session_header import SessionHeader, new_session_folder, read_header
from feelcheck.model import AxisScale, Provenance, Recording, Stream, TimeBase
from feelcheck.recorder.quality import bracket_quality, note_quality, quality_words
from feelcheck.recorder.remembered import QUESTIONS, questions_left, remembered_facts


def _session(shelf: Path, *, state: str, started: str, **facts: str) -> Path:
    folder = new_session_folder(shelf, "rowan", state)
    SessionHeader(
        specimen="rowan",
        state=state,
        script="quick",
        source="gamepad",
        device={},
        started=started,
        tool_version="1",
        facts=facts,
    ).write(folder)
    return folder


def test_the_last_session_is_remembered_but_not_its_recalibration_in_another_state(tmp_path: Path) -> None:
    _session(tmp_path, state="as_found", started="2026-03-01T10:00:00+00:00", cap="short", spring="soft")
    _session(
        tmp_path,
        state="as_found",
        started="2026-03-02T10:00:00+00:00",
        cap="tall",
        recalibrated="yes",
        shelf_number="4",
    )
    same = remembered_facts(tmp_path, specimen="rowan", state="as_found")
    assert same == {"cap": "tall", "recalibrated": "yes"}
    assert remembered_facts(tmp_path, specimen="rowan", state="c3_lifted") == {"cap": "tall"}
    assert remembered_facts(tmp_path, specimen="yew", state="as_found") == {}


def test_each_question_is_asked_once_and_recalibration_once_a_state(tmp_path: Path) -> None:
    assert questions_left(tmp_path, specimen="rowan", state="as_found") == QUESTIONS
    _session(tmp_path, state="as_found", started="2026-03-01T10:00:00+00:00", cap="short")
    assert questions_left(tmp_path, specimen="rowan", state="as_found") == {}
    assert list(questions_left(tmp_path, specimen="rowan", state="c3_lifted")) == ["recalibrated"]
    assert questions_left(tmp_path, specimen="yew", state="as_found") == QUESTIONS


def test_a_simulated_session_is_not_remembered_for_a_real_one(tmp_path: Path) -> None:
    _session(tmp_path, state="as_found", started="2026-03-01T10:00:00+00:00", cap="short")
    simulated = _session(tmp_path, state="as_found", started="2026-03-02T10:00:00+00:00", cap="none")
    replace(SessionHeader.read(simulated), device={"simulated": True}).write(simulated)
    assert remembered_facts(tmp_path, specimen="rowan", state="as_found") == {"cap": "short"}


def _recording(width_s: NDArray[np.float64]) -> Recording:
    t_s = np.linspace(1e-3, width_s.size * 1e-3, width_s.size)
    time = TimeBase(t_lo_s=t_s - width_s, t_hi_s=t_s, clock="host")
    codes = np.arange(width_s.size)
    stream = Stream(name="left_x", time=time, codes=codes, scale=AxisScale(), reports="on_change")
    return Recording(streams=(stream,), provenance=Provenance(path="", format="test"))


def test_brackets_are_counted_in_milliseconds(tmp_path: Path) -> None:
    width_s = np.full(1000, 50e-6)
    width_s[:20] = 200e-6
    quality = bracket_quality(_recording(width_s))
    assert quality["n_rows"] == 1000
    assert quality["bracket_p50_ms"] == pytest.approx(0.05)
    assert quality["bracket_p99_ms"] == pytest.approx(0.2)
    assert quality["bracket_max_ms"] == pytest.approx(0.2)
    folder = _session(tmp_path, state="as_found", started="2026-03-02T10:00:00+00:00", cap="tall")
    note_quality(folder, quality)
    assert read_header(folder)["capture"] == quality
    assert read_header(folder)["facts"] == {"cap": "tall"}


@pytest.mark.parametrize(
    ("quality", "words"),
    [
        ({"n_rows": 9, "lost_report_fraction": 0.004}, "9 rows; 0.4 % of the reports were lost."),
        ({"n_rows": 9, "lost_report_fraction": 0.02}, "2 % of the reports were lost: close other programs"),
        ({"n_rows": 9, "lost_report_fraction_at_most": 0.001}, "at most 0.1 % of the reports were lost"),
        ({"n_rows": 9}, "how many reports were lost cannot be told"),
        ({"n_rows": 9, "lost_report_fraction": 0.0}, "no lost report was seen"),
        ({"n_rows": 9, "lost_report_fraction": 0.02, "loop": "low power"}, "lost: record without --low-power, close"),
        ({"n_rows": 9, "loop": "low power"}, "cannot be told; to be surer, record without --low-power"),
        ({"n_rows": 9, "bracket_p99_ms": 12.3}, "known to 12.3 ms, which is coarse: close other programs"),
    ],
)
def test_the_sentence_says_what_was_lost(quality: dict[str, Any], words: str) -> None:
    assert words in quality_words(quality)
