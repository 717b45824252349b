"""The live stick: rows of the capture process in, played outputs out, whatever the frames do meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from feelcheck.capturing.rows import Row
from feelcheck.capturing.sticks import Pad, Stick
from feelcheck.errors import SourceError
from feelcheck.model import PlayedStage
from feelcheck.numerics.played_response import PlayedAxis

__all__ = ["LiveInput"]

Point = tuple[float, float]


class LiveInput:
    """One stick of the pad, played through one or several responses at once.

    Parameters
    ----------
    axes : iterable of Mapping
        The pad's axes as the source describes them.
    side : {"left", "right"}
        Which stick.
    interval_s : float, s
        Its report interval.

    Raises
    ------
    SourceError
        If the pad has no two axes for a stick.

    Notes
    -----
    Each row goes into every played response at the instant that it is stamped with. An output is asked for at any
    instant; the same rows give the same outputs, however seldom and late they are read.
    """

    def __init__(self, axes: Iterable[Mapping[str, Any]], side: str, interval_s: float) -> None:
        records = list(axes)
        self._stick = _stick(records, side)
        self._interval_s = interval_s
        self.t_s = 0.0
        self._played: list[tuple[PlayedAxis, PlayedAxis]] = []

    @property
    def raw(self) -> Point:
        """Where the stick is by its newest report: right and up positive, fractions of throw."""
        return self._stick.x.value, self._stick.y.value

    def play(self, stages: Sequence[PlayedStage], now_s: float) -> None:
        """Play these responses from now on; each begins at rest where the stick is.

        Parameters
        ----------
        stages : sequence of PlayedStage
            One output each, in this order.
        now_s : float, s
            When they begin.
        """
        x, y = (_fraction(axis) for axis in (self._stick.x, self._stick.y))
        start_s = max(self.t_s, now_s)
        self._played = [
            (
                PlayedAxis(stage.x, interval_s=self._interval_s, start_s=start_s, value=x),
                PlayedAxis(stage.y, interval_s=self._interval_s, start_s=start_s, value=y),
            )
            for stage in stages
        ]

    def take(self, row: Row) -> None:
        """Take one axis row; rows of other axes change nothing.

        Parameters
        ----------
        row : (float, str, str, int)
            Instant (s), kind, the axis' name and its code.
        """
        t_s, _, name, code = row
        for which, axis in enumerate((self._stick.x, self._stick.y)):
            if axis.name == name:
                axis.take(code)
                self.t_s = max(self.t_s, t_s)
                for pair in self._played:
                    pair[which].take(self.t_s, _fraction(axis))

    def output(self, which: int, t_s: float) -> Point:
        """Return one played output at an instant: right and up positive, fractions of throw.

        Parameters
        ----------
        which : int
            Place among the responses that are played, from 0.
        t_s : float, s
            The instant; not before the last one asked for.
        """
        x, y = (played.at(t_s) for played in self._played[which])
        return self._stick.x.sign * x, self._stick.y.sign * y


def _fraction(axis: Any) -> float:
    return float((axis.code - axis.centre) / axis.reach)


def _stick(records: list[Mapping[str, Any]], side: str) -> Stick:
    """The named stick, else any, else the first two axes."""
    pad = Pad(records)
    if pad.sticks:
        return pad.sticks.get(side) or next(iter(pad.sticks.values()))
    if len(records) < 2:
        raise SourceError(
            "A stick has two axes.",
            {"axes": ", ".join(str(record.get("name")) for record in records) or "none"},
            "Choose another pad with --device.",
        )
    x, y = (pad.axes[str(record["name"])] for record in records[:2])
    if not y.sure:
        y.sign = -1
    return Stick(side, x, y)
