"""Whatever the bytes, a reader gives a recording or one clear refusal."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.errors import FormatError
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.model import Recording

K = np.arange(120)
GOOD = (
    "time_ms,left x,left y,a\n"
    + "".join(f"{4 * k},{round(2000 * np.sin(k * 0.1))},{round(900 * np.cos(k * 0.2))},{k // 30 % 2}\n" for k in K)
).encode()
LONG = ("t_us;axis;value\n" + "".join(f"{4000 * k};{'xy'[k % 2]};{k * 37 % 101}\n" for k in K)).encode()
STAMPED = ("time\tx\n" + "".join(f"10:00:{k * 0.01:06.3f}\t{k * 37 % 101 / 50:.2f}\n" for k in K)).encode()
SNIPPETS = [
    b"",
    b"\n",
    b",",
    b";",
    b"\t",
    b'"',
    b"nan",
    b"inf",
    b"-",
    b"1e400",
    b"\xff",
    b"\0",
    b"x,y",
    b"10:00:00",
    b"9" * 25,
]


def _outcome(data: bytes) -> Recording | FormatError:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes(data)
        assert 0.0 <= DelimitedReader().claims(path) <= 1.0
        try:
            return DelimitedReader().read(path)
        except FormatError as problem:
            return problem


def _check(outcome: Recording | FormatError) -> None:
    if isinstance(outcome, FormatError):
        assert outcome.sentence.strip().endswith(".")
        assert outcome.next_step
        return
    for stream in outcome.streams:
        assert np.isfinite(stream.codes).all()
        assert np.isfinite(stream.time.t_s).all()
        assert np.all(np.diff(stream.time.t_s) >= 0)


@settings(max_examples=40)
@given(st.binary(max_size=400))
def test_random_bytes(data: bytes) -> None:
    _check(_outcome(data))


@settings(max_examples=40)
@given(st.text(alphabet="0123456789.,;:\t \n-+eExyt_#\"'|", max_size=400))
def test_random_tables(text: str) -> None:
    _check(_outcome(text.encode()))


@settings(max_examples=50)
@given(
    st.sampled_from([GOOD, LONG, STAMPED]),
    st.lists(
        st.tuples(st.integers(0, 3000), st.integers(0, 40), st.sampled_from(SNIPPETS), st.integers(1, 3)), max_size=6
    ),
)
def test_mutilated_logs(log: bytes, cuts: list[tuple[int, int, bytes, int]]) -> None:
    for start, length, snippet, times in cuts:
        log = log[:start] + snippet * times + log[start + length :]
    _check(_outcome(log))


@settings(max_examples=25)
@given(st.integers(0, len(GOOD)))
def test_a_log_cut_anywhere_keeps_no_wrong_row(cut: int) -> None:
    outcome = _outcome(GOOD[:cut])
    _check(outcome)
    if isinstance(outcome, Recording):
        n = outcome.streams[0].codes.size
        assert n >= GOOD[:cut].count(b"\n") - 2
        np.testing.assert_array_equal(outcome.streams[0].codes, np.round(2000 * np.sin(K[:n] * 0.1)))
