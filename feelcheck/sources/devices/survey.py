"""Every way of reading every pad, watched together and told as one report a pad."""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import SourceError
from feelcheck.model import AxisReport, Caveat, DeviceReport, Estimate, SourceEvent
from feelcheck.sources.devices.limits import limits_of
from feelcheck.sources.devices.views import SdlViews, View, evdev_views

__all__ = ["combined", "list_devices", "measured_interval", "native_step"]

_REST_S = 0.0002
_CLOCKS = {
    "evdev": "the kernel's stamp of each report (monotonic clock)",
    "gamepad": "this program's clock, as a bracket around each poll",
}

_WIDTHS = range(7, 15)
_NATIVE_RANGE = 4096
_FALSE_ALARM = 1e-6
_LEAST_STAMPS = 50
_LEAST_ODD = 0.2
_LEAST_COHERENCE = 0.5
_PAUSE_S = 0.05
_LATE_LOOK = 2.0  # usual looks; a change that a longer one saw has no instant
_UNEVEN = Caveat(
    code="uneven_reports",
    text="The reports keep no regular interval.",
    advice="Use a cable where the pad has one, and close programs that keep the computer busy.",
)
_LOOKED_SELDOM = Caveat(
    code="looked_seldom",
    text="This computer looked at the pad too seldom to tell.",
    advice="Close programs that keep the computer busy, and watch again.",
)
_MOVE = Caveat(
    code="little_motion",
    text="The pad moved too little to tell.",
    advice="Watch again and turn both sticks in full circles.",
)


def list_devices(watch_s: float) -> tuple[DeviceReport, ...]:
    """Return what is known of every pad that is plugged in, after watching them for a while.

    Parameters
    ----------
    watch_s : float, s
        How long to watch; 0 only lists them.

    Raises
    ------
    SourceError
        If the time to watch is negative.

    Notes
    -----
    A pad that both the event devices and SDL show is one pad: the same node, or else the same model in the same order.
    Its event device is watched where it may be read; its settings are put back before this returns.
    """
    if not watch_s >= 0:
        raise SourceError("The time to watch cannot be negative.", {"got": watch_s}, "Give 0 s or more.")
    opened: list[tuple[View, Iterator[list[SourceEvent]] | None, Any]] = []
    sdl: SdlViews | None = None
    try:
        opened.extend(evdev_views())
        sdl = _sdl()
        # A pause of the collector would look like a pause of the pad.
        gc.disable()
        _watch([(view, events) for view, events, _ in opened if events is not None], sdl, watch_s)
    finally:
        gc.enable()
        for _, _, source in opened:
            if source is not None:
                source.close()
        if sdl is not None:
            sdl.close()
    return combined([view for view, _, _ in opened], [] if sdl is None else sdl.views, watch_s)


def _sdl() -> SdlViews | None:
    try:
        return SdlViews()
    except SourceError:
        return None


def _watch(event_devices: list[tuple[View, Iterator[list[SourceEvent]]]], sdl: SdlViews | None, watch_s: float) -> None:
    """Read every pad in turn until the time is up."""
    until_s = time.monotonic() + watch_s
    for _, events in event_devices:
        next(events)
    while time.monotonic() < until_s:
        for view, events in event_devices:
            view.seen.add(next(events, []))
        if sdl is not None:
            sdl.look()
        if not event_devices:
            time.sleep(_REST_S)


def combined(event_devices: list[View], sdl: list[View], watched_s: float) -> tuple[DeviceReport, ...]:
    """Return one report a pad from both ways of seeing it.

    Parameters
    ----------
    event_devices : list of View
        Pads as the kernel shows them.
    sdl : list of View
        Pads as SDL shows them.
    watched_s : float, s
        How long the pads were watched.
    """
    left = list(sdl)
    reports = []
    for view in event_devices:
        twin = next((other for other in left if other.path == view.path), None)
        twin = twin or next((other for other in left if _same_model(other, view)), None)
        if twin is not None:
            left.remove(twin)
        reports.append(_report(view, twin, watched_s))
    return (*reports, *(_report(None, view, watched_s) for view in left))


def _same_model(sdl: View, view: View) -> bool:
    # SDL's own drivers give other paths than the event device; the system's own driver gives the same.
    return not sdl.path.startswith("/dev/input/") and any(view.numbers[1:]) and sdl.numbers[1:] == view.numbers[1:]


def _report(event_device: View | None, sdl: View | None, watched_s: float) -> DeviceReport:
    views = [view for view in (event_device, sdl) if view is not None]
    best = next((view for view in views if not view.refused), views[0])
    shown = {view.source: view.facts for view in views if not view.refused}
    backends = [view.source if view.source == "evdev" else f"SDL {view.facts.get('backend', '')}" for view in views]
    return DeviceReport(
        name=best.name or "a pad without a name",
        source=best.source,
        backends=tuple(backends),
        path=best.path,
        guid=str(best.facts.get("guid", "")),
        axes=tuple(_axis(axis, best) for axis in best.facts.get("axes", [])),
        buttons=best.buttons,
        report_interval=measured_interval(best.seen.stamps_ns, best.seen.waited_ns),
        clock=_CLOCKS[best.source],
        limits=limits_of(
            shown,
            refused="" if event_device is None else event_device.refused,
            bus=best.numbers[0],
            system=sys.platform,
            n_changes=len(best.seen.stamps_ns),
        ),
        watched_s=watched_s,
    )


