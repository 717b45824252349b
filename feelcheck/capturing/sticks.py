"""The sticks as they are now and were over the last seconds, from the rows of the events file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import median
from typing import Any

__all__ = ["Axis", "Pad", "Rim", "Sample", "Stick"]

KEPT_S = 12.0
_TRIM_AT = 4096
_CENTRE_WITHIN = 0.25
_HIDDEN_SPAN = 0.5
_UP_OR_RIGHT = {"right": 1, "left": -1, "up": 1, "down": -1}

_N_BINS = 36
_MIN_ROUNDNESS = 0.6
_CLIPPED_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class Sample:
    """Where a stick was: fractions of the nominal throw, right and up positive; `clipped` at a full-scale code."""

    t_s: float
    x: float
    y: float
    clipped: bool = False


class Axis:
    """One axis as the session's header describes it.

    Parameters
    ----------
    record : Mapping
        ``name``, ``centre``, ``reach``, ``rises_toward`` and, where the device gives them, ``minimum`` and ``maximum``.
    """

    def __init__(self, record: Mapping[str, Any]) -> None:
        self.name = str(record["name"])
        self.centre = float(record.get("centre") or 0.0)
        self.reach = float(record.get("reach") or 32767)
        self.low = float(record.get("minimum", self.centre - self.reach))
        self.high = float(record.get("maximum", self.centre + self.reach))
        rises = record.get("rises_toward")
        self.sure = rises in _UP_OR_RIGHT
        # Where nobody says, pads' y axes rise downward.
        self.sign = _UP_OR_RIGHT[rises] if rises in _UP_OR_RIGHT else (-1 if self.name.endswith("y") else 1)
        self.code = self.centre
        self.seen: tuple[float, float] = (math.inf, -math.inf)

    def take(self, code: float) -> None:
        """Note the newest code.

        Parameters
        ----------
        code : float, counts
            As the device reports it.
        """
        self.code = code
        self.seen = (min(self.seen[0], code), max(self.seen[1], code))

    @property
    def value(self) -> float:
        """Newest code as a signed fraction of the nominal throw."""
        return self.sign * (self.code - self.centre) / self.reach

    @property
    def clipped(self) -> bool:
        """Whether the newest code is at either end of the scale."""
        return self.code >= self.high or self.code <= max(self.low, self.centre - self.reach)


class Stick:
    """Two axes that belong together, their centre and rim, and the last seconds of their motion."""

    def __init__(self, name: str, x: Axis, y: Axis) -> None:
        self.name, self.x, self.y = name, x, y
        self.rim = Rim()
        self.centre = (0.0, 0.0)
        self.sure = x.sure and y.sure
        self._samples: list[Sample] = []
        self._dropped = 0

    @property
    def count(self) -> int:
        """How many samples there were since the beginning."""
        return self._dropped + len(self._samples)

    def note(self, t_s: float) -> None:
        """Keep where the stick is now; what a report changes at one instant is one sample.

        Parameters
        ----------
        t_s : float, s
            The report's instant on the recording's clock; never earlier than the one before.
        """
        sample = Sample(t_s, self.x.value, self.y.value, self.x.clipped or self.y.clipped)
        if self._samples and self._samples[-1].t_s == t_s:
            self._samples[-1] = sample
            return
        self._samples.append(sample)
        if len(self._samples) >= _TRIM_AT and self._samples[_TRIM_AT // 2].t_s < t_s - KEPT_S:
            del self._samples[: _TRIM_AT // 2]
            self._dropped += _TRIM_AT // 2

    def since(self, count: int) -> list[Sample]:
        """Return the samples from the one of that number on.

        Parameters
        ----------
        count : int
            As `count` gave it; samples that were dropped since (older than some 12 s) are gone.
        """
        return self._samples[max(0, count - self._dropped) :]

    def recent(self, since_s: float) -> list[Sample]:
        """Return the samples from an instant on, and the one before it.

        Parameters
        ----------
        since_s : float, s
            On the clock of the samples.
        """
        low, high = 0, len(self._samples)
        while low < high:
            middle = (low + high) // 2
            low, high = (middle + 1, high) if self._samples[middle].t_s < since_s else (low, middle)
        return self._samples[max(0, low - 1) :]

    @property
    def now(self) -> Sample:
        """The newest sample; at the nominal centre before there is one."""
        return self._samples[-1] if self._samples else Sample(0.0, *self.centre)

    def polar(self, sample: Sample) -> tuple[float, float]:
        """Return how far out a sample is, as a fraction of the way to the rim, and its direction, deg.

        Parameters
        ----------
        sample : Sample
            One of this stick's.
        """
        dx, dy = sample.x - self.centre[0], sample.y - self.centre[1]
        angle_deg = math.degrees(math.atan2(dy, dx)) % 360.0
        return math.hypot(dx, dy) / self.rim.at(angle_deg), angle_deg

    @property
    def out(self) -> float:
        """How far out the stick is now, as a fraction of the way to the rim."""
        return self.polar(self.now)[0]

    def rests_here(self) -> None:
        """Take the place where the stick is now for its centre, if that is near the nominal one."""
        if math.hypot(self.now.x, self.now.y) < _CENTRE_WITHIN:
            self.centre = (self.now.x, self.now.y)


class Pad:
    """All sticks of a pad, fed with rows of the events file.

    Parameters
    ----------
    axes : iterable of Mapping
        As the source describes them.

    Notes
    -----
    Axes of no known stick wait until a circle shows which two belong to the stick that was asked for.
    """

    def __init__(self, axes: Iterable[Mapping[str, Any]]) -> None:
        self.axes = {str(record["name"]): Axis(record) for record in axes}
        self.sticks: dict[str, Stick] = {}
        self.t_s = 0.0
        self._of: dict[str, Stick] = {}
        self.interval_s = 0.0
        self._intervals: list[float] = []
        pairs: dict[str, list[Axis]] = {}
        for record in axes:
            if record.get("stick"):
                pairs.setdefault(str(record["stick"]), []).append(self.axes[str(record["name"])])
        for name, pair in pairs.items():
            if len(pair) == 2:
                self._join(name, *pair)

    def _join(self, name: str, x: Axis, y: Axis) -> None:
        if x.name.endswith("y") and y.name.endswith("x"):
            x, y = y, x
        stick = Stick(name, x, y)
        self.sticks[name] = self._of[x.name] = self._of[y.name] = stick

    def take(self, t_s: float, name: str, code: int) -> None:
        """Note one axis row.

        Parameters
        ----------
        t_s : float, s
            The row's instant on the recording's clock.
        name : str
            The axis; one that was not described begins with the usual centre and reach.
        code : int, counts
            Its new code.
        """
        axis = self.axes.get(name)
        if axis is None:
            axis = self.axes[name] = Axis({"name": name})
        axis.take(code)
        stick = self._of.get(name)
        if stick is not None:
            stick.note(t_s)
            if stick.out > 0.3:
                self._time(t_s)
        self.t_s = t_s

    def _time(self, t_s: float) -> None:
        """Keep the usual interval between reports, which only shows while a stick moves."""
        between = t_s - self.t_s
        if 50e-6 < between < 0.05:
            self._intervals.append(between)
            if len(self._intervals) >= 200:
                self.interval_s = sorted(self._intervals)[len(self._intervals) // 2]
                del self._intervals[:100]

    def adopt(self, name: str) -> None:
        """Join the two free axes that moved most to a stick, if two did.

        Parameters
        ----------
        name : str
            What the stick is called from now on.
        """
        free = [axis for axis in self.axes.values() if axis.name not in self._of and axis.seen[1] > -math.inf]
        moved = [axis for axis in free if axis.seen[1] - axis.seen[0] > _HIDDEN_SPAN * 2 * axis.reach]
        if name in self.sticks or len(moved) < 2:
            return
        x, y = moved[:2]
        if not y.sure:
            y.sign = -1
        self._join(name, x, y)

    @property
    def rate_hz(self) -> float | None:
        """Reports per second while a stick moved; None before enough was seen."""
        return 1.0 / self.interval_s if self.interval_s > 0 else None


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

        Parameters
        ----------
        samples : iterable of (float, float, bool)
            Fraction of the nominal throw, deg counter-clockwise from right, and whether a code was at its end.
        """
        found: list[list[tuple[float, bool]]] = [[] for _ in range(_N_BINS)]
        for radius, angle_deg, clipped in samples:
            found[int(angle_deg % 360.0 / 360.0 * _N_BINS) % _N_BINS].append((radius, clipped))
        radii = _bridged([median(r for r, _ in inside) if inside else None for inside in found])
        if not radii or min(radii) < _MIN_ROUNDNESS * max(radii):
            return False
        # A turn that was slack in places takes nothing from a rim that was reached before.
        self._radius = [max(new, old) for new, old in zip(radii, self._radius or radii, strict=True)]
        for k, inside in enumerate(found):
            if inside:
                self._clipped[k] = sum(clipped for _, clipped in inside) >= _CLIPPED_SHARE * len(inside)
        return True

    def at(self, angle_deg: float) -> float:
        """Return the rim's distance in a direction.

        Parameters
        ----------
        angle_deg : float, deg
            Counter-clockwise from right.

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
        """Return whether the code runs out before the rim in a direction, however the stick is moved there.

        Parameters
        ----------
        angle_deg : float, deg
            Counter-clockwise from right.
        """
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
