"""What one full circle taught: where the rim is in each direction, and where the code runs out before it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from statistics import median

__all__ = ["Rim"]

_N_BINS = 36
_MIN_ROUNDNESS = 0.6
_CLIPPED_SHARE = 0.5


class Rim:
    """Distance of the rim from the centre by direction, in fractions of the nominal throw.

    Notes
    -----
    Bins of 10 degrees hold the median radius of the samples in them, gaps are bridged, and radii between the middles
    of bins are interpolated. Before a circle was seen the rim is taken to be at the nominal throw.
    """

    def __init__(self) -> None:
        self._radius: list[float] = []
        self._clipped: list[bool] = [False] * _N_BINS

    @property
    def known(self) -> bool:
        """Whether a circle was seen."""
        return bool(self._radius)

    def learn(self, samples: Iterable[tuple[float, float, bool]]) -> bool:
        """Take the rim from samples ``(radius, angle_deg, clipped)`` of one turn; return whether it was round enough.

        A turn that comes much nearer to the centre in one direction than in another was no turn along the rim (the
        corners of a square rim are 1.41 times as far as its sides).
        """
        found: list[list[tuple[float, bool]]] = [[] for _ in range(_N_BINS)]
        for radius, angle_deg, clipped in samples:
            found[int(angle_deg % 360.0 / 360.0 * _N_BINS) % _N_BINS].append((radius, clipped))
        radii = _bridged([median(r for r, _ in inside) if inside else None for inside in found])
        if not radii or min(radii) < _MIN_ROUNDNESS * max(radii):
            return False
        self._radius = [max(new, old) for new, old in zip(radii, self._radius or radii, strict=True)]
        for k, inside in enumerate(found):
            if inside:
                self._clipped[k] = sum(clipped for _, clipped in inside) >= _CLIPPED_SHARE * len(inside)
        return True

    def at(self, angle_deg: float) -> float:
        """Return the rim's distance in a direction.

        Examples
        --------
        >>> Rim().at(45.0)
        1.0
        """
        if not self._radius:
            return 1.0
        place = angle_deg % 360.0 / 360.0 * _N_BINS - 0.5
        low = math.floor(place)
        share = place - low
        return (1 - share) * self._radius[low % _N_BINS] + share * self._radius[(low + 1) % _N_BINS]

    def clipped_at(self, angle_deg: float) -> bool:
        """Return whether the code runs out before the rim in a direction, however the stick is moved there."""
        return self._clipped[int(angle_deg % 360.0 / 360.0 * _N_BINS) % _N_BINS]


def _bridged(radii: list[float | None]) -> list[float]:
    """Return radii with the empty bins filled from their neighbours on the ring; nothing where there are too few."""
    seen = [k for k, radius in enumerate(radii) if radius is not None]
    if len(seen) < 8:
        return []
    full: list[float] = []
    for k in range(_N_BINS):
        before = max((s for s in seen if s <= k), default=seen[-1] - _N_BINS)
        after = min((s for s in seen if s >= k), default=seen[0] + _N_BINS)
        low, high = radii[before % _N_BINS], radii[after % _N_BINS]
        assert low is not None
        assert high is not None
        share = (k - before) / (after - before) if after > before else 0.0
        full.append((1 - share) * low + share * high)
    return full
