"""The suite of capture readers: each claims and reads its own, leaves logs alone, refuses bad files clearly."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.conformance.samples import BAD, OWN, Sample
from feelcheck.errors import FormatError
from feelcheck.model import Capture, CaptureReader

SURE = 0.5
NO_FILE = ("empty", "binary", "zeros", "missing")
LOGS = [sample for name in ("delimited", "session") for sample in OWN[name]]
BROKEN = [sample for sample in BAD if sample.name in NO_FILE]


def test_a_reader_has_the_shape_of_one(capture_reader: CaptureReader) -> None:
    """Its entry point gives a reader with a name."""
    assert isinstance(capture_reader, CaptureReader)
    assert capture_reader.name.isidentifier()


def test_a_reader_claims_and_reads_its_own(capture_reader: CaptureReader, own: Sample, tmp_path: Path) -> None:
    """What it reads has finite times that rise, channels as long as they are, and says where it is from."""
    path = own.at(tmp_path)
    assert SURE <= capture_reader.claims(path) <= 1.0
    capture = capture_reader.read(path)
    assert isinstance(capture, Capture)
    assert np.isfinite(capture.t_s).all()
    assert (np.diff(capture.t_s) > 0).all()
    assert capture.channels
    assert all(channel.values.shape == capture.t_s.shape for channel in capture.channels)
    assert Path(capture.provenance.path) == path
    assert len(capture.provenance.sha256) == 64


@pytest.mark.parametrize("log", LOGS, ids=[sample.name for sample in LOGS])
def test_a_reader_leaves_logs_alone(capture_reader: CaptureReader, log: Sample, tmp_path: Path) -> None:
    """It claims no log of stick axes and no session."""
    assert 0.0 <= capture_reader.claims(log.at(tmp_path)) < SURE


@pytest.mark.parametrize("bad", BROKEN, ids=[sample.name for sample in BROKEN])
def test_a_bad_file_gets_one_clear_error(capture_reader: CaptureReader, bad: Sample, tmp_path: Path) -> None:
    """A sentence, facts and a next step, and nothing else is raised."""
    path = bad.at(tmp_path)
    assert 0.0 <= capture_reader.claims(path) < SURE
    with pytest.raises(FormatError, match=r"^[A-Z][^\n]*\.\n") as caught:
        capture_reader.read(path)
    assert caught.value.next_step
    assert caught.value.facts
