"""A log reader: lines such as ``@12.5 L+0123-0456``, milliseconds and both axes of the left stick."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path
from typing import Any

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.model import AxisScale, Provenance, Recording, Stream, TimeBase

__all__ = ["LarchReader"]

LINE = re.compile(r"@(\d+(?:\.\d+)?) L([+-]\d+)([+-]\d+)")
MOST_BYTES = 2**26
REACH = 2000.0
"""Codes from centre to full throw."""


class LarchReader:
    """Reader of the bench's own log."""

    name = "larch"

    def claims(self, path: Path) -> float:
        """Return 0.95 where the first line is one of ours."""
        return 0.95 if path.is_file() and LINE.match(_head(path)) else 0.0

    def read(self, path: Path, **options: Any) -> Recording:
        """Return both axes of the left stick."""
        if not self.claims(path) or path.stat().st_size > MOST_BYTES:
            raise FormatError("This is no log of the larch bench.", {"path": path}, "Check the path.")
        data = path.read_bytes()
        rows = np.array(LINE.findall(data.decode("ascii", "replace")), dtype=float).reshape(-1, 3)
        if (np.diff(rows[:, 0]) < 0).any():
            raise FormatError("The times of this log step back.", {"path": path}, "Export the log again.")
        base = TimeBase.from_instants(rows[:, 0] * 1e-3)
        codes = rows[:, 1:].astype(int)
        scale = AxisScale(centre=0.0, reach=REACH)
        axes = enumerate(("left_x", "left_y"))
        streams = tuple(Stream(name=name, codes=codes[:, k], time=base, scale=scale) for k, name in axes)
        origin = Provenance(path=str(path), format=self.name, sha256=hashlib.sha256(data).hexdigest())
        return Recording(streams=streams, provenance=origin)


def _head(path: Path) -> str:
    with path.open("rb") as stream:
        return stream.read(200).decode("ascii", "replace")
