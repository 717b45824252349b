"""Aiming after ISO 9241-411: targets on a ring, the stick sets the cursor's speed, a button selects."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from feelcheck.model import Estimate, PlayedStage
from feelcheck.numerics.uncertainty import difference_of
from feelcheck.psychometrics import AimedMove, error_rate, exact_interval, throughput_of

__all__ = ["WIDTH", "AimingTask", "Place"]

Place = tuple[float, float]
WIDTH = 0.16
"""Diameter of a target, in diameters of the ring: an index of difficulty of 2.8 bits."""
SPEED = 1.3
"""Speed of the cursor at full throw, ring diameters a second."""
EDGE = 0.72
SPREAD_FIGURES = ("throughput", "effective_width", "effective_index", "mean_time")


@dataclass(slots=True, kw_only=True)
class AimingTask:
    """Sequences of aimed movements, each through one response.

    Parameters
    ----------
    stages : sequence of PlayedStage
        One or two responses.
    n_targets : int
        Targets on the ring; odd, so that every movement is equally long.
    order : sequence of int
        Which response each sequence is played through.

    Raises
    ------
    ValueError
        If the number of targets is even or below five.

    Notes
    -----
    A sequence begins with the selection of its first target, which starts the clock; each target after it is one
    movement, the first one again the last. The place is the integral of the played output over time, so it depends on
    the reports alone, not on when anything was drawn.
    """

    stages: Sequence[PlayedStage]
    n_targets: int = 9
    order: Sequence[int] = ()
    cursor: Place = (0.0, 0.0)
    sequences: list[tuple[int, list[AimedMove]]] = field(default_factory=list)
    _moves: list[AimedMove] = field(default_factory=list)
    _number: int = -1
    _from: Place = (0.0, 0.0)
    _selected_s: float = 0.0

    def __post_init__(self) -> None:
        if self.n_targets < 5 or self.n_targets % 2 == 0:
            raise ValueError(f"an odd number of targets from 5 on, got {self.n_targets}")

    @staticmethod
    def balanced_order(n_stages: int, n_each: int, *, seed: int) -> list[int]:
        """Return which response each sequence has: pairs in random order, so that practice favours none.

        Parameters
        ----------
        n_stages : int
            How many responses there are.
        n_each : int
            Sequences through each of them.
        seed : int
            Of the random order.
        """
        rng = np.random.default_rng([seed, 3])
        return [int(k) for _ in range(n_each) for k in rng.permutation(n_stages)]

    @property
    def finished(self) -> bool:
        """Whether all sequences are done."""
        return len(self.sequences) >= len(self.order)

    @property
    def stage(self) -> PlayedStage:
        """What the present sequence is played through."""
        return self.stages[self.order[min(len(self.sequences), len(self.order) - 1)]]

    def place_of(self, number: int) -> Place:
        """Return the centre of a target by its number in the sequence: each lies opposite the one before.

        Parameters
        ----------
        number : int
            From 0; the ring has diameter 1 and its middle at the origin, right and up positive.
        """
        turn = 2 * math.pi * (number * (self.n_targets // 2) % self.n_targets) / self.n_targets
        return 0.5 * math.sin(turn), 0.5 * math.cos(turn)

    @property
    def target(self) -> Place:
        """Centre of the target that is to be selected now."""
        return self.place_of(self._number + 1)

    @property
    def n_done(self) -> int:
        """Movements made in the present sequence."""
        return len(self._moves)

    def move(self, x: float, y: float, for_s: float) -> None:
        """Move the cursor by the played output (fractions of throw, right and up positive) for a time.

        Parameters
        ----------
        x, y : float
            The played output.
        for_s : float, s
            How long it lasts.
        """
        self.cursor = (_within(self.cursor[0] + SPEED * x * for_s), _within(self.cursor[1] + SPEED * y * for_s))

    def select(self, t_s: float) -> None:
        """Select where the cursor is at an instant.

        Parameters
        ----------
        t_s : float, s
            The selection's own instant, not that of a frame.
        """
        target, here = self.target, self.cursor
        if self._number >= 0:
            self._moves.append(
                AimedMove(
                    start=self._from,
                    target=target,
                    selected=here,
                    took_s=max(1e-3, t_s - self._selected_s),
                    missed=math.dist(here, target) > WIDTH / 2,
                )
            )
        self._number, self._from, self._selected_s = self._number + 1, target, t_s
        if len(self._moves) >= self.n_targets:
            self.sequences.append((self.order[len(self.sequences)], self._moves))
            self.begin_again()

    def begin_again(self) -> list[AimedMove]:
        """Begin the present sequence anew; return the movements that do not count."""
        broken, self._moves = self._moves, []
        self._number, self.cursor = -1, (0.0, 0.0)
        return broken

    def estimates(self) -> Mapping[str, Estimate]:
        """Return throughput, effective width, error rate and mean time; of each response where there are two."""
        found: dict[str, Estimate] = {}
        for suffix, own in self._by_stage():
            for name in SPREAD_FIGURES:
                found[name + suffix] = throughput_of(own, name).renamed(name + suffix)
            found["error_rate" + suffix] = error_rate(own).renamed("error_rate" + suffix)
        if len(self.stages) == 2:
            everything = [moves for _, moves in self.sequences]
            found["throughput"] = throughput_of(everything)
            found["throughput_difference"] = difference_of(
                found["throughput_b"], found["throughput_a"], quantity="throughput_difference"
            )
        return found

    def intervals(self) -> Mapping[str, tuple[float, float]]:
        """Return the exact intervals of the error rates."""
        found = {}
        for suffix, own in self._by_stage():
            missed = [move.missed for moves in own for move in moves]
            if 0 < sum(missed) < len(missed):
                found["error_rate" + suffix] = exact_interval(sum(missed), len(missed))
        return found

    def _by_stage(self) -> list[tuple[str, list[list[AimedMove]]]]:
        names = [""] if len(self.stages) == 1 else ["_a", "_b"]
        return [(name, [moves for stage, moves in self.sequences if stage == k]) for k, name in enumerate(names)]


def _within(place: float) -> float:
    return max(-EDGE, min(EDGE, place))
