"""The one table of published results that may stand beside a number, and where a difference lies in it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from feelcheck.model import EvidenceNote

__all__ = ["PRINTABLE_MARKS", "PublishedResult", "evidence_table", "note", "notes_for_difference", "result"]

PRINTABLE_MARKS = ("V1", "V2", "V3")


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedResult:
    """One published result.

    Parameters
    ----------
    key : str
        Short name.
    mark : {"V1", "V2", "V3"}
        V1: read in the author's own text; V2: only as quoted by others; V3: derived or re-analysed from public data.
    kind : str
        ``"threshold"`` (difference thresholds of delay), ``"slope"``, ``"speed"``, ``"context"``.
    citation, device, varied, finding : str
        Who, on what, what was varied, what came out.
    low_ms, high_ms : float or None
        Range of delay (difference) that the result speaks of.
    weber_fraction, low_deg_s, high_deg_s : float or None
        For speed results: the relative change, and the range of speeds at the eye that was tested.
    quoted_by : str
        Who quotes it, for V2.
    """

    key: str
    mark: str
    kind: str
    citation: str
    device: str
    varied: str
    finding: str
    low_ms: float | None = None
    high_ms: float | None = None
    weber_fraction: float | None = None
    low_deg_s: float | None = None
    high_deg_s: float | None = None
    quoted_by: str = ""

    def __post_init__(self) -> None:
        if self.mark not in PRINTABLE_MARKS:
            raise ValueError(f"{self.key}: only results marked {', '.join(PRINTABLE_MARKS)} may be printed")
        if (self.mark == "V2") != bool(self.quoted_by):
            raise ValueError(f"{self.key}: a second-hand result, and only that, says who quotes it")

    @property
    def cited(self) -> str:
        """The citation as it may be printed."""
        return f"{self.citation} (as quoted by {self.quoted_by})" if self.quoted_by else self.citation


@cache
def evidence_table() -> tuple[PublishedResult, ...]:
    """Return every published result that feelcheck may print."""
    text = resources.files("feelcheck.feel").joinpath("evidence.toml").read_text(encoding="utf-8")
    return tuple(PublishedResult(**row) for row in tomllib.loads(text)["result"])


def result(key: str) -> PublishedResult:
    """Return the result of that key; raises KeyError if the table has none.

    Parameters
    ----------
    key : str
        Key in the table of published results.
    """
    for row in evidence_table():
        if row.key == key:
            return row
    raise KeyError(key)


def note(row: PublishedResult, text: str, *, extrapolated: bool) -> EvidenceNote:
    """Return a note that sets `text` beside a published result.

    Parameters
    ----------
    row : PublishedResult
        The published result.
    text : str
        What stands beside it.
    extrapolated : bool
        Whether it lies outside of what was tried.
    """
    return EvidenceNote(
        key=row.key,
        text=text,
        citation=row.cited,
        device=row.device,
        varied=row.varied,
        extrapolated=extrapolated,
    )


def notes_for_difference(low_ms: float, high_ms: float) -> tuple[EvidenceNote, ...]:
    """Return where a difference of mean delay lies among the published difference thresholds.

    Parameters
    ----------
    low_ms, high_ms : float, ms
        The 95 % interval of the size of the difference, 0 <= low <= high.

    Returns
    -------
    tuple of EvidenceNote
        One note a threshold study, in order of its threshold. Every one of them varied pure delay, not smoothing, and
        none used a stick that sets a speed: all are marked as extrapolated.
    """
    rows = sorted((row for row in evidence_table() if row.kind == "threshold"), key=lambda row: row.high_ms or 0.0)
    return tuple(note(row, _place(row, low_ms, high_ms), extrapolated=True) for row in rows)


def _place(row: PublishedResult, low_ms: float, high_ms: float) -> str:
    bottom, top = row.low_ms or 0.0, row.high_ms or 0.0
    if high_ms < bottom:
        where = "below"
    elif low_ms > top:
        where = "above"
    elif low_ms >= bottom and high_ms <= top:
        where = "within"
    else:
        where = "on both sides of" if bottom == top else "partly within"
    span = f"{bottom:g} ms" if bottom == top else f"{bottom:g} to {top:g} ms"
    return f"The difference lies {where} {span}: {row.finding} ({row.device})."
