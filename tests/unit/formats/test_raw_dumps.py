"""Listings of kernel events and bytes in hexadecimal digits become plain rows; other texts stay as they are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.formats._raw_dumps import event_rows, plain_bytes
from feelcheck.model import Recording
from feelcheck.pipeline import read

CODES = np.rint(20000 * np.sin(np.arange(400) / 30)).astype(int)


def spoken() -> str:
    head = "alder pad\n  EV_ABS: ABS_X from -32768 to 32767\n\n"
    rows = ""
    for k, code in enumerate(CODES):
        at = f"time {1700000000 + 0.004 * k:.6f}: "
        rows += f"{at}type 3 (EV_ABS), code 0 (ABS_X), value {code}\n"
        if k % 50 == 0:
            rows += f"{at}type 1 (EV_KEY), code 304 (BTN_SOUTH), value {k // 50 % 2}\n"
        rows += f"{at}type 0 (EV_SYN), code 0 (SYN_REPORT), value 0\n"
    return head + rows


def terse() -> str:
    rows = ""
    for k, code in enumerate(CODES):
        at = f"[{5000 + 0.004 * k:15.6f}] "
        rows += f"{at}EV_ABS       ABS_X                {code & 0xFFFFFFFF:08x}            \n"
        if k % 50 == 0:
            rows += f"{at}EV_KEY       BTN_SOUTH            {('UP', 'DOWN')[k // 50 % 2]:<20}\n"
        rows += f"{at}EV_SYN       SYN_REPORT           00000000            \n"
    return rows


@pytest.mark.parametrize("text", [spoken(), terse()], ids=["spoken", "terse"])
def test_a_listing_of_events_is_a_log(text: str, tmp_path: Path) -> None:
    """Decimal values in words, or hexadecimal ones in columns; names of linux/input-event-codes.h."""
    path = tmp_path / "events.txt"
    path.write_text(text)
    recording = read(path)
    assert isinstance(recording, Recording)
    (stream,) = recording.streams
    assert stream.name == "ABS_X"
    assert stream.codes.tolist() == CODES.tolist()
    assert np.diff(stream.time.t_hi_s) == pytest.approx(np.full(399, 0.004), abs=1e-6)
    assert {button.name for button in recording.buttons} == {"BTN_SOUTH"}
    assert any("kernel events" in remark for remark in recording.provenance.remarks)


def test_bytes_in_hexadecimal_digits_are_numbers(tmp_path: Path) -> None:
    x = 128 + CODES // 200
    path = tmp_path / "reports.txt"
    path.write_text("".join(f"{0.004 * k:.4f}  01 {code:02x} 80 0f\n" for k, code in enumerate(x)))
    recording = read(path)
    assert isinstance(recording, Recording)
    (stream,) = recording.streams
    assert stream.codes.tolist() == x.tolist()


@pytest.mark.parametrize(
    "text",
    ["0.1 01 70 80\n0.2 01 80 80\n0.3 01 81 80\n" * 4, "t,name\n0.1,be\n0.2,fe\n" * 4, "a 7f b\n" * 9, ""],
    ids=["decimal", "words", "single", "empty"],
)
def test_other_texts_stay(text: str) -> None:
    assert event_rows(text) is None
    assert plain_bytes(text) is None


def test_a_text_that_only_names_events_is_no_listing() -> None:
    assert event_rows("# EV_ABS of the left stick\n" + "0.1,5\n" * 50) is None


def test_events_of_two_devices_stay_apart_and_dropped_ones_are_told() -> None:
    line = "[ {:.3f}] /dev/input/{}: EV_ABS ABS_X {:08x}"
    listed = [line.format(k / 10, f"event{3 + k % 2}", k) for k in range(20)] + ["[ 2.100] EV_SYN SYN_DROPPED 00000000"]
    found = event_rows("\n".join(listed))
    assert found is not None
    assert {row.split(";")[2] for row in found[0].splitlines()[1:]} == {"event3 ABS_X", "event4 ABS_X"}
    assert "1 time the kernel dropped events" in found[1][1]


def test_long_rows_names_above_and_decimal_commas_of_times() -> None:
    long = "".join(f"{k / 250:.4f} " + " ".join(f"{(k + j) % 256:02x}" for j in range(24)) + "\n" for k in range(3000))
    found = plain_bytes(long)
    assert found is not None
    assert found.splitlines()[1500].split()[1] == str(1500 % 256)
    named = "t b0 b1 b2 b3\n" + "".join(f"{k / 250:.4f} 01 {k + 100:02x} 80 0f\n" for k in range(30))
    assert (plain_bytes(named) or "").splitlines()[0] == "t b0 b1 b2 b3"
    comma = "".join(f"0,{k + 10:02d};2d;{k + 100:02x};80\n" for k in range(30))
    assert (plain_bytes(comma) or "").splitlines()[5] == "0,15;45;105;128"
