"""A sitting at the bench: the captures that landed in a watched folder, one after another."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from feelcheck.model.bench import BenchResult
from feelcheck.model.comparison import MetricComparison

__all__ = ["Landed", "Sitting"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Landed:
    """A file that landed.

    Parameters
    ----------
    path : Path
        Where it is.
    at : str
        Time of day.
    result : BenchResult or None
        None where it is no capture, or not finished.
    beside : tuple of MetricComparison
        Differences to the capture that the sitting is held against.
    again : bool
        Whether it was measured before and went on.
    problem : str
        Why there is no result, or what is odd about the file.
    """

    path: Path
    at: str
    result: BenchResult | None = None
    beside: tuple[MetricComparison, ...] = ()
    again: bool = False
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sitting:
    """All that landed in one folder while it was watched.

    Parameters
    ----------
    folder : Path
        The folder.
    reference : str
        Name of the capture that the others were held against; empty before the first.
    landed : tuple of Landed
        In order; a capture that went on stands once.
    """

    folder: Path
    reference: str = ""
    landed: tuple[Landed, ...] = ()

    @property
    def results(self) -> tuple[BenchResult, ...]:
        """The captures that were measured."""
        return tuple(one.result for one in self.landed if one.result is not None)
