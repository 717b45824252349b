"""Which windows of a large file move, rest and are kept: every threshold from both sides."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.formats import _condensed
from feelcheck.formats._windows import Windows, kept_of_a_log, moving, resting, widened
from feelcheck.model.stream import FloatArray

N = 4000


def windows(spread: FloatArray, middle: FloatArray | None = None) -> Windows:
    """One column of N windows; two of them span a range of 1 about the middle of 0."""
    centre = np.zeros(spread.size) if middle is None else middle.copy()
    low, high = centre - spread / 2, centre + spread / 2
    return Windows(at=np.arange(spread.size + 1), low=low[:, None], high=high[:, None], sha256="")


def one(at: int, size: float, usual: float = 0.0) -> FloatArray:
    """Spreads of windows: a usual one, whole ranges among the last, and one of its own size."""
    spread = np.full(N, usual)
    spread[-20:] = 1.0
    spread[at] = size
    return spread


@pytest.mark.parametrize(("size", "moves"), [(0.03, False), (0.045, False), (0.055, True), (0.09, True)])
def test_a_window_moves_by_a_twentieth_of_the_range(size: float, moves: bool) -> None:
    assert moving(windows(one(2000, size)))[2000] == moves


@pytest.mark.parametrize(("size", "moves"), [(0.15, False), (0.23, False), (0.25, True), (0.45, True)])
def test_and_by_four_times_what_most_windows_do(size: float, moves: bool) -> None:
    assert moving(windows(one(2000, size, usual=0.06)))[2000] == moves


@pytest.mark.parametrize(("away", "rests"), [(0.006, True), (0.009, True), (0.011, False), (0.019, False)])
def test_a_stick_rests_within_a_hundredth_of_the_range(away: float, rests: bool) -> None:
    middle = np.zeros(N)
    middle[2000] = away
    found = windows(one(0, 0.0), middle)
    assert resting(found, moving(found))[2000] == rests


def test_three_seconds_are_kept_on_both_sides_of_motion_and_the_beginning() -> None:
    spread = np.zeros(N)
    spread[[2000, 3000]] = 1.0
    moves = np.arange(N) % 1000 == 0
    moves[[0, 1000]] = False
    found = windows(spread)
    kept, wanted = kept_of_a_log(Windows(at=found.at, low=found.low, high=found.high, sha256=""), most=N)
    assert np.array_equal(kept, wanted)
    at_motion = widened(moves, 48)
    assert np.array_equal(np.flatnonzero(kept[512:]) + 512, np.flatnonzero(at_motion))
    assert kept[:512].all()


def test_of_too_much_motion_pieces_of_a_minute_are_kept() -> None:
    spread = np.ones(40 * 1024)
    spread[::64] = 0.0
    kept, wanted = kept_of_a_log(windows(spread), most=12 * 1024)
    assert wanted.sum() > 39 * 1024
    places = np.flatnonzero(kept)
    pieces = np.split(places, np.flatnonzero(np.diff(places) > 100) + 1)
    lengths = [int(piece[-1] - piece[0]) for piece in pieces[1:-1]]
    assert len(lengths) > 3
    assert all(1000 < length <= 1024 + 128 for length in lengths)


def test_an_edge_keeps_its_tail_and_as_much_before(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    spread = np.zeros(N)
    spread[2000] = 1.0
    kept: list[Any] = []

    def gathered(_stream: Any, _windows: Windows, which: Any, _between: Any) -> bytes:
        kept.append(which)
        return b""

    monkeypatch.setattr(_condensed, "_layout", lambda _: True)
    monkeypatch.setattr(_condensed, "_judged", lambda *_: windows(spread))
    monkeypatch.setattr(_condensed, "gathered", gathered)
    path = tmp_path / "cedar.csv"
    path.touch()
    assert _condensed.condense(path, "thinned") is not None
    assert np.array_equal(np.flatnonzero(kept[0]), np.arange(2000 - 512, 2000 + 513))
