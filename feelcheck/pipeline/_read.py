"""What a file holds, before anything is measured: a recording or a capture."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, overload

from feelcheck.model import Capture, Recording, Results
from feelcheck.pipeline._captures import captures_of, looks_captured
from feelcheck.pipeline._hand import read_recording

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["read"]

OF_LOGS = frozenset({"axes", "full_scale", "rate_hz", "every"})
"""Options that a capture does not have: whoever gives one means a log."""
OF_CAPTURES = frozenset({"drive", "output", "interval_s"})
"""Options that a log does not have."""


@overload
def read(source: pd.DataFrame, **options: Any) -> Recording: ...
@overload
def read(source: str | os.PathLike[str], **options: Any) -> Recording | Capture | Results[Capture]: ...
def read(source: Any, **options: Any) -> Recording | Capture | Results[Capture]:
    """Read a session, a log or a scope capture with the reader that is surest the path is its own.

    Parameters
    ----------
    source : path or DataFrame
        A session folder, a delimited axis log, a capture, or a table in hand: a time (column or index) and the axes.
    **options
        Of a log ``time``, ``time_unit``, ``rate_hz``, ``axes``, ``full_scale``, of a capture ``time``, ``time_unit``,
        ``interval_s``, ``drive``, ``output``: what the file does not say by itself.

    Returns
    -------
    Recording, Capture or Results
        Results of captures where a file holds several blocks.

    Raises
    ------
    FormatError
        If there is no such path, or the reader cannot make sense of it; its text says what is missing.
    PluginError
        If another package's reader is surest of the path and fails on it.
    """
    if not isinstance(source, str | os.PathLike):
        return read_recording(source, **options)
    path = Path(source)
    stated = {name for name, value in options.items() if value is not None}
    if not OF_CAPTURES & stated and (OF_LOGS & stated or not looks_captured(path)):
        return read_recording(path, **options)
    captures = captures_of([path], **options)
    return captures[0] if len(captures) == 1 else Results(captures)
