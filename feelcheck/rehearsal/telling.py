"""From a block that was played to the result that is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from feelcheck.model import Caveat, LiveStick, PlayedStage, RehearsalResult
from feelcheck.psychometrics.forced_choice import NO_PROOF_OF_NONE
from feelcheck.psychometrics.numbers import ALPHA
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.choices import ChoiceBlock

__all__ = ["CAUTIONS", "Played", "result_of"]

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What a rehearsal played, whatever was asked meanwhile.

    Parameters
    ----------
    stick : LiveStick
        The stick in hand.
    stages : sequence of PlayedStage
        What was played.
    specimens : sequence of str
        Names of what was played.
    seed : int
        Seed of the order.
    simulated : bool
        Whether a simulated person played.
    shown : Mapping of str to Any
        latency, n_frames, late_frames and folder, where a window showed it.
    """

    stick: LiveStick
    stages: Sequence[PlayedStage]
    specimens: Sequence[str]
    seed: int
    simulated: bool
    shown: Mapping[str, Any]


def result_of(played: Played, done: ChoiceBlock | AimingTask | None, question: str) -> RehearsalResult:
    """Return the result of a block of blind trials, an aiming task or a free feel, finished or ended early.

    Parameters
    ----------
    played : Played
        What was played.
    done : ChoiceBlock, AimingTask or None
        What was answered or hit; None where nothing was asked, so that nothing is told but the latencies.
    question : str
        What the trials asked.
    """
    own: dict[str, Any] = {"kind": "free"}
    remarks: list[Caveat] = []
    if isinstance(done, ChoiceBlock):
        own, remarks = _of_choices(done, question)
    elif isinstance(done, AimingTask):
        own, remarks = _of_aiming(done)
    shared = {
        "stick": played.stick,
        "stages": tuple(played.stages),
        "specimens": tuple(played.specimens),
        "seed": played.seed,
        "simulated": played.simulated,
        "date": datetime.now().astimezone().isoformat(timespec="seconds"),
        "cautions": CAUTIONS,
    }
    caveats = (SCREEN_UNSEEN, *remarks, *([SIMULATED] if played.simulated else []))
    return RehearsalResult(**{**shared, **own, **played.shown, "caveats": caveats})


def _of_choices(block: ChoiceBlock, question: str) -> tuple[dict[str, Any], list[Caveat]]:
    counted, p_value = block.counted, block.p_value()
    staircase = block.placement is not None
    remarks = [ONE_PERSON] if staircase else []
    remarks += [] if block.finished else [ENDED_EARLY]
    remarks += [BROKEN_OFF] if len(counted) < len(block.trials) else []
    remarks += [NO_PROOF_OF_NONE] if p_value is not None and p_value > ALPHA else []
    own: dict[str, Any] = {
        "kind": "staircase" if staircase else "trials",
        "stages": (block.quick,) if staircase else (block.quick, block.slow),
        "n": len(counted),
        "n_correct": sum(trial.right for trial in counted),
        "p_value": p_value,
        "estimates": block.estimates(),
        "intervals": block.intervals(),
        "plan": block.plan(),
        "trials": tuple(block.trials),
        "seal": block.order.seal,
        "salt": block.order.salt,
        "question": question,
        "slowness": block.slowness,
        "placement": type(block.placement).__name__ if staircase else "",
        "aborted": not block.finished,
    }
    return own, remarks


def _of_aiming(task: AimingTask) -> tuple[dict[str, Any], list[Caveat]]:
    own: dict[str, Any] = {
        "kind": "aiming",
        "stages": tuple(task.stages),
        "n": sum(len(moves) for _, moves in task.sequences),
        "estimates": task.estimates(),
        "intervals": task.intervals(),
        "aborted": not task.finished,
    }
    return own, [NOT_A_RANKING, *([] if task.finished else [ENDED_EARLY])]
