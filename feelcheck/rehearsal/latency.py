"""What the rehearsal itself delays, measured while it runs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from feelcheck.model import Estimate

__all__ = ["FRAME_S", "Latency"]

FRAME_S = 1 / 60
LATE = 1.5


class Latency:
    """Collects, row by row and frame by frame, how long things took.

    Notes
    -----
    From the end of a report's bracket to its place in the played state, and from the state that a frame shows to that
    frame's hand-over to the graphics. What graphics and screen add cannot be seen from here.
    """

    def __init__(self) -> None:
        self._to_state: list[float] = []
        self._to_frame: list[float] = []
        self._last_frame_s = math.nan
        self.n_frames = self.late_frames = 0

    def state(self, since_report_s: float) -> None:
        """Note how old a report was when it entered the state.

        Parameters
        ----------
        since_report_s : float, s
            From the end of its bracket on.
        """
        self._to_state.append(since_report_s)

    def frame(self, state_s: float, shown_s: float) -> None:
        """Note one frame: of which instant it shows the state, and when it was handed over.

        Parameters
        ----------
        state_s, shown_s : float, s
            The instant of the state, and that of the hand-over to the graphics.
        """
        self._to_frame.append(shown_s - state_s)
        if shown_s - self._last_frame_s > LATE * FRAME_S:
            self.late_frames += 1
        self._last_frame_s = shown_s
        self.n_frames += 1

    def pause(self) -> None:
        """Forget when the last frame was: what stood meanwhile was not late."""
        self._last_frame_s = math.nan

    def estimates(self) -> Mapping[str, Estimate]:
        """Return median and 95th percentile of both."""
        found: dict[str, Estimate] = {}
        for name, values in (("report_to_state", self._to_state), ("state_to_frame", self._to_frame)):
            found[name] = _quantile(name, values, 0.5)
            found[f"{name}_p95"] = _quantile(f"{name}_p95", values, 0.95)
        return found


def _quantile(name: str, values: Sequence[float], share: float) -> Estimate:
    """A quantile with the spread of its neighbours in rank as its uncertainty (order statistics)."""
    n = len(values)
    if n < 5:
        return Estimate.not_resolved(name, unit="s", n=n)
    ordered = sorted(values)
    k, away = share * (n - 1), math.sqrt(n * share * (1 - share))
    low, high = (ordered[min(n - 1, max(0, round(k + side * away)))] for side in (-1, 1))
    return Estimate.measured(name, ordered[round(k)], u=(high - low) / 2, unit="s", n=n)
