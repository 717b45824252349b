"""A session of many hours keeps what moves and what happened, row by row, and says what it left out."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats import _condensed_events, _windows, session
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_log import EVENTS_HEADER
from feelcheck.model import Recording

N_S = 60
FLICKS_S = (10, 30, 50)


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a session of a few megabytes be large."""
    monkeypatch.setattr(session, "LARGE_BYTES", 100_000)
    monkeypatch.setattr(_condensed_events, "_BLOCK_BYTES", 2**16)
    monkeypatch.setattr(_windows, "FIRST_WINDOWS", 16)
    monkeypatch.setattr(_windows, "AROUND_WINDOWS", 8)


def _session(folder: Path, *, noisy: bool, extra: dict[int, str] | None = None) -> dict[int, int]:
    """A stick flicked to the rim and back each 20 s, speaking on change at 1 kHz; return x by millisecond."""
    folder.mkdir()
    k = np.arange(1000 * N_S)
    x = np.zeros(k.size)
    for at in FLICKS_S:
        x += 20_000 * np.clip((k - 1000 * at) / 30, 0, 1) * np.clip((1000 * at + 330 - k) / 30, 0, 1)
    noise = np.random.default_rng(1).integers(-2, 3, k.size) if noisy else 0
    codes = np.round(x + noise).astype(int)
    spoken = np.flatnonzero(np.diff(codes, prepend=codes[0] - 1))
    lines = [(int(a), f"{10**6 * a},{10**6 * a + 9000},axis,left_x,{codes[a]},.\n") for a in spoken]
    lines += [(int(a), f"{10**6 * a},{10**6 * a + 9000},axis,left_y,{codes[a] // 2},.\n") for a in spoken]
    lines += list((extra or {}).items())
    lines.sort(key=lambda line: line[0])
    (folder / "events.csv").write_text(EVENTS_HEADER + "".join(text for _, text in lines))
    axes = [{"name": name, "stick": "left"} for name in ("left_x", "left_y")]
    header = SessionHeader(
        specimen="alder", state="as_found", script="free", source="gamepad", device={"axes": axes},
        started="2026-11-30T10:00:00+00:00", tool_version="1", recording="complete",
    )  # fmt: skip
    header.write(folder)
    return {int(a): int(codes[a]) for a in spoken}


def _kept_ms(recording: Recording) -> np.ndarray:
    kept: np.ndarray = np.floor(1e3 * recording.stream("left_x").time.t_hi_s).astype(int)
    return kept


def test_motion_is_kept_whole_and_rest_becomes_gaps(tmp_path: Path, small: None) -> None:
    said = _session(tmp_path / "S", noisy=True)
    recording = session.READER.read(tmp_path / "S")
    kept = _kept_ms(recording)
    assert kept.size < 0.2 * len(said)
    around = {k for k in said for at in FLICKS_S if 1000 * at - 300 <= k < 1000 * at + 700}
    assert around <= set(kept.tolist())
    assert recording.stream("left_x").codes.tolist() == [said[k] for k in kept.tolist()]
    left_out = [gap for gap in recording.gaps if gap.reason == "left out while at rest"]
    assert len(left_out) == 4
    assert sum(gap.end_s - gap.start_s for gap in left_out) > 0.8 * N_S
    data = (tmp_path / "S" / "events.csv").read_bytes()
    assert recording.provenance.sha256 == hashlib.sha256(data).hexdigest()
    assert any("a large session of about" in remark for remark in recording.provenance.remarks)


def test_what_happened_at_rest_stays(tmp_path: Path, small: None) -> None:
    at = 10**6 * 20_000
    extra = {20_000: f"{at},{at + 9000},button,south,1,.\n", 21_000: f"{at},{at + 10**9},gap,the host slept,0,.\n"}
    _session(tmp_path / "S", noisy=True, extra=extra)
    recording = session.READER.read(tmp_path / "S")
    assert [button.name for button in recording.buttons] == ["south"]
    assert "the host slept" in {gap.reason for gap in recording.gaps}


def test_where_rest_is_silent_no_motion_is_taken_for_rest(tmp_path: Path, small: None) -> None:
    said = _session(tmp_path / "S", noisy=False)
    assert _kept_ms(session.READER.read(tmp_path / "S")).tolist() == sorted(said)


def test_torn_rows_are_dropped_and_places_stay_right(tmp_path: Path, small: None) -> None:
    said = _session(tmp_path / "S", noisy=True, extra={25_000: "500000,5000", 25_001: "\n", 45_000: "\0\0\0,\n"})
    recording = session.READER.read(tmp_path / "S")
    kept = _kept_ms(recording)
    around = {k for k in said for at in FLICKS_S if 1000 * at - 300 <= k < 1000 * at + 700}
    assert around <= set(kept.tolist())
    assert all(said[k] == code for k, code in zip(kept.tolist(), recording.stream("left_x").codes, strict=True))


def test_of_too_much_motion_whole_pieces_are_kept(tmp_path: Path, small: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_condensed_events, "MOST_ROWS", 4_000)
    monkeypatch.setattr(_windows, "PIECE_WINDOWS", 32)
    _session(tmp_path / "S", noisy=True)
    recording = session.READER.read(tmp_path / "S")
    assert 500 < _kept_ms(recording).size <= 2_000
    assert any("of the motion was left out too" in remark for remark in recording.provenance.remarks)


def test_a_torn_last_row_leaves_the_hash_that_of_the_file(tmp_path: Path, small: None) -> None:
    _session(tmp_path / "S", noisy=True)
    events = tmp_path / "S" / "events.csv"
    events.write_bytes(events.read_bytes()[:-7])
    recording = session.READER.read(tmp_path / "S")
    assert recording.provenance.sha256 == hashlib.sha256(events.read_bytes()).hexdigest()


def test_a_large_file_without_a_whole_row_is_refused_in_words(tmp_path: Path, small: None) -> None:
    _session(tmp_path / "S", noisy=False)
    (tmp_path / "S" / "events.csv").write_bytes(EVENTS_HEADER.encode() + b"\0" * 200_000)
    with pytest.raises(FormatError, match="too short"):
        session.READER.read(tmp_path / "S")


def test_what_is_silent_holds_its_last_value() -> None:
    found = _condensed_events._Found(head=EVENTS_HEADER.encode(), n_bytes=0)
    first = found._range("x", np.array([0, 0, 0, 2]), np.array([1.0, 5.0, 3.0, 9.0]), 4)
    assert [row.tolist() for row in first] == [[1.0, 3.0, 9.0, 9.0], [5.0, 3.0, 9.0, 9.0]]
    after = found._range("x", np.array([1]), np.array([2.0]), 2)
    assert [row.tolist() for row in after] == [[9.0, 2.0], [9.0, 2.0]]
