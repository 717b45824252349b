"""A simulated person who is asked for one action at a time, and what the pad then sends."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray, Step
from feelcheck.sources.synthetic.electronics import FORGOTTEN
from feelcheck.sources.synthetic.gimbal import STEP_S, backlash
from feelcheck.sources.synthetic.motion import Contact, Stage, StickMotion, coupled
from feelcheck.sources.synthetic.reports import arrivals, surviving
from feelcheck.sources.synthetic.scene import World
from feelcheck.sources.synthetic.thumb import Move, planned
from feelcheck.sources.synthetic.world import PRESS_S, Button, slot_codes

__all__ = ["AHEAD_S", "LivePerson", "Stretch"]

AHEAD_S = 1.5
"""How far beyond the end of a movement the sticks are planned to stand still."""
TURNS = 1.2
"""Asked to go once round, one goes on a little until one is told that it was enough."""
SETTLE_S = 0.2
"""Added to the memory of poles and filters, for averages, holds and the converter's scan."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """What the pad sends from an instant on, in place of whatever was planned for then.

    Parameters
    ----------
    begin_s : float, s
        From when on.
    sent_s : ndarray, shape (n,), s
        When each report leaves.
    codes : ndarray of int64, shape (n, n_axes)
        What the reports say.
    buttons : tuple of (float, str, int)
        Instant (s), name and value of each button change.
    """

    begin_s: float
    sent_s: FloatArray
    codes: NDArray[np.int64]
    buttons: tuple[Button, ...]


class LivePerson:
    """Moves the sticks of a simulated pad as requests come in.

    Parameters
    ----------
    world : World
        Person, mechanics, electronics, reports.
    rng : Generator
        Draws everything.

    Notes
    -----
    At each request the motion from the person's reaction on is planned anew, and the electronics are run over it with
    a run-up long enough for them to have forgotten where it starts; reports before the reaction stay as they were.
    Phases of a sensor's own refresh are drawn anew at each request, while the sticks stand still.
    """

    def __init__(self, world: World, rng: np.random.Generator) -> None:
        self.world, self._rng = world, rng
        self._stages = [Stage(world.thumb, world.gimbal, rng) for _ in world.sticks]
        self._phase_s = rng.uniform(0.0, world.reports.true_interval_s)
        self._run_up_s = SETTLE_S + FORGOTTEN * _memory_s(world)
        self._from = -math.ceil(self._run_up_s / STEP_S)
        still = np.zeros((2, -self._from + 1))
        self._paths: list[FloatArray] = [still for _ in world.sticks]

    @property
    def until_s(self) -> float:
        """Up to when the pad's reports are planned, s."""
        return float((self._from + self._paths[0].shape[1]) * STEP_S)

    def hear(self, t_s: float, step: Step) -> Stretch:
        """Take a request shown at t_s (s) and return what the pad sends from the reaction to it on.

        Parameters
        ----------
        t_s : float, s
            When the request was shown.
        step : Step
            What is asked.
        """
        moves = [self._planned(step, stick, t_s) for stick in self.world.sticks]
        starts = [move.start_s for move in moves if move is not None and move.kind != "press"]
        begin = math.ceil(min(starts, default=t_s) / STEP_S)
        met = [len(stage.contacts) for stage in self._stages]
        self._move(begin, moves)
        return self._stretch(begin, moves, met)

    def _planned(self, step: Step, stick: str, t_s: float) -> Move | None:
        move = planned(self.world.thumb, step, stick, t_s, self._rng)
        return replace(move, turns=TURNS) if move is not None and move.kind == "roll" else move

    def stay(self) -> Stretch:
        """Return what the pad sends when nothing is asked for as long as is planned: the sticks stay where they are."""
        begin = self._from + self._paths[0].shape[1]
        still: list[Move | None] = [None for _ in self.world.sticks]
        self._move(begin, still)
        return self._stretch(begin, still, [len(stage.contacts) for stage in self._stages])

    def _move(self, begin: int, moves: list[Move | None]) -> None:
        """Plan each stick's path from a fine step on, and forget what is older than the run-up."""
        longest_s = max((move.duration_s for move in moves if move is not None), default=0.0)
        n, first = math.ceil((longest_s + AHEAD_S) / STEP_S), begin - math.ceil(self._run_up_s / STEP_S)
        for k, (stage, move) in enumerate(zip(self._stages, moves, strict=True)):
            before = _between(self._paths[k], self._from, first, begin)
            if self.world.gimbal.tied and k:
                path = np.stack([backlash(row, self.world.gimbal.play_fs) for row in self._paths[0][:, -n:]])
            elif move is None or move.kind == "press":
                path = _between(self._paths[k], self._from, begin, begin + n)
            else:
                stage.here = (float(before[0, -1]), float(before[1, -1]))
                path = stage.carry_out(move, n)
            self._paths[k] = np.concatenate([before, path], axis=1)
        self._from = first

    def _stretch(self, begin: int, moves: list[Move | None], met: list[int]) -> Stretch:
        origin_s, begin_s = self._from * STEP_S, begin * STEP_S
        interval_s = self.world.reports.true_interval_s
        first = math.ceil((origin_s - self._phase_s) / interval_s) + 1
        last = math.floor((self.until_s - self._phase_s) / interval_s)
        slots_s = self._phase_s + interval_s * np.arange(first, last, dtype=np.float64)
        motions = [
            StickMotion(xy=coupled(self.world.gimbal, path), contacts=(), release_s=(), rests=())
            for path in self._paths
        ]
        codes = slot_codes(self.world, motions, slots_s - origin_s, self._rng)
        buttons = self._buttons(begin_s, moves, self._stages[0].contacts[met[0] :])
        new = slots_s >= begin_s
        slots_s, codes = slots_s[new], codes[new]
        pressed = np.searchsorted(slots_s, [t_s for t_s, _, _ in buttons])
        kept = surviving(self.world.reports, codes, self._rng, pressed[pressed < slots_s.size])
        sent_s = arrivals(self.world.reports, slots_s[kept], self._rng)
        return Stretch(begin_s=begin_s, sent_s=sent_s, codes=codes[kept], buttons=buttons)

    def _buttons(self, begin_s: float, moves: list[Move | None], contacts: list[Contact]) -> tuple[Button, ...]:
        found: list[Button] = []
        for stick, move in zip(self.world.sticks, moves, strict=True):
            if move is not None and move.kind == "press":
                name = f"{stick}_press"
                found += [(move.start_s, name, 1), (move.start_s + PRESS_S, name, 0)]
        if self.world.rim_button:
            name, late_s = self.world.rim_button, self.world.rim_button_delay_s
            found += [(contact.t_s + late_s, name, 1) for contact in contacts]
            if moves[0] is not None and moves[0].kind == "release":
                found.append((begin_s + late_s, name, 0))
        return tuple(sorted(found))


def _between(path: FloatArray, start: int, first: int, last: int) -> FloatArray:
    """Return a path's columns from fine step `first` to before `last`, the ends held where it does not reach."""
    index = np.clip(np.arange(first, last) - start, 0, path.shape[1] - 1)
    return np.asarray(path[:, index], dtype=np.float64)


def _memory_s(world: World) -> float:
    """Return the sum of the longest time constants that any axis passes, s."""
    poles_s = max(sum(max(pole) for pole in world.network_of(name).poles_s) for name in world.axis_names)
    adaptive_s = world.firmware.adaptive.slow_s if world.firmware.adaptive is not None else 0.0
    return poles_s + world.firmware.recursive_s + adaptive_s
