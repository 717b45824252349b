"""What a recording shows of its own quality: how closely every instant is bracketed, and what the pad's clock hides."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from feelcheck.counted import counted
from feelcheck.formats.session_header import header_edited
from feelcheck.model import Recording
from feelcheck.sources.gamepad.poll import LOOPS

__all__ = ["bracket_quality", "note_quality", "quality_words"]

_WIDE_SHARE, _WIDE_MS = 0.005, 2.0


def bracket_quality(recording: Recording) -> dict[str, Any]:
    """Return how closely the instants of a recording are known.

    Parameters
    ----------
    recording : Recording
        The recording.

    Returns
    -------
    dict
        ``n_rows`` of all axes; ``bracket_p50_ms``, ``bracket_p99_ms`` and ``bracket_max_ms`` of the brackets around
        the reports (0 for stamps of the kernel); empty where no axis was recorded.
    """
    widths = [stream.time.t_hi_s - stream.time.t_lo_s for stream in recording.streams]
    width_ms = 1e3 * np.concatenate(widths) if widths else np.empty(0)
    if width_ms.size == 0:
        return {}
    p50, p99 = np.percentile(width_ms, [50.0, 99.0])
    return {
        "n_rows": int(width_ms.size),
        "bracket_p50_ms": round(float(p50), 4),
        "bracket_p99_ms": round(float(p99), 4),
        "bracket_max_ms": round(float(width_ms.max()), 4),
    }


def note_quality(folder: Path, quality: Mapping[str, Any]) -> None:
    """Write a recording's quality into the header of its session.

    Parameters
    ----------
    folder : Path
        The session's folder.
    quality : mapping of str to Any
        What `bracket_quality` gave.

    Raises
    ------
    FormatError
        If the folder is no session.
    OSError
        If it cannot be written.
    """
    with header_edited(folder) as own:
        own["capture"] = dict(quality)


def quality_words(quality: Mapping[str, Any]) -> str:
    """Return a recording's quality as one sentence.

    Parameters
    ----------
    quality : mapping of str to Any
        What `bracket_quality` gave.

    Examples
    --------
    >>> quality_words({"n_rows": 9000, "bracket_p99_ms": 0.081, "lost_report_fraction": 0.0})
    '9000 rows; 99 of 100 instants are known to 0.081 ms; no lost report was seen.'
    """
    words = [counted(quality.get("n_rows", 0), "row")]
    if quality.get("bracket_p99_ms"):
        words.append(f"99 of 100 instants are known to {quality['bracket_p99_ms']:.3g} ms")
        if quality["bracket_p99_ms"] > _WIDE_MS:
            words[-1] += ", which is coarse: close other programs and record again"
    lost, bound = quality.get("lost_report_fraction"), quality.get("lost_report_fraction_at_most")
    if lost is not None:
        share = f"{100 * lost:.2g} % of the reports were lost"
        words.append(share if lost > 0 else "no lost report was seen")
        if lost > _WIDE_SHARE:
            rests = "record without --low-power, " if quality.get("loop") == LOOPS[True] else ""
            words[-1] += f": {rests}close other programs, use a cable, or a lower report rate"
    elif bound is not None:
        words.append(f"at most {100 * bound:.2g} % of the reports were lost")
    else:
        words.append("how many reports were lost cannot be told")
        if quality.get("loop") == LOOPS[True]:
            words[-1] += "; to be surer, record without --low-power"
    return "; ".join(words) + "."
