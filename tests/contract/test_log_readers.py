"""One suite over every reader of in-hand logs that is installed, and over each one's samples."""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import entry_points
from pathlib import Path

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.model import LogReader, Recording

K = np.arange(400)
X = np.where(K < 80, 0, np.round(30000 * np.sin(K * 0.05))).astype(int)
Y = np.where(K < 80, 12, np.round(20000 * np.cos(K * 0.03))).astype(int)


def _readers() -> list[LogReader]:
    """Return the built-in readers and every other one that is registered."""
    readers: dict[str, LogReader] = {"delimited": DelimitedReader()}
    for entry in entry_points(group="feelcheck.formats"):
        reader = entry.load()
        instance = reader() if isinstance(reader, type) else reader
        if isinstance(instance, LogReader):
            readers.setdefault(instance.name, instance)
    return list(readers.values())


READERS = _readers()
BY_NAME = {reader.name: reader for reader in READERS}


def _wide(path: Path) -> None:
    path.write_text("time_ms,left_x,left_y\n" + "".join(f"{4 * k},{X[k]},{Y[k]}\n" for k in K))


def _semicolons(path: Path) -> None:
    cells = (f"{k * 0.004:.3f};{X[k] / 32767:.5f}\r\n".replace(".", ",") for k in K)
    path.write_text("t [s];x\r\n" + "".join(cells), encoding="utf-16")


def _long(path: Path) -> None:
    path.write_text("timestamp_us,axis,value\n" + "".join(f"{4000 * k},{'xy'[k % 2]},{X[k] + Y[k]}\n" for k in K))


def _stamped(path: Path) -> None:
    path.write_text("time\tx\n" + "".join(f"2024-05-01T10:00:{k * 0.004:06.3f}\t{X[k]}\n" for k in K))


def _session(path: Path) -> None:
    path.mkdir()
    rows = "".join(f"{4_000_000 * k},{4_000_000 * k},axis,left_x,{X[k]},.\n" for k in K)
    (path / "events.csv").write_text("t_lo_ns,t_hi_ns,kind,name,value,end\n" + rows)
    (path / "datapackage.json").write_text('{"name": "alder"}')


def _scope(path: Path) -> None:
    path.write_text("Time (s),CH1 (V),CH2 (V)\n" + "".join(f"{k * 1e-6:.7f},{k % 50 / 10},{k % 7}\n" for k in K))


def _empty(path: Path) -> None:
    path.touch()


def _binary(path: Path) -> None:
    path.write_bytes(np.random.default_rng(1).bytes(5000))


def _prose(path: Path) -> None:
    path.write_text("The pad came back on Tuesday.\nIts left stick feels slow, says the club.\n" * 20)


def _zeros(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(2**30)


def _still(path: Path) -> None:
    path.write_text("time_ms,x\n" + "".join(f"{4 * k},7\n" for k in K))


def _backward(path: Path) -> None:
    path.write_text("time_ms,x\n" + "".join(f"{4 * k},{X[k]}\n" for k in K[::-1]))


def _one_line(path: Path) -> None:
    path.write_text("time_ms,x\n0,5\n")


def _missing(path: Path) -> None:
    assert not path.exists()


SAMPLES: dict[str, list[Callable[[Path], None]]] = {"delimited": [_wide, _semicolons, _long, _stamped]}
FOREIGN = [_session, _scope]
BAD = [_empty, _binary, _prose, _zeros, _still, _backward, _one_line, _missing]
OWN = [(name, make) for name, makes in SAMPLES.items() for make in makes]


@pytest.mark.parametrize(("name", "make"), OWN)
def test_a_reader_claims_and_reads_its_own(name: str, make: Callable[[Path], None], tmp_path: Path) -> None:
    make(tmp_path / "log.csv")
    reader = BY_NAME[name]
    assert 0.5 <= reader.claims(tmp_path / "log.csv") <= 1.0
    recording = reader.read(tmp_path / "log.csv")
    assert isinstance(recording, Recording)
    assert recording.streams
    assert recording.provenance.format == name
    assert recording.provenance.path == str(tmp_path / "log.csv")
    assert len(recording.provenance.sha256) == 64
    assert all(np.isfinite(stream.codes).all() and stream.codes.size > 50 for stream in recording.streams)


@pytest.mark.parametrize(("name", "make"), OWN)
def test_no_other_reader_claims_it(name: str, make: Callable[[Path], None], tmp_path: Path) -> None:
    make(tmp_path / "log.csv")
    sure = BY_NAME[name].claims(tmp_path / "log.csv")
    assert all(reader.claims(tmp_path / "log.csv") < sure for reader in READERS if reader.name != name)


@pytest.mark.parametrize("make", FOREIGN)
def test_the_delimited_reader_leaves_other_formats_alone(make: Callable[[Path], None], tmp_path: Path) -> None:
    make(tmp_path / "other")
    assert BY_NAME["delimited"].claims(tmp_path / "other") == 0.0
    with pytest.raises(FormatError, match=r"folder|scope"):
        BY_NAME["delimited"].read(tmp_path / "other")


def test_a_sessions_own_table_is_left_to_the_session(tmp_path: Path) -> None:
    _session(tmp_path / "alder")
    assert BY_NAME["delimited"].claims(tmp_path / "alder" / "events.csv") == 0.0


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: str(reader.name))
@pytest.mark.parametrize("make", BAD)
def test_bad_files_get_one_clear_error(reader: LogReader, make: Callable[[Path], None], tmp_path: Path) -> None:
    make(tmp_path / "bad.csv")
    assert 0.0 <= reader.claims(tmp_path / "bad.csv") <= 0.3
    with pytest.raises(FormatError, match=r"^[A-Z][^\n]*\.\n") as caught:
        reader.read(tmp_path / "bad.csv")
    assert caught.value.next_step
    assert caught.value.facts


def test_a_gigabyte_of_zeros_is_refused_from_its_head(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _zeros(tmp_path / "zeros.csv")
    monkeypatch.setattr(Path, "read_bytes", lambda self: pytest.fail("the whole file was read"))
    with pytest.raises(FormatError, match="zeros"):
        DelimitedReader().read(tmp_path / "zeros.csv")
