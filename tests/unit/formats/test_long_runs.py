"""One character ten thousand times at any place is read, or refused, in time that grows with its length."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from feelcheck.errors import FeelcheckError
from feelcheck.formats.scope import read_captures
from feelcheck.pipeline._hand import read_recording as read

LONG = 30_000
SECONDS = 20
ROWS = [f"{k / 250},{(k * 37) % 201},{(k * 13) % 101}" for k in range(60)]


def _spent(*_: object) -> None:
    raise TimeoutError(f"more than {SECONDS} s of processor time")


@pytest.fixture(autouse=True)
def _guard() -> Iterator[None]:
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGVTALRM, _spent)
        signal.setitimer(signal.ITIMER_VIRTUAL, SECONDS)
    yield
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)


@pytest.mark.parametrize("unit", ["9", "a", " ", '"', "[", '["', "array(", "1-1-1 ", "a.", "1:1", "'1", "1,", "1 "])
def test_a_long_run_costs_no_more_than_its_length(unit: str, tmp_path: Path) -> None:
    run = (unit * LONG)[:LONG]
    path = tmp_path / "log.csv"
    for lines in (
        [f"note{run}", "t_s,x,y", *ROWS],
        [f"t_s,x{run}z,y", *ROWS],
        ["t_s,x,y", *ROWS[:30], f"1,{run}x,3", f'0.2,"{run},4', *ROWS[30:]],
    ):
        path.write_text("\n".join(lines))
        for reading in (lambda: read(path), lambda: read_captures([path])):
            with contextlib.suppress(FeelcheckError):
                reading()


@pytest.mark.parametrize("last", [2**63 - 1, -(2**63), 2**64 - 1])
@pytest.mark.parametrize("first", [0, -(2**63), 2**63 - 10, 2**64 - 10])
def test_whole_numbers_at_the_ends_of_64_bits_are_read_or_refused(first: int, last: int, tmp_path: Path) -> None:
    step = (last - first) // 100
    rows = [f"{first + k * step},{k % 7}" for k in range(100)]
    (tmp_path / "log.csv").write_text("\n".join(["t_ns,x", *rows, f"{last},3"]))
    with contextlib.suppress(FeelcheckError):
        read(tmp_path / "log.csv")


def test_the_cells_of_one_spoilt_row_are_no_columns(tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_text("\n".join(["t (s),coil (A),out (V)", *ROWS[:30], "0.1199" + ",5" * 20_000, *ROWS[30:]]))
    with contextlib.suppress(FeelcheckError):  # in time, and without twenty thousand channels
        assert len(read_captures([path])[0].channels) == 2
    with pytest.raises(FeelcheckError, match="512 columns"):
        read(path)


def test_a_capture_of_which_every_few_rows_begin_anew_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    rows = ["-5,960;-0,50204;2,34", "-5,920;-0,50080;3,81"] * 3
    path.write_text("\n".join(["Sample Sample;40 us", *rows]))
    with pytest.raises(FeelcheckError):
        read_captures([path])


def test_steps_between_the_largest_numbers_are_no_time(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["a,x,y", *(f"{(-1) ** k * 1.7e308},{row}" for k, row in enumerate(ROWS))]))
    with contextlib.suppress(FeelcheckError):
        read(path)
