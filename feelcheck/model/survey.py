"""Many sessions, logs and captures in one table, and what they say of the population they were taken from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from feelcheck.model.presented import Presented

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "BatchMean",
    "ControlChart",
    "Outlier",
    "Placement",
    "Population",
    "PopulationQuantity",
    "StickPair",
    "StickValue",
    "SurveyResult",
    "SurveyedFile",
    "ToleranceLimits",
]

Cell = str | float | bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyedFile:
    """What came of one session, log or capture.

    Parameters
    ----------
    path, kind : str
        Where it is; ``"session"``, ``"log"``, ``"capture"``, empty where nothing could make sense of it.
    sha256 : str
        Hash of what was read.
    rows : tuple of Mapping[str, cell]
        One an axis and direction, or one with the reason.
    reason : str
        Why it could not be measured, in one line; empty if it was.
    unchanged : bool
        Whether it is the same file as in an older table, so that its rows there stand and it was not measured again.
    """

    path: str
    kind: str
    sha256: str
    rows: tuple[Mapping[str, Cell], ...] = ()
    reason: str = ""
    unchanged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceLimits:
    """Limits that hold a share of a population with a confidence; `low` is None where there is one side only.

    Parameters
    ----------
    low, high : float or None, float
        In the quantity's display unit.
    share, confidence : float
        Between 0 and 1.
    shape : {"normal", "log_normal", "distribution_free"}
        What was assumed of the population.
    """

    low: float | None
    high: float
    share: float
    confidence: float
    shape: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StickValue:
    """One stick's value of a quantity: the mean over its axes and recordings.

    Parameters
    ----------
    name, batch : str
        What the stick is called (specimen, and which stick of a pad), and the batch it belongs to.
    value, u : float or None
        Value and standard uncertainty; None where only a bound is known.
    at_most, at_least : float or None
        The bound.
    n_recordings : int
        How many recordings stand behind it.
    """

    name: str
    batch: str = ""
    value: float | None = None
    u: float | None = None
    at_most: float | None = None
    at_least: float | None = None
    n_recordings: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A stick that stands off: its value and how many robust standard deviations it lies from the median."""

    name: str
    value: float
    deviations: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchMean:
    """Mean of a batch with the 95 % interval of it (None where the batch has one stick)."""

    batch: str
    n: int
    mean: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlChart:
    """Individuals in the order in which they were recorded.

    Parameters
    ----------
    names, batches, recorded : tuple of str
        Of each point.
    values : tuple of float
        Of each point.
    centre, low, high : float
        Mean and limits from the moving ranges.
    beyond, runs : tuple of int
        Places of points beyond a limit, and of points that end a run of eight on one side of the centre.
    dated : bool
        Whether every point has a date; else those without one stand behind, by path.
    """

    names: tuple[str, ...]
    batches: tuple[str, ...]
    recorded: tuple[str, ...]
    values: tuple[float, ...]
    centre: float
    low: float
    high: float
    beyond: tuple[int, ...] = ()
    runs: tuple[int, ...] = ()
    dated: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class PopulationQuantity:
    """One quantity over a population of sticks.

    Parameters
    ----------
    quantity, unit, direction : str
        Name, display unit, electrical direction (empty where it has none).
    group, state : str
        ``"hand"`` or ``"bench"``; state of the sticks.
    sticks : tuple of StickValue
        Every stick, by name.
    median, sd : float or None
        Of the sticks with a value.
    measured_u : float or None
        Median of the measurements' own standard uncertainties, which are part of the spread.
    below : tuple of ToleranceLimits
        One-sided: which share lies below what.
    between : ToleranceLimits or None
        Two-sided.
    outliers : tuple of Outlier
        By a robust rule.
    outlier_limit : float
        How many robust standard deviations it takes.
    false_alarm : float
        How probable it is that a clean normal population of this size shows any.
    batches : tuple of BatchMean
        Where there are at least two.
    chart : ControlChart or None
        Where there are enough recordings.
    """

    quantity: str
    unit: str
    direction: str
    group: str
    state: str
    sticks: tuple[StickValue, ...]
    median: float | None
    sd: float | None
    measured_u: float | None
    below: tuple[ToleranceLimits, ...] = ()
    between: ToleranceLimits | None = None
    outliers: tuple[Outlier, ...] = ()
    outlier_limit: float = 0.0
    false_alarm: float = 0.0
    batches: tuple[BatchMean, ...] = ()
    chart: ControlChart | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StickPair:
    """Two sticks that match: the largest difference between them, and the standard uncertainty of that difference."""

    first: str
    second: str
    difference: float
    u: float
    at: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Population:
    """What a table says of the population.

    Parameters
    ----------
    simulated : bool
        Whether these sticks are simulated; real and simulated ones are never mixed.
    left_out : int
        How many simulated files were left out because there are real ones.
    copies : int
        How many files were left out because they hold the same as one before them.
    quantities : tuple of PopulationQuantity
        The main ones first.
    pairs : tuple of StickPair
        The best matches, each stick once.
    """

    simulated: bool
    left_out: int
    copies: int = 0
    quantities: tuple[PopulationQuantity, ...]
    pairs: tuple[StickPair, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where a new result lies in a population.

    Parameters
    ----------
    name, quantity, direction : str
        Which stick, what of it.
    share, low, high : float
        Which share of the population lies below it, with the 95 % interval of that share.
    n : int
        Size of the population.
    group, state : str
        Which population.
    """

    name: str
    quantity: str
    direction: str
    share: float
    low: float
    high: float
    n: int
    group: str
    state: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurveyResult(Presented):
    """The result of `feelcheck survey`.

    Parameters
    ----------
    table, page : str
        Where they were written; the page is empty where the survey was broken off.
    columns : tuple of str
        Of the table, in order.
    rows : sequence of Mapping[str, cell]
        The table, by path, axis and direction.
    n_measured, n_unchanged, n_left : int
        Files measured now, files whose rows stand from before, files not yet looked at.
    others : int
        Files below the paths that are no session, log or capture.
    population : Population
        What the table says.
    """

    table: str
    page: str
    columns: tuple[str, ...]
    rows: Sequence[Mapping[str, Any]]
    n_measured: int
    n_unchanged: int
    n_left: int
    others: int
    population: Population
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def to_frame(self) -> pd.DataFrame:
        """Return the table itself as a pandas table."""
        frame: pd.DataFrame = import_module("feelcheck.formats.survey_table").frame_of_rows(self.rows, self.columns)
        return frame

    @property
    def interrupted(self) -> bool:
        """Whether it was broken off."""
        return self.n_left > 0
