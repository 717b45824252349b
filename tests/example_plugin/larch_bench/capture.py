"""A capture reader: the bench's converter writes little-endian 16-bit codes behind the eight letters LARCHCAP."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.model import Capture, Channel, Provenance

__all__ = ["READER"]

MAGIC = b"LARCHCAP"
MOST_BYTES = 2**26
INTERVAL_S = 10e-6
VOLTS_PER_CODE = 1.8 / 4096


class LarchCapture:
    """Reader of the bench's own captures: one channel, 100,000 samples a second, 12 bits of 1.8 V."""

    name = "larch_capture"

    def claims(self, path: Path) -> float:
        """Return 1 where the file begins with our letters."""
        if not path.is_file():
            return 0.0
        with path.open("rb") as stream:
            return 1.0 if stream.read(len(MAGIC)) == MAGIC else 0.0

    def read(self, path: Path, **options: Any) -> Capture:
        """Return the capture."""
        if not self.claims(path) or path.stat().st_size > MOST_BYTES:
            raise FormatError("This is no capture of the larch bench.", {"path": path}, "Check the path.")
        data = path.read_bytes()
        codes = np.frombuffer(data[len(MAGIC) :], dtype="<u2", count=(len(data) - len(MAGIC)) // 2)
        out = Channel(name="out", values=codes * VOLTS_PER_CODE, unit="V", role="output")
        origin = Provenance(path=str(path), format=self.name, sha256=hashlib.sha256(data).hexdigest())
        told = {"time": f"a grid of {INTERVAL_S * 1e6:g} us", "unit": "V, 12 bits of 1.8 V"}
        times = np.arange(codes.size, dtype=np.float64) * INTERVAL_S
        return Capture(t_s=times, interval_s=INTERVAL_S, channels=(out,), provenance=origin, understood=told)


READER = LarchCapture()
