"""The flicks side by side, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray

__all__ = ["N_GROUPS", "Batch"]

N_GROUPS = 4
"""x rising, x falling, y rising, y falling."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """Windows of readings: rows 2 f and 2 f + 1 are the x and the y axis of flick f.

    Parameters
    ----------
    t_s, y, weight : ndarray, shape (2 F, n)
        Report instants, readings in fractions turned so that outward is positive, and 1 / variance (0: not used).
    group : ndarray of int, shape (2 F,)
        Which rows share time constants: one of `N_GROUPS`.
    angle_rad : ndarray, shape (F,)
        Direction of each flick in the turned axes, 0 to pi / 2.
    scale_s : ndarray, shape (2 F,), s
        Length of the window before contact.
    interval_s : float, s
        Report interval.
    """

    t_s: FloatArray
    y: FloatArray
    weight: FloatArray
    group: NDArray[np.int64]
    angle_rad: FloatArray
    scale_s: FloatArray
    interval_s: float

    @property
    def n_flicks(self) -> int:
        """Number of flicks."""
        return len(self.angle_rad)

    def used_rows(self, g: int) -> NDArray[np.intp]:
        """Return the rows of a group that have anything to say.

        Parameters
        ----------
        g : int
            The group, below `N_GROUPS`.
        """
        return np.flatnonzero((self.group == g) & np.any(self.weight > 0, axis=1))

    def of_flicks(self, flicks: NDArray[np.intp]) -> Batch:
        """Return only some flicks.

        Parameters
        ----------
        flicks : ndarray of int, shape (n,)
            Which flicks, in the order in which they will stand.
        """
        rows = (2 * flicks[:, None] + np.arange(2)).ravel()
        return replace(
            self,
            t_s=self.t_s[rows],
            y=self.y[rows],
            weight=self.weight[rows],
            group=self.group[rows],
            angle_rad=self.angle_rad[flicks],
            scale_s=self.scale_s[rows],
        )
