"""Views of streams made by hand, for tests of one metric."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from feelcheck.model import Estimate, HandView, Provenance, Recording, ReportClock, Segment, StickAxes, Stream

__all__ = ["view_of"]

NOTHING = Estimate.not_resolved("report_interval", unit="s")
NO_CLOCK = ReportClock(interval=NOTHING, jitter=NOTHING, lost_fraction=NOTHING, report_t_s={}, trusted=False)


def view_of(
    streams: Sequence[Stream],
    sticks: Sequence[StickAxes] = (),
    segments: Sequence[Segment] = (),
    clock: ReportClock = NO_CLOCK,
) -> HandView:
    """Return a view of streams, each with its own stamps as instants of reports; without a clock nothing is known."""
    return HandView(
        recording=Recording(streams=tuple(streams), provenance=Provenance()),
        clock=replace(clock, report_t_s={stream.name: stream.time.t_hi_s for stream in streams}),
        sticks=tuple(sticks),
        segments=tuple(segments),
    )
