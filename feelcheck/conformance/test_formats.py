"""The suite of log readers: each claims and reads its own, leaves others' alone, refuses bad files clearly."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck import plugins
from feelcheck.conformance.choice import loaded
from feelcheck.conformance.samples import BAD, FOREIGN, HEADLESS, OWN, Sample
from feelcheck.errors import FormatError
from feelcheck.model import LogReader, Recording

FILES = {**OWN, "session": (*OWN["session"], HEADLESS), "": FOREIGN}
OTHERS = [(whose, sample) for whose, samples in FILES.items() for sample in samples]
SURE = 0.5
UNSURE = 0.3


def test_a_reader_has_the_shape_of_one(log_reader: LogReader) -> None:
    """Its entry point gives a reader with a name."""
    assert isinstance(log_reader, LogReader)
    assert log_reader.name.isidentifier()


def test_a_reader_claims_and_reads_its_own(log_reader: LogReader, own: Sample, tmp_path: Path) -> None:
    """What it reads has streams of finite readings and says where it is from."""
    path = own.at(tmp_path)
    assert SURE <= log_reader.claims(path) <= 1.0
    recording = log_reader.read(path)
    assert isinstance(recording, Recording)
    assert recording.streams
    assert recording.provenance.format == log_reader.name
    assert Path(recording.provenance.path) == path
    assert len(recording.provenance.sha256) == 64
    assert all(np.isfinite(stream.codes).all() and stream.codes.size > 50 for stream in recording.streams)


def test_no_other_reader_is_as_sure(log_reader: LogReader, own: Sample, tmp_path: Path) -> None:
    """Of all installed readers it is the surest of its own files."""
    path = own.at(tmp_path)
    others = [loaded(plugin) for plugin in plugins.registered("feelcheck.formats")]
    sure = log_reader.claims(path)
    assert all(other.claims(path) < sure for other in others if other.name != log_reader.name)


@pytest.mark.parametrize(("whose", "other"), OTHERS, ids=[sample.name for _, sample in OTHERS])
def test_a_reader_leaves_the_others_files_alone(
    log_reader: LogReader, whose: str, other: Sample, tmp_path: Path
) -> None:
    """It claims no file that a built-in reader has, nor a capture of an oscilloscope."""
    if whose != log_reader.name:
        assert 0.0 <= log_reader.claims(other.at(tmp_path)) < SURE


@pytest.mark.parametrize("bad", BAD, ids=[sample.name for sample in BAD])
def test_a_bad_file_gets_one_clear_error(log_reader: LogReader, bad: Sample, tmp_path: Path) -> None:
    """A sentence, facts and a next step, and nothing else is raised."""
    path = bad.at(tmp_path)
    assert 0.0 <= log_reader.claims(path) <= UNSURE
    with pytest.raises(FormatError, match=r"^[A-Z][^\n]*\.\n") as caught:
        log_reader.read(path)
    assert caught.value.next_step
    assert caught.value.facts


def test_a_gigabyte_is_judged_by_its_head(
    log_reader: LogReader, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that is no log of its kind is refused without being read to its end."""
    path = next(sample for sample in BAD if sample.name == "zeros").at(tmp_path)
    monkeypatch.setattr(Path, "read_bytes", lambda _: pytest.fail("the whole file was read"))
    with pytest.raises(FormatError):
        log_reader.read(path)


def test_a_sessions_own_table_is_left_to_the_session(log_reader: LogReader, tmp_path: Path) -> None:
    """No other reader takes the table inside a session for a log."""
    if log_reader.name != "session":
        assert log_reader.claims(HEADLESS.at(tmp_path) / "events.csv") == 0.0
