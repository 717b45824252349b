"""What the window shows of a rehearsal at one instant, and what it can be told."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from feelcheck.rehearsal.aiming import Place

__all__ = ["Command", "RehearsalView", "Stage"]


class Stage(StrEnum):
    """Where a rehearsal is."""

    READY = "ready"
    FREE = "free"
    FIRST = "first"
    BETWEEN = "between"
    SECOND = "second"
    ANSWER = "answer"
    AIM = "aim"
    REST = "rest"
    PAUSED = "paused"
    UNPLUGGED = "unplugged"
    FINISHED = "finished"


class Command(StrEnum):
    """What a person can ask for, by key or button."""

    GO = "go"
    FIRST = "first"
    SECOND = "second"
    PAUSE = "pause"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalView:
    """One instant.

    Parameters
    ----------
    stage : Stage
        Where it is.
    title : str
        Task and how far it is, in words.
    sentence : str
        What to do now.
    more : tuple of str
        Lines below it.
    label : str
        Name of what is felt now: A or B, first or second, or the response itself.
    done, n : int
        Trials or movements done, and how many there are.
    stick, bead : tuple of float
        Where the stick is and where the played output is; fractions of throw, right and up positive.
    state_s : float, s
        The instant of that state.
    cursor, target : tuple of float or None
        When aiming: places in diameters of the ring.
    targets : tuple of Place
        All targets.
    choice : tuple of str and float, or None
        The side to which the stick is held, and how much of the time is over.
    left_s : float, s
        What is left of a rest or an interval.
    trace : tuple
        Instants, stick and output across, for the strip; empty where it would give the answer away.
    right_handed : bool
        On which side the words stand.
    """

    stage: Stage
    title: str
    sentence: str
    more: tuple[str, ...] = ()
    label: str = ""
    done: int = 0
    n: int = 0
    stick: Place = (0.0, 0.0)
    bead: Place = (0.0, 0.0)
    state_s: float = 0.0
    cursor: Place | None = None
    target: Place | None = None
    targets: tuple[Place, ...] = ()
    choice: tuple[str, float] | None = None
    left_s: float = 0.0
    trace: tuple[tuple[float, float, float], ...] = ()
    right_handed: bool = False
    keys: tuple[tuple[str, str], ...] = field(default=())
