"""What an in-hand recording tells: the result of `feelcheck analyze`."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Literal, TypeVar

from feelcheck.model.estimate import Caveat, Estimate
from feelcheck.model.presented import Presented
from feelcheck.model.quantities import Direction
from feelcheck.model.recording import Gap, Recording, Segment, StickAxes
from feelcheck.model.stream import FloatArray

__all__ = [
    "AxisResult",
    "CoupledAxis",
    "CoupledLag",
    "DirectionResponse",
    "Finding",
    "FlickRecord",
    "HandResult",
    "HandView",
    "LagResult",
    "MarkerLag",
    "MetricOutput",
    "ReportClock",
    "RimBracket",
    "TimingResult",
    "Trace",
]

Of = TypeVar("Of", bound=Hashable)
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReportClock:
    """The device's report clock recovered from host time stamps.

    Parameters
    ----------
    interval : Estimate, s
        Report interval; not ok where the rate cannot be known.
    jitter : Estimate, s
        p95 of the residual of the time stamps to the recovered clock.
    lost_fraction : Estimate, fraction
        Reports lost while the stick moved.
    report_t_s : Mapping[str, ndarray]
        For each stream the instants of its reports on the recovered clock, shape (n,), s, non-decreasing; the raw upper
        bracket ends where the clock was refused.
    trusted : bool
        Whether `report_t_s` is on a recovered grid (False: raw stamps).
    gaps : tuple of Gap
        Stretches in which reports are missing that silence cannot explain.
    extra : Mapping[str, Estimate]
        More about the timing (other quantiles of the jitter).
    """

    interval: Estimate
    jitter: Estimate
    lost_fraction: Estimate
    report_t_s: Mapping[str, FloatArray]
    trusted: bool
    gaps: tuple[Gap, ...] = ()
    extra: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HandView:
    """What every in-hand metric gets to see.

    Parameters
    ----------
    recording : Recording
        The log.
    clock : ReportClock
        Its report clock.
    sticks : tuple of StickAxes
        Its sticks.
    segments : tuple of Segment
        What was done with them.
    """

    recording: Recording
    clock: ReportClock
    sticks: tuple[StickAxes, ...]
    segments: tuple[Segment, ...]
    _kept: dict[Hashable, Any] = field(default_factory=dict, init=False, repr=False)

    def once(self, make: Callable[[HandView, Of], Made], of: Of) -> Made:
        """Return what `make` gives for this view and one of its parts, made when it is first asked for.

        Parameters
        ----------
        make : callable
            Takes the view and the part; a function that others pass too gives them the same object.
        of : hashable
            A stick, or the name of a stream.
        """
        if (make, of) not in self._kept:
            self._kept[make, of] = make(self, of)
        made: Made = self._kept[make, of]
        return made

    def with_segments(self, segments: tuple[Segment, ...]) -> HandView:
        """Return the same view with its segments; what was made without them is kept.

        Parameters
        ----------
        segments : tuple of Segment
            Flicks, holds, circles and rests in order of time.
        """
        view = replace(self, segments=segments)
        view._kept.update(self._kept)
        return view


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One estimate and the place it belongs to.

    Parameters
    ----------
    estimate : Estimate
        Its `quantity` is the key it gets in JSON.
    axis : str
        Stream name; empty for the whole recording.
    direction : {"rising", "falling"} or None
        Electrical direction (logged code going up or down) or None.
    group : {"axis", "response", "timing", "release"}
        Part of the result: `response` findings sit under the axis' direction.
    """

    estimate: Estimate
    axis: str = ""
    direction: Direction | None = None
    group: Literal["axis", "response", "timing", "release"] = "axis"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlickRecord:
    """One flick and whether it was used, and why not."""

    start_s: float
    direction_deg: float
    kind: str
    used: bool
    why_not: str = ""
    stick: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """Arrays behind a figure; not part of the JSON.

    Parameters
    ----------
    kind : str
        Which figure: ``"flick"``, ``"unsmoothed"``, ``"lattice"``, ``"intervals"``, ``"rest"``, ``"reach"``,
        ``"release"``.
    axis : str
        Stream name.
    arrays : Mapping[str, ndarray]
        Named arrays (names end in their unit: ``t_s``, ``measured_fs``, ``model_fs``).
    marks : Mapping[str, float]
        Named instants or values (``contact_s``, ``tau_s``).
    labels : Mapping[str, str]
        Words (``direction``, ``model``).
    """

    kind: str
    axis: str
    arrays: Mapping[str, Any]
    marks: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    labels: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class RimBracket:
    """What the rim alone allows for the smoothing delay of a family of responses.

    Parameters
    ----------
    family : str
        Name of the kind of response, as in models.
    low_s, high_s : float or None, s
        Bounds; None where the flicks give none.
    n : int
        Flicks.
    """

    family: str
    low_s: float | None
    high_s: float | None
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkerLag:
    """Delay of a stick behind a button that the same event closes.

    Parameters
    ----------
    delay : Estimate, s
        Sensor and filter together: how much the reported stick trails the true one, less the button's own delay.
    onset_delay : Estimate, s
        The part before anything is seen: dead time and conversion, less the button's own delay.
    directions : Mapping[(str, str), Estimate]
        The delay of each axis and electrical direction.
    button, stick : str
        Which ones; empty where there is no marker.
    """

    delay: Estimate
    onset_delay: Estimate
    directions: Mapping[tuple[str, str], Estimate] = field(default_factory=lambda: MappingProxyType({}))
    button: str = ""
    stick: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupledAxis:
    """One axis of the second stick against the same axis of the first.

    Parameters
    ----------
    first, second : str
        Stream names.
    delay, rising, falling : Estimate, s
        How much later the second stick is, from all strokes, and from those in which the first one's code rises, falls.
    smoothing : Estimate, s
        How much longer the second stick's pole is.
    gain : Estimate, ratio
        Second over first.
    play : Estimate, fraction
        Play of the linkage.
    """

    first: str
    second: str
    delay: Estimate
    rising: Estimate
    falling: Estimate
    smoothing: Estimate
    gain: Estimate
    play: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupledLag:
    """The second of two tied sticks against the first.

    Parameters
    ----------
    delay : Estimate, s
        Over all axes; says why where there is none.
    axes : Mapping[str, CoupledAxis]
        By ``"x"`` and ``"y"``.
    first, second : str
        Names of the sticks; empty where there is only one.
    """

    delay: Estimate
    axes: Mapping[str, CoupledAxis] = field(default_factory=lambda: MappingProxyType({}))
    first: str = ""
    second: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LagResult:
    """Both ways to tell a lag."""

    marker: MarkerLag
    coupled: CoupledLag


