"""Why a number is what it is: the result of `feelcheck why`."""

from __future__ import annotations

from dataclasses import dataclass

from feelcheck.model.comparison import MetricComparison
from feelcheck.model.estimate import Estimate
from feelcheck.model.presented import Presented

__all__ = ["Decider", "Explained", "Why"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Decider:
    """A number of the tool that had a say.

    Parameters
    ----------
    name : str
        As in the room's module of numbers.
    value : float
        In `unit`.
    unit, reason : str
        Its unit, and why it has this value.
    command : str
        Counts what another value would do; empty where the value is not found by trial.
    sets : str
        Words of the term that it sets; empty where it decided the status or a verdict.
    """

    name: str
    value: float
    unit: str
    reason: str
    command: str = ""
    sets: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """One number, and all that made it.

    Parameters
    ----------
    part, axis, direction : str
        Where it stands; empty where it has none.
    estimate : Estimate
        The number; its terms and remarks are in it.
    deciders : tuple of Decider
        Numbers that decided its status, set a term, or gave a verdict.
    compared : MetricComparison or None
        The row of a comparison, where that was asked for.
    """

    part: str
    axis: str
    direction: str
    estimate: Estimate
    deciders: tuple[Decider, ...] = ()
    compared: MetricComparison | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Why(Presented):
    """Every number of one quantity of a file, or of its difference to another.

    Parameters
    ----------
    path, quantity : str
        What was asked.
    against : str
        The baseline of a comparison; empty for a file alone.
    numbers : tuple of Explained
        One an axis and direction.
    """

    path: str
    quantity: str
    numbers: tuple[Explained, ...]
    against: str = ""
