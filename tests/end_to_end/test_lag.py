"""Marker and tied sticks through the command line: recorded, analysed, drawn."""

from __future__ import annotations

import json
from itertools import count
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from feelcheck.cli import app
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_log import EVENTS_FILE, EventLog
from feelcheck.recorder.script_files import load_script
from feelcheck.sources.gamepad import poll, virtual


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def recorded(out: Path, *words: object) -> Path:
    result = run("log", "alder", *words, "--out", out)
    assert result.exit_code == 0, result.output
    return Path(result.stdout.strip().splitlines()[-1])


def analysed(*words: object) -> dict[str, Any]:
    result = run("analyze", *words, "--json")
    assert result.exit_code == 0, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_a_marker_session_tells_the_whole_delay(tmp_path: Path) -> None:
    session = recorded(tmp_path, "--script", "marker", "--source", "synthetic", "--seconds", 20, "--seed", 3)
    picture = tmp_path / "lag.png"
    text = run("analyze", session, "--plot", picture)
    assert "Delay behind the button rim" in text.stdout
    assert picture.stat().st_size > 10_000


def test_a_coupled_session_tells_the_difference(tmp_path: Path) -> None:
    short = ("--script", "coupled", "--source", "synthetic", "--seconds", 22)
    coupled = analysed(recorded(tmp_path, *short, "--seed", 4))["lag"]["coupled"]
    assert (coupled["first"], coupled["second"]) == ("left", "right")
    delay = coupled["axes"]["x"]["delay"]
    assert delay["value"] == pytest.approx(-2.02, abs=0.2)
    assert delay["low"] < -2.02 < delay["high"]


@pytest.mark.full
def test_two_coupled_sessions_tell_sensors_from_ports(tmp_path: Path) -> None:
    short = ("--script", "coupled", "--source", "synthetic", "--seconds", 30)
    plain = recorded(tmp_path, *short, "--seed", 4)
    again = recorded(tmp_path, *short, "--seed", 5, "--state", "ports_swapped")
    found = analysed(plain, again)
    coupled = found["results"][0]["lag"]["coupled"]
    assert (coupled["first"], coupled["second"]) == ("left", "right")
    # the reference has 1 ms, the specimen 3 ms; the right stick is read 20 us later
    assert coupled["axes"]["x"]["delay"]["value"] == pytest.approx(-2.02, abs=0.2)
    both = found["lag"]["coupled_swapped"]
    # the simulated sensors stay where they were, so all of the delay counts as the ports'
    assert both["port_delay"]["value"] == pytest.approx(-2.02, abs=0.2)
    assert both["delay"]["value"] == pytest.approx(0.0, abs=0.2)


def steady_clock(step_ns: int) -> SimpleNamespace:
    """Return a stand-in for the time module whose clock goes on by one step at every look."""
    return SimpleNamespace(perf_counter_ns=count(1_000_000_000, step_ns).__next__)


def test_a_virtual_pad_presses_its_button_at_the_rim(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = steady_clock(30_000)
    monkeypatch.setattr(poll, "time", clock)
    monkeypatch.setattr(virtual, "time", clock)
    monkeypatch.setattr(virtual, "quieten", lambda low_power: None)
    source = virtual.VirtualSource("alder", load_script("marker"), 6, 24.0)
    log = EventLog(tmp_path / EVENTS_FILE)
    source.open()
    try:
        header = SessionHeader(
            specimen="alder",
            state="as_found",
            script="marker",
            source="virtual",
            device=source.describe(),
            started="2026-11-20T10:00:00+00:00",
            tool_version="test",
            recording="complete",
        )
        for rows in source.events():
            if rows:
                log.add(rows)
    finally:
        source.close()
        log.flush()
        log.close()
    header.write(tmp_path)
    marker = analysed(tmp_path)["lag"]["marker"]
    assert marker["button"] == "rim"
    # 3 ms pole, 0.23 ms conversion, less 0.4 ms of the button
    assert marker["delay"]["value"] == pytest.approx(2.83, abs=0.3)
    assert marker["delay"]["low"] < 2.83 < marker["delay"]["high"]
