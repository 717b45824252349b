"""Logs of stick axes are not claimed as captures, and captures are."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest

from feelcheck.formats.scope import claims

CORPUS: dict[str, Any] = runpy.run_path(str(Path(__file__).parents[2] / "reference" / "capture_styles.py"))
READ = [item for item in CORPUS["STYLES"] if not item.refused]
HEADS = (
    "time_ms,x,y",
    "t_s,left_x,left_y,right_x,right_y",
    "timestamp_us;axis0;axis1",
    "Time (s),LX,LY,RX,RY",
    "frame,stick_x,stick_y",
    "time_s,roll,pitch",
    "ms,joy_x,joy_y,button_1",
)


@pytest.mark.parametrize("head", HEADS)
def test_axis_logs_are_not_claimed(tmp_path: Path, head: str) -> None:
    separator = ";" if ";" in head else ","
    n = head.count(separator)
    rows = "".join(separator.join([f"{k * 0.5:.1f}", *["1200" if k % 2 else "-300"] * n]) + "\n" for k in range(80))
    path = tmp_path / "elm.csv"
    path.write_text(f"{head}\n{rows}")
    assert claims(path) < 0.2


def test_a_sessions_events_are_not_claimed(tmp_path: Path) -> None:
    path = tmp_path / "events.csv"
    path.write_text(
        "t_lo_ns,t_hi_ns,kind,name,value,end\n" + "".join(f"{k}000,{k}900,axis,left_x,{k % 99},.\n" for k in range(90))
    )
    assert claims(path) < 0.2


@pytest.mark.parametrize("item", READ, ids=[item.name for item in READ])
def test_captures_are_claimed_above_axis_logs(tmp_path: Path, item: Any) -> None:
    path = tmp_path / "elm.csv"
    path.write_bytes(next(iter(item.files.values())))
    assert claims(path) >= 0.2


def test_what_is_no_table_is_not_claimed(tmp_path: Path) -> None:
    path = tmp_path / "elm.txt"
    path.write_text("Nothing but words.\n" * 20)
    assert claims(path) == 0.0
    assert claims(tmp_path) == 0.0
