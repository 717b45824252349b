"""Axes in their rectangle on a sheet: from their own units to points."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.renderers.svg.axes import Box, Mark, SvgAxes

__all__ = ["UP_PT", "Look", "n_ticks"]

ACROSS_PT, UP_PT = 44.0, 19.0
"""Room that a tick needs with its words: from side to side, and upwards."""
MOST_TICKS = 9
KEY_PAD_PT = 4.0
CORNERS = ("upper right", "lower right", "upper left", "lower left")


class Look:
    """Axes in their rectangle: from their units to points of the sheet."""

    def __init__(self, axes: SvgAxes, box: Box) -> None:
        self.axes = axes
        self.box = _squared(axes, box) if axes.equal else box
        self._x, self._y = axes.range_of("x"), axes.range_of("y")

    @property
    def label_left_pt(self) -> float:
        """Return where the middle of the words along the upright side lies."""
        return self.box.left - self.axes.widest_tick_pt(self._room("y")) - self.axes.tick_size_pt["y"] - 7.0

    def _room(self, side: str) -> int:
        return n_ticks(self.box.width, ACROSS_PT) if side == "x" else n_ticks(self.box.height, UP_PT)

    def ticks(self, side: str) -> tuple[list[float], list[str]]:
        """Return where ticks lie on the sheet, and what stands there.

        Parameters
        ----------
        side : {"x", "y"}
            The side.
        """
        ticks, words = self.axes.ticks_of(side, self._room(side))
        low, high = sorted(self._x if side == "x" else self._y)
        slack = 1e-6 * (high - low)
        kept = [(t, w) for t, w in zip(ticks, words, strict=True) if low - slack <= t <= high + slack]
        at = (self.across if side == "x" else self.up)(np.array([tick for tick, _ in kept]))
        return at.tolist(), [word for _, word in kept]

    def across(self, x: FloatArray) -> FloatArray:
        """Return places from the left of the sheet, pt.

        Parameters
        ----------
        x : ndarray, shape (n,)
            In the units of the axes.
        """
        return self.box.left + self.box.width * _share(x, self._x, log=self.axes.log["x"])

    def up(self, y: FloatArray) -> FloatArray:
        """Return places from the top of the sheet, pt.

        Parameters
        ----------
        y : ndarray, shape (n,)
            In the units of the axes.
        """
        return self.box.bottom - self.box.height * _share(y, self._y, log=self.axes.log["y"])

    def points(self, mark: Mark) -> tuple[FloatArray, FloatArray]:
        """Return a mark's points on the sheet.

        Parameters
        ----------
        mark : Mark
            One of the axes'.
        """
        x = np.array([self.box.left, self.box.right]) if mark.span == "x" else self.across(mark.x)
        y = np.array([self.box.bottom, self.box.top]) if mark.span == "y" else self.up(mark.y)
        return x, y

    def place(self, at: tuple[float, float], coords: tuple[str, str]) -> tuple[float, float]:
        """Return a note's place on the sheet.

        Parameters
        ----------
        at : (float, float)
            Across and up, in `coords`.
        coords : (str, str)
            ``"data"`` or ``"axes fraction"``, across and up.
        """
        share = "axes fraction"
        x = self.box.left + at[0] * self.box.width if coords[0] == share else float(self.across(np.array([at[0]]))[0])
        y = self.box.bottom - at[1] * self.box.height if coords[1] == share else float(self.up(np.array([at[1]]))[0])
        return x, y

    def corner(self, wanted: str, wide: float, high: float) -> tuple[float, float]:
        """Return left and top of a key in a corner; of the best one where none was asked for, the emptiest.

        Parameters
        ----------
        wanted : str
            A corner such as ``"upper left"``, or ``"best"``.
        wide, high : float, pt
            Size of the key.
        """
        box = self.box

        def at(corner: str) -> tuple[float, float]:
            left = box.left + KEY_PAD_PT if "left" in corner else box.right - wide - KEY_PAD_PT
            return left, box.top + KEY_PAD_PT if "upper" in corner else box.bottom - high - KEY_PAD_PT

        if wanted != "best":
            return at(wanted)
        drawn = [self.points(mark) for mark in self.axes.marks]

        def hidden(corner: str) -> int:
            left, top = at(corner)
            return sum(
                int(np.sum((x > left - 4) & (x < left + wide + 4) & (y > top - 4) & (y < top + high + 4)))
                for x, y in drawn
            )

        return at(min(CORNERS, key=hidden))


def n_ticks(length_pt: float, room_pt: float) -> int:
    """Return how many ticks a side has room for.

    Parameters
    ----------
    length_pt : float, pt
        Length of the side.
    room_pt : float, pt
        Room that one tick takes.
    """
    return int(min(MOST_TICKS, max(2, length_pt // room_pt)))


def _share(values: FloatArray, limits: tuple[float, float], *, log: bool) -> FloatArray:
    low, high = limits
    if log:
        # What has no logarithm lies far outside and is cut off there.
        low, high, values = np.log(low), np.log(high), np.log(np.maximum(values, 1e-3 * low))
    return (values - low) / ((high - low) or 1.0)


def _squared(axes: SvgAxes, box: Box) -> Box:
    """The largest rectangle at the left of a place in which a unit is as long upwards as from side to side."""
    spans = [abs(high - low) for low, high in (axes.range_of("x"), axes.range_of("y"))]
    unit = min(box.width / spans[0], box.height / spans[1])
    return replace(box, right=box.left + unit * spans[0], top=box.bottom - unit * spans[1])