def _axis(axis: dict[str, Any], view: View) -> AxisReport:
    low, high = int(axis.get("minimum", -32768)), int(axis.get("maximum", 32767))
    values = view.seen.values.get(str(axis["name"]), [])
    return AxisReport(
        name=str(axis["name"]),
        minimum=low,
        maximum=high,
        n_changes=len(values),
        lowest=min(values, default=None),
        highest=max(values, default=None),
        native_step=native_step(values, low, high),
    )


def native_step(values: Sequence[int], minimum: int, maximum: int) -> Estimate:
    """Return the step of the pad's own numbers, in the counts that are logged.

    Parameters
    ----------
    values : sequence of int, counts
        Distinct values seen.
    minimum, maximum : int, counts
        Range of the axis.

    Notes
    -----
    A range of up to 12 bits is the pad's own. In a wider one the values are held against the lattices of 7 to 14 bits
    stretched over the range, ``(2**bits - 1)`` steps from end to end: the coarsest one is taken from which no value is
    further than one count (SDL and drivers round or cut), if chance would do that less than once in a million. A stick
    that the pad itself scaled stands on no such lattice.

    Examples
    --------
    >>> native_step([round(k * 65535 / 255) - 32768 for k in range(40)], -32768, 32767).value
    257.0
    """
    distinct = np.unique(np.asarray(values, dtype=np.int64))
    span = maximum - minimum
    if span < _NATIVE_RANGE:
        return Estimate.measured("native_step", 1.0, u=0.0, unit="counts", n=distinct.size)
    for n_bits in _WIDTHS:
        step = span / (2**n_bits - 1)
        place = (distinct - minimum) / step
        far = np.abs(place - np.rint(place)) * step
        chance = min(3.0 / step, 1.0) ** distinct.size
        if chance < _FALSE_ALARM and np.all(far <= 1.0):
            return Estimate.measured("native_step", step, u=0.0, unit="counts", n=distinct.size)
    few = distinct.size < 64
    unknown = Caveat(
        code="no_lattice",
        text="The values stand on no lattice of 7 to 14 bits: the pad scales them, or has more.",
        advice="Analyse a recording; it looks for other lattices.",
    )
    return Estimate.not_resolved("native_step", unit="counts", n=distinct.size, caveats=(_MOVE,) if few else (unknown,))


def _halved(t_s: NDArray[np.float64], interval_s: float) -> bool:
    """Whether nearly all steps are even multiples of an interval: a few late stamps then made half of the true one."""
    from feelcheck.numerics.report_grid import common_multiple

    return common_multiple(np.rint(np.diff(t_s) / interval_s), (2,), _LEAST_ODD) > 1


def measured_interval(stamps_ns: Sequence[int], waited_ns: Sequence[int]) -> Estimate:
    """Return the interval of a pad's reports while it moved.

    Parameters
    ----------
    stamps_ns : sequence of int, ns
        When changes were seen.
    waited_ns : sequence of int, ns
        How long before its stamp each may have happened: the length of the look that saw it, 0 for the kernel's stamps.

    Notes
    -----
    Only changes are seen, so reports that repeat their values are missing: a regular grid is fitted to the stamps of
    the moving stretches, and none is told where they do not keep to one. On a busy machine some looks are late, and
    looks that are late by turns make a fraction of the true interval: changes of long looks are left out, and no
    interval of less than two usual looks is told.
    """
    stamp, waited = np.asarray(stamps_ns, dtype=np.int64), np.asarray(waited_ns, dtype=np.int64)
    longest_ns = _LATE_LOOK * float(np.median(waited)) if waited.size else 0.0
    t_s = np.unique(stamp[waited <= longest_ns]) * 1e-9
    if t_s.size < _LEAST_STAMPS:
        return Estimate.not_resolved("report_interval", unit="s", n=t_s.size, caveats=(_MOVE,))
    from feelcheck.numerics.report_grid import fit_grid

    # A pause is cut out, since no grid can be counted across it.
    apart = np.diff(t_s, prepend=t_s[0])
    moving = np.cumsum(np.where(apart > _PAUSE_S, _PAUSE_S, apart))
    longest = np.split(moving, np.flatnonzero(apart > _PAUSE_S))
    stretch = max(longest, key=len)
    fit = fit_grid(stretch)
    if fit is None or fit.coherence < _LEAST_COHERENCE or _halved(stretch, fit.interval_s):
        return Estimate.not_resolved("report_interval", unit="s", n=t_s.size, caveats=(_UNEVEN,))
    if fit.interval_s < longest_ns * 1e-9:
        return Estimate.not_resolved("report_interval", unit="s", n=t_s.size, caveats=(_LOOKED_SELDOM,))
    return Estimate.measured("report_interval", fit.interval_s, u=fit.u_s, unit="s", n=t_s.size)
