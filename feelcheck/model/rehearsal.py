"""A stick played through a response: what was played, what was answered, what it tells."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

from feelcheck.model.estimate import Caveat, Estimate
from feelcheck.model.presented import Presented

__all__ = [
    "LiveStick",
    "PlayedStage",
    "RehearsalKind",
    "RehearsalRecord",
    "RehearsalResult",
    "Slowness",
    "TargetAxis",
    "TargetResponse",
    "Trial",
]

RehearsalKind = Literal["free", "trials", "staircase", "aiming"]
Slowness = Literal["both", "falling"]
"""Which way is slowed: code rising and falling alike, or falling alone."""
StageMode = Literal["as_it_is", "exact", "equal_delay"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetAxis:
    """A response of one axis as it can be played; times in seconds.

    Parameters
    ----------
    rising, falling : Estimate, s
        Smoothing delay when the logged code rises and falls.
    rising_poles_s, falling_poles_s : tuple of float, s
        Its poles, one or two; empty where it has none.
    dead_time_s, refresh_s : float, s
        Pure delay, and interval at which the output is taken and held; 0 for none.
    step_fraction : float
        One step of the code as a fraction of full throw; 0 where it is not known or finer than any other.
    """

    rising: Estimate
    falling: Estimate
    rising_poles_s: tuple[float, ...] = ()
    falling_poles_s: tuple[float, ...] = ()
    dead_time_s: float = 0.0
    refresh_s: float = 0.0
    step_fraction: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetResponse:
    """What a record, a capture or a change of parts would feel like: across and up-down."""

    label: str
    origin: str
    x: TargetAxis
    y: TargetAxis
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveStick:
    """The stick in hand: what it adds already.

    Parameters
    ----------
    response : TargetResponse
        Its own response.
    one_pole : bool
        Whether that is one pole each way, so that it can be undone exactly.
    report_interval_s : float, s
        Its report interval.
    rest_noise_fraction : float
        Standard deviation at rest, as a fraction of full throw.
    known_from : str
        Where this is known from, in words.
    """

    response: TargetResponse
    one_pole: bool
    report_interval_s: float
    rest_noise_fraction: float = 0.0
    known_from: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedStage:
    """What software adds so that stick and stage together answer like a target.

    Parameters
    ----------
    label : str
        The target's.
    mode : {"as_it_is", "exact", "equal_delay"}
        Nothing added; equal to the target; equal to it in mean delay only.
    added_rising, added_falling : Estimate, s
        Mean delay that is added across.
    x, y : Any
        The added responses of the two axes, as `feelcheck.numerics` plays them.
    caveats : tuple of Caveat
        What is not as in the target.
    """

    label: str
    mode: StageMode
    added_rising: Estimate
    added_falling: Estimate
    x: Any
    y: Any
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One blind trial: what was played first and second, what was answered.

    Parameters
    ----------
    number : int
        From 1, in the order they were made.
    first, second : str
        What was played.
    slower : {"first", "second"}
        Which one truly was slower.
    answer : {"first", "second", ""}
        What was answered; empty where the trial was broken off.
    added_s : float or None, s
        By how much the slower one was slower, where that was chosen trial by trial.
    counted : bool
        Whether it counts.
    why_not : str
        Why not.
    """

    number: int
    first: str
    second: str
    slower: Literal["first", "second"]
    answer: Literal["first", "second", ""] = ""
    added_s: float | None = None
    counted: bool = True
    why_not: str = ""

    @property
    def right(self) -> bool:
        """Whether the slower one was named."""
        return self.answer == self.slower


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalResult(Presented):
    """The result of `feelcheck rehearse`.

    Parameters
    ----------
    kind : {"free", "trials", "staircase", "aiming"}
        What was done.
    specimens : tuple of str
        What was played, in the order given.
    slowness, question, placement : str
        Which way was slowed, what was asked, and how the trials were placed, where that applies.
    stick : LiveStick
        The stick in hand.
    stages : tuple of PlayedStage
        What was added.
    n, n_correct : int or None
        Trials that count (or aimed movements), and correct answers.
    p_value : float or None
        Probability of so many correct answers by guessing; None where the number was not fixed or not reached.
    estimates : Mapping[str, Estimate]
        proportion_correct, sensitivity, threshold, throughput, throughput_a, error_rate_a, effective_width_a, ...
    intervals : Mapping[str, tuple of float]
        Exact 95 % intervals where the estimate's own would be symmetric: shares and what follows from them.
    latency : Mapping[str, Estimate]
        report_to_state and state_to_frame, s; empty where nothing was shown.
    n_frames, late_frames : int
        Frames shown, and those that came more than half a frame late.
    plan : Mapping[str, float]
        n, least_correct, alpha and power by share, as fixed beforehand.
    trials : tuple of Trial
        All of them, those that do not count too.
    seal, salt : str
        SHA-256 of salt and order, told before the first trial, and the salt, told after the last.
    seed : int
        Seed of the order and of a simulated observer.
    aborted : bool
        Whether it was ended before its end.
    simulated : bool
        Whether a simulated observer answered.
    """

    kind: RehearsalKind
    specimens: tuple[str, ...]
    stick: LiveStick
    stages: tuple[PlayedStage, ...]
    seed: int
    slowness: str = ""
    question: str = ""
    placement: str = ""
    n: int | None = None
    n_correct: int | None = None
    p_value: float | None = None
    estimates: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    intervals: Mapping[str, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))
    latency: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    n_frames: int = 0
    late_frames: int = 0
    plan: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    trials: tuple[Trial, ...] = ()
    seal: str = ""
    salt: str = ""
    aborted: bool = False
    simulated: bool = False
    date: str = ""
    folder: str = ""
    caveats: tuple[Caveat, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalRecord:
    """What a specimen's record keeps of a rehearsal; estimates in SI units, keyed by quantity.

    `seal` is the fingerprint of the sealed order: the same block is not noted twice.
    """

    kind: RehearsalKind
    seal: str
    date: str = ""
    specimens: tuple[str, ...] = ()
    person: str = ""
    slowness: str = ""
    placement: str = ""
    n: int = 0
    n_correct: int | None = None
    p_value: float | None = None
    seed: int = 0
    aborted: bool = False
    simulated: bool = False
    estimates: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    intervals: Mapping[str, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))
