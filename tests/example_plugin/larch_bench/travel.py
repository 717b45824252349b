"""A metric: how far each axis travelled in the whole recording, in reaches."""

from __future__ import annotations

import numpy as np

from feelcheck.model import Estimate, Finding, HandView, MetricOutput

__all__ = ["METRIC"]


class Travel:
    """Path length of each axis over its range; what is not seen is the rounding of the two ends of each stroke."""

    name = "travel"

    def measure(self, view: HandView) -> MetricOutput:
        """Return one number an axis; an axis that never moves has none."""
        found = []
        for stream in view.recording.streams:
            reach = float(np.ptp(stream.codes)) if stream.codes.size else 0.0
            if reach > 0:
                steps = np.abs(np.diff(stream.codes.astype(float)))
                rounding = np.sqrt(np.count_nonzero(steps) / 6) / reach
                length = Estimate.measured("travel", float(steps.sum()) / reach, u=float(rounding), unit="reaches")
                found.append(Finding(estimate=length, axis=stream.name))
        return MetricOutput(findings=tuple(found))


METRIC = Travel()
