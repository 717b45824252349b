"""A session whose files were cut or damaged anywhere is read as far as it goes or refused in plain words."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.errors import FormatError
from feelcheck.formats.session import READER
from feelcheck.formats.session_log import EVENTS_HEADER
from feelcheck.model import Recording

HEADER = b'{"feelcheck": {"recording": "recording", "axes": [{"name": "left_x", "stick": "left"}]}}'
LINES = [f"{k * 1000},{k * 1000 + 900},axis,left_x,{(-1) ** k * 1234 * k},.\n" for k in range(12)]
LINES.insert(3, "3000,3000,cue,flick stick=left direction_deg=45,0,.\n")
WHOLE = (EVENTS_HEADER + "".join(LINES)).encode()
CODES = [(-1) ** k * 1234 * k for k in range(12)]


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "datapackage.json").write_bytes(HEADER)
        yield Path(name)


def _read(folder: Path, data: bytes) -> Recording | None:
    (folder / "events.csv").write_bytes(data)
    try:
        return READER.read(folder)
    except FormatError:
        return None


@pytest.mark.parametrize("tail", [b"", b"\0\0\0", b"\n"])
def test_cut_anywhere(folder: Path, tail: bytes) -> None:
    # Every byte of three rows, one of them a cue, and of the end; every seventh elsewhere: rows are alike.
    near = range(len(EVENTS_HEADER), len(EVENTS_HEADER) + len("".join(LINES[:4])))
    every = {*range(0, len(WHOLE) + 1, 7), *(() if tail else (*near, *range(len(WHOLE) - 25, len(WHOLE) + 1)))}
    for cut in sorted(every):
        recording = _read(folder, WHOLE[:cut] + tail)
        n_whole = sum(b"axis" in line for line in WHOLE[:cut].split(b"\n")[:-1])
        # A row that was cut just before its line end has its guard and is whole.
        healed = tail != b"\0\0\0" and WHOLE[:cut].endswith(b",.") and b"axis" in WHOLE[:cut].rpartition(b"\n")[2]
        codes = [] if recording is None else recording.stream("left_x").codes.tolist()
        assert codes == CODES[: n_whole + healed]


@settings(max_examples=40)
@given(at=st.integers(0, len(WHOLE) - 1), junk=st.binary(min_size=1, max_size=20), insert=st.booleans())
def test_damage_anywhere_is_no_accident(folder: Path, at: int, junk: bytes, insert: bool) -> None:
    _read(folder, WHOLE[:at] + junk + WHOLE[at if insert else at + len(junk) :])


@settings(max_examples=40)
@given(header=st.binary(max_size=60))
def test_any_header_is_no_accident(folder: Path, header: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "datapackage.json").write_bytes(header)
        _read(Path(name), WHOLE)
