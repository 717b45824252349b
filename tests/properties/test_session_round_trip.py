"""Whatever a source says goes into a session folder and comes out again, in order, exact to the nanosecond."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.export import to_wide, write_wide
from feelcheck.formats.session import READER
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_log import EVENTS_FILE, EventLog, word
from feelcheck.model import Action, Cue, Recording, SourceEvent

AXES: list[dict[str, Any]] = [
    {"name": name, "index": k, "stick": "left"} for k, name in enumerate(("left_x", "left_y"))
]
START_NS = 5_000
ODD = st.text('ab ,"\n\r;', max_size=6)
HEADER = SessionHeader(
    specimen="elm", state="c3_lifted", script="quick", source="virtual", operator="Mo", tool_version="0", started="",
    device={"device": "pad", "axes": AXES, "clock": {"kind": "host", "name": "perf_counter_ns", "start_ns": START_NS}},
    recording="complete",
)  # fmt: skip


@st.composite
def events(draw: Any) -> list[SourceEvent]:
    """Rows as a polled source makes them: both ends of the brackets never step back."""
    t_ns, rows = START_NS, []
    for _ in range(draw(st.integers(2, 60))):
        lo = t_ns + draw(st.integers(0, 10**9))
        t_ns = lo + draw(st.integers(0, 10**7))
        kind = draw(st.sampled_from(["axis", "axis", "axis", "button", "cue", "note"]))
        cue = Cue(t_s=0.0, action=Action.FLICK, stick="left", direction_deg=float(draw(st.integers(0, 359))))
        name = {
            "axis": draw(st.sampled_from(["left_x", "left_y"])),
            "button": "a",
            "cue": cue.text,
            "note": "n" + draw(ODD),
        }
        value = {"axis": draw(st.integers(-(2**31), 2**31)), "button": draw(st.integers(0, 1))}.get(kind, 0)
        rows.append((lo, t_ns, kind, name[kind], value))
    return [*rows, (t_ns, t_ns, "axis", "left_x", 1), (t_ns, t_ns, "axis", "left_y", 1)]


def session_of(rows: list[SourceEvent], folder: Path, header: SessionHeader = HEADER) -> Recording:
    header.write(folder)
    log = EventLog(folder / EVENTS_FILE)
    for row in rows:
        log.add([row])
        if row[4] % 3 == 0:
            log.flush()
    log.flush()
    log.close()
    return READER.read(folder)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=events())
def test_rows_come_back_as_they_went_in(rows: list[SourceEvent], tmp_path_factory: pytest.TempPathFactory) -> None:
    found = session_of(rows, tmp_path_factory.mktemp("session"))
    for name in ("left_x", "left_y"):
        own = [row for row in rows if row[2] == "axis" and row[3] == name]
        stream = found.stream(name)
        assert stream.codes.tolist() == [row[4] for row in own]
        assert np.rint(1e9 * stream.time.t_lo_s).tolist() == [row[0] - START_NS for row in own]
        assert np.rint(1e9 * stream.time.t_hi_s).tolist() == [row[1] - START_NS for row in own]
    assert [event.value for event in found.buttons] == [row[4] for row in rows if row[2] == "button"]
    assert [cue.text for cue in found.cues] == [row[3] for row in rows if row[2] == "cue"]
    assert (found.provenance.specimen, found.provenance.state, found.provenance.complete) == ("elm", "c3_lifted", True)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=events())
def test_a_wide_table_holds_the_last_code_of_every_axis_at_every_instant(
    rows: list[SourceEvent], tmp_path_factory: pytest.TempPathFactory
) -> None:
    table = to_wide(session_of(rows, tmp_path_factory.mktemp("session")))
    assert np.all(np.diff(table["t_s"]) >= 0)
    for name in ("left_x", "left_y"):
        last = {row[1] - START_NS: row[4] for row in rows if row[2] == "axis" and row[3] == name}
        instants = [round(1e9 * t_s) for t_s in table["t_s"]]
        assert {ns: dict(zip(instants, table[name], strict=True)).get(ns) for ns in last} == last


def test_an_exported_session_reads_back_with_the_same_codes(tmp_path: Path) -> None:
    rows: list[SourceEvent] = [
        (START_NS + k * 4_000_000, START_NS + k * 4_000_000, "axis", name, int(90 * np.sin(k / 7 + shift)))
        for k in range(200)
        for shift, name in enumerate(("left_x", "left_y"))
    ]
    direct = session_of(rows, tmp_path)
    write_wide(direct, tmp_path / "wide.csv")
    found = DelimitedReader().read(tmp_path / "wide.csv")
    for name in ("left_x", "left_y"):
        np.testing.assert_array_equal(found.stream(name).codes, direct.stream(name).codes)
        np.testing.assert_allclose(np.diff(found.stream(name).time.t_s), 0.004, atol=1e-8)


@given(name=st.text(max_size=40))
def test_a_name_in_a_cell_breaks_no_row(name: str) -> None:
    cell = word(name)
    assert not set(cell) & set('",\r\n')
    assert word(cell) == cell


@pytest.mark.parametrize("state", ["recording", "interrupted", "closed", "complete"])
def test_how_far_a_session_came_is_kept(state: Any, tmp_path: Path) -> None:
    rows: list[SourceEvent] = [(START_NS + k, START_NS + k, "axis", "left_x", k) for k in range(3)]
    found = session_of(rows, tmp_path, replace(HEADER, recording=state))
    assert found.provenance.complete is (state == "complete")
    assert SessionHeader.read(tmp_path).recording == state
