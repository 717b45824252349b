"""Blocks played by a simulated person without a window, as fast as it goes."""

from __future__ import annotations

from feelcheck.numerics.played_response import AddedResponse, PlayedAxis
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.choices import ChoiceBlock
from feelcheck.rehearsal.observer import SimulatedObserver
from feelcheck.rehearsal.player import SimulatedPlayer

__all__ = ["aim_alone", "answer_alone"]

INTERVAL_S = 4e-3
LONGEST_S = 8.0


def answer_alone(block: ChoiceBlock, observer: SimulatedObserver) -> None:
    """Let a simulated observer answer a whole block.

    Parameters
    ----------
    block : ChoiceBlock
        The block of trials.
    observer : SimulatedObserver
        Who answers.
    """
    while not block.finished:
        block.take(observer.answer(block.pair()))


def aim_alone(task: AimingTask, player: SimulatedPlayer) -> None:
    """Let a simulated player aim through all sequences, reports of its stick every 4 ms.

    Parameters
    ----------
    task : AimingTask
        The aiming task.
    player : SimulatedPlayer
        Who aims.
    """
    t_s, played = 0.0, (PlayedAxis(AddedResponse()), PlayedAxis(AddedResponse()))
    sequence, selected_s = -1, 0.0
    while not task.finished:
        if sequence != len(task.sequences):
            sequence, selected_s = len(task.sequences), t_s
            x, y = (PlayedAxis(a, interval_s=INTERVAL_S, start_s=t_s) for a in (task.stage.x, task.stage.y))
            played = (x, y)
        t_s += INTERVAL_S
        thumb, selects = player.steer(task, t_s, INTERVAL_S)
        for axis, value in zip(played, thumb, strict=True):
            axis.take(t_s, value)
        task.move(played[0].at(t_s), played[1].at(t_s), INTERVAL_S)
        if selects or t_s - selected_s > LONGEST_S:
            selected_s = t_s
            task.select(t_s)
