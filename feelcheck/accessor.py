"""The pandas accessor: ``import feelcheck.accessor``, then ``frame.feelcheck.analyze(time_unit="ms")``."""

from __future__ import annotations

from typing import Any

import pandas as pd

from feelcheck import pipeline
from feelcheck.model import BenchResult, HandResult, Recording

__all__ = ["FrameAccessor"]


@pd.api.extensions.register_dataframe_accessor("feelcheck")
class FrameAccessor:
    """What can be asked of a table of stick axes or of a scope capture.

    Parameters
    ----------
    frame : DataFrame
        A time (column or index) and the axes of a stick, or the drive and the output of a sensor.

    Examples
    --------
    >>> frame = pd.DataFrame({"n": range(500), "left_x": [k % 200 for k in range(500)]})
    >>> frame.feelcheck.read(rate_hz=250, axes="left_x").streams[0].time.duration_s
    1.996
    """

    def __init__(self, frame: pd.DataFrame) -> None:
        self._frame = frame

    def read(self, **options: Any) -> Recording:
        """Return the recording; see `feelcheck.read`."""
        return pipeline.read(self._frame, **options)

    def analyze(self, **options: Any) -> HandResult:
        """Measure the response in the hand; see `feelcheck.analyze`."""
        return pipeline.analyze(self._frame, **options)

    def bench(self, **options: Any) -> BenchResult:
        """Measure the response on the bench; see `feelcheck.bench`."""
        return pipeline.bench(self._frame, **options)
