"""A file too large for memory keeps what moves, row by row, and says what it left out."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.formats import _condensed, _text, _windows
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.scope import read_captures

FLICKS = (9_000, 30_000, 52_000)
N_ROWS = 70_000


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a file of a few hundred kilobytes be large."""
    monkeypatch.setattr(_text, "LARGE_BYTES", 100_000)
    monkeypatch.setattr(_condensed, "_BLOCK_BYTES", 2**16)
    monkeypatch.setattr(_windows, "FIRST_WINDOWS", 16)
    monkeypatch.setattr(_windows, "AROUND_WINDOWS", 8)
    monkeypatch.setattr(_condensed, "AROUND_EDGE_WINDOWS", 16)


def _log(path: Path, separator: str = ",", flicks: tuple[int, ...] = FLICKS) -> np.ndarray:
    """A stick at rest that is flicked to the rim for 300 ms at a few instants, a row each millisecond."""
    k = np.arange(N_ROWS)
    x = np.zeros(N_ROWS)
    for at in flicks:
        x += 20_000 * np.clip((k - at) / 30, 0, 1) * np.clip((at + 330 - k) / 30, 0, 1)
    codes = np.round(x + np.random.default_rng(1).integers(-2, 3, N_ROWS)).astype(int)
    rows = (f"{a}{separator}{b}{separator}{b // 2}\n" for a, b in zip(k, codes, strict=True))
    path.write_text(f"time_ms{separator}x{separator}y\n" + "".join(rows))
    return codes


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_log_keeps_every_row_around_motion_and_loses_rest_only(tmp_path: Path, small: None, separator: str) -> None:
    path = tmp_path / "alder.csv"
    codes = _log(path, separator)
    recording = DelimitedReader().read(path)
    x = recording.stream("x")
    kept = np.round(1e3 * x.time.t_s).astype(int)
    assert kept.size < 0.2 * N_ROWS
    assert set(kept) >= {k for at in FLICKS for k in range(at - 300, at + 700)}
    assert x.codes.tolist() == codes[kept].tolist()
    beside_gaps = np.flatnonzero(np.diff(kept) > 1)
    assert beside_gaps.size >= len(FLICKS)
    assert np.abs(x.codes[beside_gaps]).max() <= 0.01 * 20_000
    assert np.abs(x.codes[beside_gaps + 1]).max() <= 0.01 * 20_000
    assert recording.provenance.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert any("a large file of about 70," in remark for remark in recording.provenance.remarks)


def test_of_too_much_motion_whole_pieces_are_kept_that_begin_and_end_at_rest(
    tmp_path: Path, small: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_condensed, "MOST_ROWS", 20_000)
    monkeypatch.setattr(_windows, "PIECE_WINDOWS", 32)
    path = tmp_path / "birch.csv"
    codes = _log(path, flicks=tuple(range(1_000, N_ROWS - 1_000, 1_500)))
    recording = DelimitedReader().read(path)
    x = recording.stream("x")
    kept = np.round(1e3 * x.time.t_s).astype(int)
    assert 8_000 < kept.size <= 20_000
    assert kept[-1] > 0.8 * N_ROWS
    assert x.codes.tolist() == codes[kept].tolist()
    edges = np.flatnonzero(np.diff(kept) > 1)
    assert np.abs(x.codes[edges]).max() <= 0.01 * 20_000
    assert any("of the motion was left out too" in remark for remark in recording.provenance.remarks)


def _capture(path: Path, n: int = 120_000) -> float:
    """A pole of 300 samples behind four steps of the coil current, a sample each 4 us; return the pole, s."""
    k = np.arange(n)
    part = n // 5
    moved = -np.expm1(-(k % part) / 300)
    up = (k // part) % 2 == 1
    volts = np.where(up, 0.3 + moved, np.where(k < part, 0.3, 1.3 - moved))
    volts += np.random.default_rng(2).normal(0.0, 0.002, n)
    rows = (f"{4 * a},{b:d},{c:.4f}\n" for a, b, c in zip(k, up, volts, strict=True))
    path.write_text("time (us),coil (A),out (V)\n" + "".join(rows))
    return 300 * 4e-6


def test_a_capture_keeps_its_edges_and_thins_the_rest(
    tmp_path: Path, small: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_condensed, "MOST_ROWS", 30_000)
    path = tmp_path / "cedar.csv"
    tau_s = _capture(path)
    (capture,) = read_captures(path)
    assert 15_000 < capture.t_s.size <= 32_000
    result = measure_response(capture)
    for side in (result.rising, result.falling):
        assert side is not None
        assert side.time_constant.value == pytest.approx(tau_s, rel=0.003)
    assert any("of the rest every" in remark for remark in capture.provenance.remarks)


def test_of_what_is_still_in_a_capture_no_more_stays_than_tells_a_level(
    tmp_path: Path, small: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "cedar.csv"
    tau_s = _capture(path)
    sizes = []
    for rows in (8_000, 2_000):
        monkeypatch.setattr(_condensed, "STILL_ROWS", rows)
        monkeypatch.setattr(_condensed, "AROUND_EDGE_WINDOWS", 8)
        (capture,) = read_captures(path)
        sizes.append(capture.t_s.size)
        side = measure_response(capture).rising
        assert side is not None
        assert side.time_constant.value == pytest.approx(tau_s, rel=0.01)
    assert sizes[0] - sizes[1] == pytest.approx(6_000, abs=900)


def test_one_odd_row_is_no_obstacle(tmp_path: Path, small: None) -> None:
    path = tmp_path / "elm.csv"
    _log(path)
    lines = path.read_text().splitlines(keepends=True)
    lines.insert(40_000, '40000.5,7,3,"a note"\n')
    path.write_text("".join(lines))
    assert DelimitedReader().read(path).stream("x").codes.size < 0.2 * N_ROWS


def test_what_is_not_cut_into_rows_of_numbers_is_read_whole(tmp_path: Path, small: None) -> None:
    path = tmp_path / "elm.jsonl"
    k = np.arange(5_000)
    path.write_text("".join(f'{{"time_ms": {a}, "axes": [{a % 700}, {a % 300}]}}\n' for a in k))
    assert DelimitedReader().read(path).streams[0].codes.size == k.size


def test_a_clean_start_is_found_behind_a_long_preamble(tmp_path: Path, small: None) -> None:
    path = tmp_path / "fir.csv"
    _log(path)
    path.write_text("# bench 3\n# firmware;7\n" * 20 + path.read_text())
    assert DelimitedReader().read(path).stream("x").codes.size < 0.2 * N_ROWS
