"""Both ways to tell a lag, in one call."""

from __future__ import annotations

from feelcheck.hand.lag.coupled import coupled_lag
from feelcheck.hand.lag.marker import marker_lag
from feelcheck.model import HandView, LagResult, Trace

__all__ = ["measure_lag"]


def measure_lag(view: HandView) -> tuple[LagResult, tuple[Trace, ...]]:
    """Return what a marker and a tied stick tell about the lag, and the traces for a figure.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    """
    marker, marker_traces = marker_lag(view)
    coupled, coupled_traces = coupled_lag(view)
    return LagResult(marker=marker, coupled=coupled), (*marker_traces, *coupled_traces)
