"""The true motion of one stick: planned movements carried out against the gimbal."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.gimbal import STEP_S, Gimbal, after_contact, free_return, rim_radius
from feelcheck.sources.synthetic.thumb import LEAD_S, Move, Thumb, minimum_jerk, tremor

__all__ = ["Contact", "Stage", "StickMotion", "coupled", "stick_motion"]

GRIP = 0.2
"""How much of the tremor along the rim is left while the stick is pressed against it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """One impact on the rim: instant, direction and radial speed (throws/s)."""

    t_s: float
    direction_deg: float
    speed: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StickMotion:
    """Where a stick truly was.

    Parameters
    ----------
    xy : ndarray, shape (2, n)
        Position on the fine grid of step STEP_S, in throws.
    contacts : tuple of Contact
        Impacts on the rim.
    release_s : tuple of float
        Instants of letting go.
    rests : tuple of (float, float)
        Stretches (s) in which nobody touches the stick and it stands still.
    """

    xy: FloatArray
    contacts: tuple[Contact, ...]
    release_s: tuple[float, ...]
    rests: tuple[tuple[float, float], ...]


def stick_motion(
    thumb: Thumb, gimbal: Gimbal, moves: list[Move], duration_s: float, rng: np.random.Generator
) -> StickMotion:
    """Carry out the moves and return the motion on the fine grid.

    Parameters
    ----------
    thumb : Thumb
        How the person moves.
    gimbal : Gimbal
        Spring, friction and mass of the stick.
    moves : list of Move
        The movements, in time order.
    duration_s : float, s
        How long.
    rng : Generator
        Source of all draws.
    """
    n = round(duration_s / STEP_S)
    xy = np.zeros((2, n))
    stage = Stage(thumb, gimbal, rng)
    moves = [move for move in moves if move.kind != "press"]
    starts = np.maximum.accumulate([min(n, round(move.start_s / STEP_S)) for move in moves] or [n]).tolist()
    stage.note_rest(0.0, starts[0] * STEP_S)
    for move, first, last in zip(moves, starts, [*starts[1:], n], strict=False):
        if last > first:
            xy[:, first:last] = stage.carry_out(move, last - first)
            stage.here = (float(xy[0, last - 1]), float(xy[1, last - 1]))
    return StickMotion(
        xy=coupled(gimbal, xy),
        contacts=tuple(stage.contacts),
        release_s=tuple(stage.release_s),
        rests=tuple(stage.rests),
    )


def coupled(gimbal: Gimbal, xy: FloatArray) -> FloatArray:
    """Return the deflections of both axes, shape (2, n), with what each shows of the other.

    Parameters
    ----------
    gimbal : Gimbal
        With its coupling.
    xy : ndarray, shape (2, n)
        Deflections, throws.
    """
    return xy + gimbal.coupling_fraction * xy[::-1] if gimbal.coupling_fraction else xy


class Stage:
    """Carries out one movement of a stick after the other and keeps the book.

    Parameters
    ----------
    thumb, gimbal : Thumb, Gimbal
        Who moves, and what.
    rng : Generator
        Draws what the movements leave open.
    """

    def __init__(self, thumb: Thumb, gimbal: Gimbal, rng: np.random.Generator) -> None:
        self.thumb, self.gimbal, self.rng = thumb, gimbal, rng
        self.here = (0.0, 0.0)
        self.held = False
        self.contacts: list[Contact] = []
        self.release_s: list[float] = []
        self.rests: list[tuple[float, float]] = []

    def note_rest(self, start_s: float, end_s: float) -> None:
        """Note a stretch in which nobody touches the stick.

        Parameters
        ----------
        start_s, end_s : float, s
            Its ends; an empty one is not noted.
        """
        if end_s > start_s:
            self.rests.append((start_s, end_s))

    def carry_out(self, move: Move, n: int) -> FloatArray:
        """Return where a movement leads from `here`, shape (2, n) on the fine grid, in throws.

        Parameters
        ----------
        move : Move
            What the thumb does.
        n : int
            Steps of the fine grid.
        """
        if move.kind == "release":
            return self._let_go(move, n)
        self.held = True
        return self._roll(move, n) if move.kind == "roll" else self._flick(move, n)

    def _let_go(self, move: Move, n: int) -> FloatArray:
        xy = np.stack([free_return(self.gimbal, start, n) for start in self.here])
        if self.held:
            self.release_s.append(move.start_s)
        moving = np.flatnonzero(np.any(np.abs(xy - xy[:, -1:]) > 1e-6, axis=0))
        settled = int(moving[-1]) + 1 if moving.size else 0
        self.note_rest(move.start_s + settled * STEP_S, move.start_s + n * STEP_S)
        self.held = False
        return xy

    def _flick(self, move: Move, n: int) -> FloatArray:
        t_s = STEP_S * np.arange(n, dtype=np.float64)
        shaken = tremor(self.thumb, t_s, self.rng)
        shaken -= shaken[:, :1]
        share = minimum_jerk(t_s / move.duration_s)
        target = (move.aim_fs * math.cos(move.direction_rad), move.aim_fs * math.sin(move.direction_rad))
        xy = np.stack([here + (there - here) * share for here, there in zip(self.here, target, strict=True)])
        return self._against_rim(move, xy + shaken, t_s, shaken)

    def _against_rim(self, move: Move, xy: FloatArray, t_s: FloatArray, shaken: FloatArray) -> FloatArray:
        radius, angle = np.hypot(*xy), np.arctan2(xy[1], xy[0])
        outside = radius >= rim_radius(self.gimbal, angle)
        inside = np.flatnonzero(~outside)
        begin = int(inside[0]) if inside.size else 0
        hits = np.flatnonzero(outside[begin:])
        if not hits.size:
            return xy
        k = begin + int(hits[0])
        speed = max(0.0, float(radius[k] - radius[max(k - 1, 0)]) / STEP_S)
        at = float(angle[k])
        along = GRIP * (-math.sin(at) * shaken[0, k:] + math.cos(at) * shaken[1, k:])
        pressed_r, pressed_angle = after_contact(self.gimbal, t_s[k:] - t_s[k], at, speed, self.rng)
        pressed_angle = pressed_angle + along - along[0]
        xy[:, k:] = pressed_r * np.cos(pressed_angle), pressed_r * np.sin(pressed_angle)
        contact_s = move.start_s + float(t_s[k])
        self.contacts.append(Contact(t_s=contact_s, direction_deg=math.degrees(at) % 360.0, speed=speed))
        return xy

    def _roll(self, move: Move, n: int) -> FloatArray:
        """Move to the rim, go round it, stay there."""
        t_s = STEP_S * np.arange(n, dtype=np.float64)
        share = minimum_jerk(t_s / LEAD_S)
        u = np.clip((t_s - LEAD_S) / move.duration_s, 0.0, 1.0)
        angle = move.direction_rad + 2.0 * math.pi * move.turns * (u - 0.15 * np.sin(2.0 * math.pi * u) / math.pi)
        shaken = tremor(self.thumb, t_s, self.rng)
        shaken -= shaken[:, :1]
        angle = angle + GRIP * share * shaken[0]
        radius = rim_radius(self.gimbal, angle) * (1.0 + 0.5 * self.gimbal.compliance_fs * share)
        goal = np.stack([radius * np.cos(angle), radius * np.sin(angle)])
        return np.stack([here * (1.0 - share) + share * row for here, row in zip(self.here, goal, strict=True)])
