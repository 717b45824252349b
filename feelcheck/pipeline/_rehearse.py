"""A rehearsal from references to its result: what is played, by whom, what it told, where it is noted."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from feelcheck.errors import FormatError, SourceError
from feelcheck.model import LiveStick, PlayedStage, RehearsalKind, RehearsalRecord, RehearsalResult, Slowness
from feelcheck.pipeline._played import ideal_stick, stick_of, target_of
from feelcheck.profiles import add_rehearsal, read_profile
from feelcheck.psychometrics import placement_named
from feelcheck.rehearsal.adding import stage_for
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.alone import aim_alone, answer_alone
from feelcheck.rehearsal.choices import QUESTIONS, ChoiceBlock
from feelcheck.rehearsal.observer import SimulatedObserver
from feelcheck.rehearsal.order import SealedOrder
from feelcheck.rehearsal.player import SimulatedPlayer
from feelcheck.rehearsal.telling import result_of_aiming, result_of_choices

__all__ = ["RehearsalAsked", "note_rehearsal", "rehearse"]

PLACEMENTS = ("adaptive", "two_down", "three_down")
USUAL_TRIALS = {"trials": 23, "staircase": 60}
"""23 is where 16 correct rule out guessing at 5 % and four of five true answers are found in nine of ten blocks."""
SEQUENCES_EACH = 4
MOST_TRIALS = 500
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalAsked:
    """What a rehearsal is asked to do.

    Parameters
    ----------
    task : str
        free, trials, staircase or aiming; empty: trials of two references and a staircase of one where an observer is
        simulated, else free.
    own : str
        Recording of the stick in hand; empty: it is measured first.
    n_trials : int or None
        Trials that are to count.
    placement, slowness, question : str
        How a staircase is placed, which way is slowed, what is asked.
    observer_threshold_s : float or None, s
        Threshold of a simulated observer; None for a person.
    seed : int or None
        Seed of order and observer; drawn where it is not given.
    side : {"left", "right"}
        Which stick.
    n_targets : int
        Targets on the ring.
    headless : bool
        No window.
    """

    task: str = ""
    own: str = ""
    n_trials: int | None = None
    placement: str = "adaptive"
    slowness: Slowness = "both"
    question: str = "stop"
    observer_threshold_s: float | None = None
    seed: int | None = None
    side: str = "left"
    n_targets: int = 9
    headless: bool = False


def rehearse(
    references: str | Path | Sequence[str | Path] = (), asked: RehearsalAsked | None = None, *, tell: Say | None = None
) -> RehearsalResult:
    """Let a simulated observer play without a window, and return what it told.

    Parameters
    ----------
    references : str, Path or sequence of them
        What is played: records, states, changes of parts, captures; none: the stick in hand as it is.
    asked : RehearsalAsked, optional
        What is done.
    tell : callable, optional
        Takes a line before the first trial: the fingerprint of the sealed order.

    Raises
    ------
    SourceError
        If nobody is simulated: a person needs the window.
    NotComparableError
        If something is quicker than the stick in hand.
    NotEnoughDataError
        If something has no response.
    FormatError
        If what is asked makes no sense.

    Examples
    --------
    >>> found = rehearse((), RehearsalAsked(observer_threshold_s=0.012, n_trials=20, seed=1))
    >>> found.kind, found.n
    ('staircase', 20)
    """
    asked = asked or RehearsalAsked()
    if asked.observer_threshold_s is None:
        raise SourceError(
            "A person feels a rehearsal in its window; without one only a simulated observer can play.",
            {"window": "none"},
            "Leave --headless out, or give --observer-threshold-ms.",
        )
    several = [str(references)] if isinstance(references, str | Path) else [str(one) for one in references]
    stick = stick_of(asked.own, asked.side) if asked.own else ideal_stick()
    kind, seed = kind_of(asked, len(several)), seed_of(asked)
    stages = stages_of(several, stick, asked.side)
    names = tuple(stage.label for stage in stages)
    if kind == "aiming":
        task = aiming_of(stages, asked, seed)
        aim_alone(task, SimulatedPlayer(seed))
        return result_of_aiming(task, stick=stick, specimens=names, seed=seed, simulated=True)
    if kind == "free":
        raise FormatError(
            "A free feel asks nothing that an observer could answer.",
            {"task": "free"},
            "Give --task trials, staircase or aiming.",
        )
    block = block_of(kind, stages, asked, seed)
    if tell is not None:
        tell(sealed_words(block))
    answer_alone(block, SimulatedObserver(asked.observer_threshold_s, asked.slowness, seed))
    return result_of_choices(
        block, stick=stick, specimens=names, seed=seed, question=QUESTIONS[asked.question], simulated=True
    )


def kind_of(asked: RehearsalAsked, n_references: int) -> RehearsalKind:
    """Return what is done, held against what it needs.

    Raises
    ------
    FormatError
        On an unknown word, or a number that makes no sense.
    """
    words = ((asked.placement, PLACEMENTS), (asked.slowness, get_args(Slowness)), (asked.question, tuple(QUESTIONS)))
    for word, allowed in (*words, (asked.task or "free", get_args(RehearsalKind)), (asked.side, ("left", "right"))):
        if word not in allowed:
            facts: dict[str, object] = {"got": word, "allowed": ", ".join(allowed)}
            raise FormatError("A rehearsal is asked for in known words.", facts, "Choose one of these words.")
    usual = "trials" if n_references > 1 else "staircase"
    kind = asked.task or (usual if asked.observer_threshold_s is not None else "free")
    needs = {"free": (0, 2), "trials": (2, 2), "staircase": (0, 1), "aiming": (0, 2)}[kind]
    if not needs[0] <= n_references <= needs[1]:
        facts = {"task": kind, "got": n_references, "needed": " to ".join(map(str, dict.fromkeys(needs)))}
        raise FormatError("A task plays a certain number of responses.", facts, "Name so many records or captures.")
    threshold_s, n = asked.observer_threshold_s, asked.n_trials
    if (threshold_s is not None and not 0 < threshold_s < 1) or (n is not None and not 1 <= n <= MOST_TRIALS):
        facts = {"threshold": threshold_s, "trials": n, "allowed": f"0 to 1000 ms, 1 to {MOST_TRIALS} trials"}
        raise FormatError("Threshold and number of trials are in a range that makes sense.", facts)
    return kind  # type: ignore[return-value]


def seed_of(asked: RehearsalAsked) -> int:
    """Return the seed that was given, else one drawn now."""
    if asked.seed is not None and asked.seed < 0:
        raise FormatError("A seed is not negative.", {"got": asked.seed}, "Give --seed 0 or more.")
    return secrets.randbelow(2**31) if asked.seed is None else asked.seed


def stages_of(references: Sequence[str], stick: LiveStick, side: str) -> list[PlayedStage]:
    """Return what is added for each reference; for none, nothing: the stick as it is."""
    targets = [target_of(reference, side) for reference in references]
    return [stage_for(target, stick) for target in targets or [stick.response]]


def block_of(kind: RehearsalKind, stages: Sequence[PlayedStage], asked: RehearsalAsked, seed: int) -> ChoiceBlock:
    """Return the block of trials: the slower of two is the one with more delay, rising and falling together."""
    n = asked.n_trials or USUAL_TRIALS[kind]
    order = SealedOrder.drawn(n, seed=seed)
    if kind == "staircase":
        return ChoiceBlock(
            quick=stages[0], slow=stages[0], n_planned=n, order=order, slowness=asked.slowness,
            placement=placement_named(asked.placement),
        )  # fmt: skip
    quick, slow = sorted(stages, key=lambda stage: _delay(stage, asked.slowness))
    return ChoiceBlock(quick=quick, slow=slow, n_planned=n, order=order, slowness=asked.slowness)


def _delay(stage: PlayedStage, ways: Slowness) -> float:
    sides = (stage.added_falling,) if ways == "falling" else (stage.added_rising, stage.added_falling)
    return sum(side.value or 0.0 for side in sides)


def aiming_of(stages: Sequence[PlayedStage], asked: RehearsalAsked, seed: int) -> AimingTask:
    """Return the aiming task.

    Raises
    ------
    FormatError
        If the number of targets is even or below five.
    """
    order = AimingTask.balanced_order(len(stages), SEQUENCES_EACH, seed=seed)
    try:
        return AimingTask(stages=tuple(stages), n_targets=asked.n_targets, order=order)
    except ValueError as error:
        raise FormatError(
            "Aiming needs an odd number of targets from five on, so that every movement is equally long.",
            {"got": asked.n_targets},
            "Give --targets 9.",
        ) from error


def sealed_words(block: ChoiceBlock) -> str:
    """Return the fingerprint of the order in words, as told before the first trial."""
    plan = block.plan()
    shows = ""
    if "least_correct" in plan:
        shows = (
            f" {plan['least_correct']:g} of {plan['n']:g} correct rule out guessing (5 %); one who is right in four of "
            f"five trials reaches that in {100 * plan['power_at_80']:.0f} of 100 blocks."
        )
    elif plan:
        shows = f" So few trials ({plan['n']:g}) cannot rule out guessing, whatever the answers."
    return f"Order sealed; SHA-256 {block.order.seal}.{shows}"


def note_rehearsal(path: Path, result: RehearsalResult, *, person: str = "") -> None:
    """Note a result in a specimen's record.

    Raises
    ------
    ProfileError
        If it is there already, or the record is none.
    """
    read_profile(path)
    add_rehearsal(path, _record_of(result, person))


def _record_of(result: RehearsalResult, person: str) -> RehearsalRecord:
    return RehearsalRecord(
        kind=result.kind,
        seal=result.seal or f"{result.kind} {result.date} {result.seed}",
        date=result.date,
        specimens=result.specimens,
        person=person,
        slowness=result.slowness,
        placement=result.placement,
        n=result.n or 0,
        n_correct=result.n_correct,
        p_value=result.p_value,
        seed=result.seed,
        aborted=result.aborted,
        simulated=result.simulated,
        estimates={name: replace(estimate, caveats=()) for name, estimate in result.estimates.items()},
        intervals=result.intervals,
    )