@dataclass(frozen=True, slots=True, kw_only=True)
class MetricOutput:
    """What one metric returns."""

    findings: tuple[Finding, ...] = ()
    flicks: tuple[FlickRecord, ...] = ()
    traces: tuple[Trace, ...] = ()
    caveats: tuple[Caveat, ...] = ()
    models: Mapping[tuple[str, str], str] = field(default_factory=lambda: MappingProxyType({}))
    poles: Mapping[tuple[str, str], tuple[Estimate, ...]] = field(default_factory=lambda: MappingProxyType({}))
    brackets: Mapping[tuple[str, str], RimBracket] = field(default_factory=lambda: MappingProxyType({}))
    polarity: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    marker: MarkerLag | None = None
    coupled: CoupledLag | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectionResponse:
    """The response of one axis in one electrical direction; delays and time constants in seconds."""

    time_constant: Estimate
    poles: tuple[Estimate, ...] = ()
    transition_10_90: Estimate
    smoothing_delay: Estimate
    mean_delay: Estimate
    model: str = "none"
    rim_bracket: RimBracket | None = None
    extra: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisResult:
    """Everything about one axis."""

    name: str
    quantization_step: Estimate
    resolution: Estimate
    rest_noise: Estimate
    return_error: Estimate
    dead_zone: Estimate
    update_interval: Estimate
    polarity: int | None
    rising: DirectionResponse
    falling: DirectionResponse
    asymmetry: Estimate
    extra: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def sides(self) -> dict[str, DirectionResponse]:
        """Both directions by name, rising first."""
        return {"rising": self.rising, "falling": self.falling}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingResult:
    """Report timing of the recording."""

    report_interval: Estimate
    host_jitter: Estimate
    lost_report_fraction: Estimate
    gaps: tuple[Gap, ...] = ()
    extra: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HandResult(Presented):
    """The result of `feelcheck analyze` on one log."""

    recording: Recording
    n_reports: int
    duration_s: float
    timing: TimingResult
    axes: Mapping[str, AxisResult]
    release: Mapping[str, Estimate]
    flicks: tuple[FlickRecord, ...]
    caveats: tuple[Caveat, ...]
    traces: tuple[Trace, ...] = ()
    lag: LagResult | None = None
    added: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """Quantities that metrics of other packages found, and which package."""
