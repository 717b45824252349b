"""What a window or a terminal shows of a guided recording at one instant."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from feelcheck.capturing.sticks import Pad
from feelcheck.model import Step
from feelcheck.recorder.guide.verdicts import Verdict

__all__ = ["CHOICES", "Command", "GuideView", "Mark", "SoFar", "Stage"]


class Mark(StrEnum):
    """What became of one try."""

    COUNTS = "counts"
    AGAIN = "asked again"
    OUT = "left out"


class Stage(StrEnum):
    """Where a guided recording is."""

    READY = "ready"
    ASKING = "asking"
    BREAK = "break"
    PAUSED = "paused"
    UNPLUGGED = "unplugged"
    FINISHED = "finished"


class Command(StrEnum):
    """What a person can ask for, by a key or by the pad."""

    GO = "go"
    REPEAT = "repeat"
    SKIP = "skip"
    STOP = "stop"


CHOICES = {"up": Command.GO, "left": Command.REPEAT, "right": Command.SKIP, "down": Command.STOP}
"""What a stick held to a side chooses while the recording is paused."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoFar:
    """What the flicks of a recording say so far, in words.

    Parameters
    ----------
    flick : str
        Which smoothing the rim allows in the last flick that counted (``"8 to 11 ms"``); empty where it says nothing.
    ways : tuple of (str, str, str)
        Axis, ``"rising"`` or ``"falling"``, and the pooled smoothing delay with its interval.
    lines : tuple of str
        What the finished session says, and what changed since the last one.
    picture : str
        File of its card.
    done : bool
        Whether the finished session was worked out.
    """

    flick: str = ""
    ways: tuple[tuple[str, str, str], ...] = ()
    lines: tuple[str, ...] = ()
    picture: str = ""
    done: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideView:
    """One instant.

    Parameters
    ----------
    stage : Stage
        Where the recording is.
    sentence : str
        What to do now.
    step : Step or None
        The action asked now.
    attempt : int
        The how many-th try it is.
    progress : float
        How much of the action is done, 0 to 1 (the hold, the turn, the rest).
    left_s : float
        What is left of a break or before the start, s; infinite where the person goes on when ready.
    verdict : Verdict or None
        What was made of the action before.
    judged : str
        That action, in words.
    block, n_blocks, block_name : int, int, str
        Which block it is, from 1; 0 for what comes before the first one.
    done, n_steps : int
        Steps done of the script.
    accepted, rejected, skipped : int
        Counts of flicks, turns, holds and rests.
    flicks : int
        Flicks that counted.
    next_try : bool
        Whether what was rejected will be asked again.
    choice : (str, float) or None
        The side to which a stick is held in the pause, and for what part of the time it takes.
    elapsed_s : float
        Since the start, s.
    now_s : float
        Up to which instant the rows were seen, on the clock of the sticks' samples.
    tied : bool
        Whether the sticks are tied together.
    ledger : tuple
        Each block's name and what became of each try in it, in order.
    pad : Pad
        The sticks.
    """

    stage: Stage
    sentence: str
    step: Step | None
    pad: Pad
    attempt: int = 1
    progress: float = 0.0
    left_s: float = 0.0
    verdict: Verdict | None = None
    judged: str = ""
    next_try: bool = False
    block: int = 1
    n_blocks: int = 1
    block_name: str = ""
    done: int = 0
    n_steps: int = 1
    accepted: int = 0
    rejected: int = 0
    skipped: int = 0
    flicks: int = 0
    choice: tuple[str, float] | None = None
    elapsed_s: float = 0.0
    now_s: float = 0.0
    tied: bool = False
    ledger: tuple[tuple[str, tuple[Mark, ...]], ...] = ()
