"""From a block that was played to the result that is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from feelcheck.model import Caveat, LiveStick, PlayedStage, RehearsalKind, RehearsalResult
from feelcheck.psychometrics.forced_choice import NO_PROOF_OF_NONE
from feelcheck.psychometrics.numbers import ALPHA
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.choices import ChoiceBlock

__all__ = ["CAUTIONS", "result_of_aiming", "result_of_choices", "result_of_free"]

CAUTIONS = (
    "Keep blocks short, rest between them, and stop at once on pain, tingling or numbness; rest before you go on.",
    "These are trials of what one person tells apart; they are no medical, ergonomic or conformity statement.",
)
SCREEN_UNSEEN = Caveat(
    code="screen_unseen",
    text="The delay of screen and graphics is not seen from here; it is the same for everything that was played.",
)
ONE_PERSON = Caveat(
    code="one_person",
    text="This is one person's threshold, on this stick and screen and on this day; it moves with practice.",
)
ENDED_EARLY = Caveat(
    code="ended_early",
    text="The block was ended before its end: what was answered is kept, but the number of trials was not reached, so "
    "there is no probability by guessing.",
    advice="Play a whole block.",
)
BROKEN_OFF = Caveat(
    code="broken_off",
    text="Some trials were broken off; they are kept, not counted, and were made again with a fresh draw.",
)
SIMULATED = Caveat(code="simulated", text="A simulated observer answered; nobody felt anything.")
NOT_A_RANKING = Caveat(
    code="no_ranking",
    text="Throughput is a measure of this task; differences between people and tasks are larger than those between "
    "sticks.",
)


def _shared(stick: LiveStick, stages: Sequence[PlayedStage], specimens: Sequence[str], seed: int) -> dict[str, Any]:
    return {
        "stick": stick,
        "stages": tuple(stages),
        "specimens": tuple(specimens),
        "seed": seed,
        "date": datetime.now().astimezone().isoformat(timespec="seconds"),
        "cautions": CAUTIONS,
    }


def result_of_choices(
    block: ChoiceBlock,
    *,
    stick: LiveStick,
    specimens: Sequence[str],
    seed: int,
    question: str,
    simulated: bool,
    shown: Mapping[str, Any] | None = None,
) -> RehearsalResult:
    """Return the result of a block of blind trials, finished or ended early.

    Parameters
    ----------
    block : ChoiceBlock
        What was answered.
    stick, specimens, seed, question, simulated
        As in the result.
    shown : Mapping, optional
        latency, n_frames, late_frames and folder, where a window showed it.
    """
    counted = block.counted
    stages = [block.quick] if block.placement is not None else [block.quick, block.slow]
    kind: RehearsalKind = "trials" if block.placement is None else "staircase"
    aborted = not block.finished
    p_value = block.p_value()
    remarks = [SCREEN_UNSEEN]
    remarks += [ONE_PERSON] if kind == "staircase" else []
    remarks += [ENDED_EARLY] if aborted else []
    remarks += [BROKEN_OFF] if len(counted) < len(block.trials) else []
    remarks += [NO_PROOF_OF_NONE] if p_value is not None and p_value > ALPHA else []
    remarks += [SIMULATED] if simulated else []
    return RehearsalResult(
        kind=kind,
        n=len(counted),
        n_correct=sum(trial.right for trial in counted),
        p_value=p_value,
        estimates=block.estimates(),
        intervals=block.intervals(),
        plan=block.plan(),
        trials=tuple(block.trials),
        seal=block.order.seal,
        salt=block.order.salt,
        question=question,
        slowness=block.slowness,
        placement="" if block.placement is None else type(block.placement).__name__,
        aborted=aborted,
        simulated=simulated,
        caveats=tuple(remarks),
        **(shown or {}),
        **_shared(stick, stages, specimens, seed),
    )


def result_of_aiming(
    task: AimingTask,
    *,
    stick: LiveStick,
    specimens: Sequence[str],
    seed: int,
    simulated: bool,
    shown: Mapping[str, Any] | None = None,
) -> RehearsalResult:
    """Return the result of an aiming task, finished or ended early.

    Parameters
    ----------
    task : AimingTask
        The task.
    stick : LiveStick
        The stick in hand.
    specimens : sequence of str
        Names of the specimens played.
    seed : int
        Seed of the order.
    simulated : bool
        Whether a simulated person played.
    shown : mapping of str to Any or None, optional
        Measured latencies of the window.
    """
    remarks = [SCREEN_UNSEEN, NOT_A_RANKING]
    remarks += [] if task.finished else [ENDED_EARLY]
    remarks += [SIMULATED] if simulated else []
    return RehearsalResult(
        kind="aiming",
        n=sum(len(moves) for _, moves in task.sequences),
        estimates=task.estimates(),
        intervals=task.intervals(),
        aborted=not task.finished,
        simulated=simulated,
        caveats=tuple(remarks),
        **(shown or {}),
        **_shared(stick, task.stages, specimens, seed),
    )


def result_of_free(
    *,
    stick: LiveStick,
    stages: Sequence[PlayedStage],
    specimens: Sequence[str],
    seed: int,
    simulated: bool,
    shown: Mapping[str, Any],
) -> RehearsalResult:
    """Return what was played for a free feel: nothing was asked, so nothing is told but the latencies.

    Parameters
    ----------
    stick : LiveStick
        The stick in hand.
    stages : sequence of PlayedStage
        What was played.
    specimens : sequence of str
        Names of the specimens played.
    seed : int
        Seed of the order.
    simulated : bool
        Whether a simulated person played.
    shown : mapping of str to Any
        Measured latencies of the window.
    """
    remarks = (SCREEN_UNSEEN, SIMULATED) if simulated else (SCREEN_UNSEEN,)
    return RehearsalResult(
        kind="free", simulated=simulated, caveats=remarks, **shown, **_shared(stick, stages, specimens, seed)
    )
