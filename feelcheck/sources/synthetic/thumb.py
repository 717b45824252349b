"""The thumb: what it was asked, when it reacts, how it moves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from feelcheck.model import Action, FloatArray, Script, Step

__all__ = ["Move", "MoveKind", "Thumb", "minimum_jerk", "plan_moves", "planned", "tremor"]

MoveKind = Literal["flick", "release", "roll", "press"]
LEAD_S = 0.4
EASY = 1.4
"""How much longer an easy flick takes than a quick one."""
KINDS: dict[Action, MoveKind] = {
    Action.FLICK: "flick",
    Action.RELEASE: "release",
    Action.REST: "release",
    Action.PAUSE: "release",
    Action.END: "release",
    Action.ROLL: "roll",
    Action.CIRCLE: "roll",
    Action.PRESS: "press",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Thumb:
    """How the person moves.

    Parameters
    ----------
    flick_s, slow_s : tuple of float, s
        Shortest and longest duration of a quick and of a slow movement; drawn evenly on a log scale.
    aim_fs : tuple of float
        How far beyond the centre the movement is aimed, in throws; more than 1 means into the rim.
    reaction_s, reaction_spread_s : float, s
        Mean and standard deviation of the delay from a request to the movement; never below 0.12 s.
    spread_deg : float
        Standard deviation of done minus asked direction.
    tremor_fs : float
        Rms of the tremor of each axis while the thumb is on the stick, in throws.
    tremor_hz : tuple of float, Hz
        Band of the tremor.
    """

    flick_s: tuple[float, float] = (0.06, 0.25)
    slow_s: tuple[float, float] = (0.6, 1.1)
    aim_fs: tuple[float, float] = (1.15, 1.6)
    reaction_s: float = 0.25
    reaction_spread_s: float = 0.04
    spread_deg: float = 5.0
    tremor_fs: float = 0.002
    tremor_hz: tuple[float, float] = (8.0, 12.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One planned movement: when it starts, how long it takes, where it is aimed, how often it goes round the rim."""

    kind: MoveKind
    start_s: float
    duration_s: float = 0.0
    direction_rad: float = 0.0
    aim_fs: float = 0.0
    turns: float = 1.0


def minimum_jerk(u: FloatArray) -> FloatArray:
    """Return the covered part of a minimum-jerk movement at the elapsed part u, both from 0 to 1.

    Parameters
    ----------
    u : ndarray, shape (n,)
        Elapsed part of the movement, 0 to 1.

    References
    ----------
    Flash & Hogan, J. Neurosci. 5 (1985) 1688-1703.

    Examples
    --------
    >>> minimum_jerk(np.array([0.0, 0.5, 1.0])).tolist()
    [0.0, 0.5, 1.0]
    """
    u = np.clip(u, 0.0, 1.0)
    covered: FloatArray = u**3 * (10.0 - 15.0 * u + 6.0 * u * u)
    return covered


def plan_moves(thumb: Thumb, script: Script, stick: str, rng: np.random.Generator) -> list[Move]:
    """Return the movements of one stick's thumb that the script leads to, in time order.

    A hold asks for nothing new; a rest, a pause and the end let go.

    Parameters
    ----------
    thumb : Thumb
        How the person moves.
    script : Script
        What is asked.
    stick : str
        ``"left"`` or ``"right"``.
    rng : Generator
        Source of all draws.
    """
    moves: list[Move] = []
    shown_s = 0.0
    for step in script.steps:
        move = planned(thumb, step, stick, shown_s, rng)
        if move is not None:
            moves.append(move)
        shown_s += step.duration_s
    return moves


def planned(thumb: Thumb, step: Step, stick: str, shown_s: float, rng: np.random.Generator) -> Move | None:
    """Return how one stick's thumb answers a request shown at an instant, None where it stays as it is.

    Parameters
    ----------
    thumb : Thumb
        How the person moves.
    step : Step
        What is asked.
    stick : str
        ``"left"`` or ``"right"``.
    shown_s : float, s
        When the request is shown.
    rng : Generator
        Source of all draws.
    """
    applies = step.stick in (stick, "both", "") or step.action in (Action.PAUSE, Action.END)
    if not applies or step.action not in KINDS:
        return None
    reaction_s = max(0.12, rng.normal(thumb.reaction_s, thumb.reaction_spread_s))
    asked_deg = rng.uniform(0.0, 360.0) if step.direction_deg is None else step.direction_deg
    low, high = thumb.slow_s if step.pace == "slow" else thumb.flick_s
    duration_s = math.exp(rng.uniform(math.log(low), math.log(high))) * (EASY if step.pace == "easy" else 1.0)
    if KINDS[step.action] == "roll":
        duration_s = max(0.5, step.duration_s - reaction_s - LEAD_S - 0.2)
    return Move(
        kind=KINDS[step.action],
        start_s=shown_s + reaction_s,
        duration_s=duration_s,
        direction_rad=math.radians(rng.normal(asked_deg, thumb.spread_deg)),
        aim_fs=rng.uniform(*thumb.aim_fs),
    )


def tremor(thumb: Thumb, t_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return the tremor of both axes at instants t_s, shape (2, n), in throws: three tones in the tremor band.

    Parameters
    ----------
    thumb : Thumb
        How far and how quickly it trembles.
    t_s : ndarray, shape (n,)
        Instants, s.
    rng : numpy.random.Generator
        Source of tones and phases.
    """
    frequency_hz = rng.uniform(*thumb.tremor_hz, (2, 3))
    phase = rng.uniform(0.0, 2.0 * math.pi, (2, 3))
    amplitude = thumb.tremor_fs * math.sqrt(2.0 / 3.0)
    shaken = np.zeros((2, t_s.size))
    if amplitude > 0.0:
        for axis in range(2):
            for tone in range(3):
                shaken[axis] += amplitude * np.sin(2.0 * math.pi * frequency_hz[axis, tone] * t_s + phase[axis, tone])
    return shaken
