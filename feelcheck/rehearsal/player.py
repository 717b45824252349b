"""A simulated person who aims: sees late, steers, selects when on the target."""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from feelcheck.rehearsal.aiming import WIDTH, AimingTask, Place

__all__ = ["SimulatedPlayer"]

SEES_AFTER_S = 0.12
THUMB_S = 0.045
GAIN = 3.5
STEADY_S = 0.08
TREMBLE = 0.01
SLOW = 0.15


class SimulatedPlayer:
    """Steers towards what was seen a moment ago, and selects after having been on the target for a moment.

    Parameters
    ----------
    seed : int
        Seed of its scatter.

    Notes
    -----
    It is there to play, not to stand for people: its throughput says nothing about anybody's.
    """

    def __init__(self, seed: int) -> None:
        self._rng = np.random.default_rng([seed, 4])
        self._seen: deque[tuple[float, Place]] = deque()
        self._thumb = (0.0, 0.0)
        self._on_since_s = math.inf
        self._aim = (0.0, 0.0)
        self._target: Place | None = None

    def steer(self, task: AimingTask, t_s: float, for_s: float) -> tuple[Place, bool]:
        """Return where the thumb holds the stick now, and whether it selects.

        Parameters
        ----------
        task : AimingTask
            With the cursor as it is now; it is seen late.
        t_s : float, s
            The present instant.
        for_s : float, s
            Since the last call.
        """
        if task.target != self._target:
            self._target, self._on_since_s = task.target, math.inf
            scatter = self._rng.normal(0.0, 0.18 * WIDTH, 2)
            self._aim = (task.target[0] + float(scatter[0]), task.target[1] + float(scatter[1]))
        self._seen.append((t_s, task.cursor))
        while len(self._seen) > 1 and self._seen[1][0] <= t_s - SEES_AFTER_S:
            self._seen.popleft()
        seen = self._seen[0][1]
        wanted = [GAIN * (self._aim[k] - seen[k]) for k in (0, 1)]
        far = max(1.0, math.hypot(*wanted))
        decay = math.exp(-for_s / THUMB_S)
        moved = [w / far + (h - w / far) * decay for w, h in zip(wanted, self._thumb, strict=True)]
        self._thumb = (moved[0], moved[1])
        shake = self._rng.normal(0.0, TREMBLE, 2) * math.hypot(*moved)
        return (moved[0] + float(shake[0]), moved[1] + float(shake[1])), self._selects(seen, t_s)

    def _selects(self, seen: Place, t_s: float) -> bool:
        near = math.dist(seen, self._aim) < 0.3 * WIDTH and math.hypot(*self._thumb) < SLOW
        self._on_since_s = min(self._on_since_s, t_s) if near else math.inf
        return t_s - self._on_since_s >= STEADY_S
