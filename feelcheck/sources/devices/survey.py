"""Every way of reading every pad, watched together and told as one report a pad."""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Iterator
from typing import Any

from feelcheck.errors import SourceError
from feelcheck.model import AxisReport, DeviceReport, SourceEvent
from feelcheck.sources.devices.limits import limits_of
from feelcheck.sources.devices.measures import measured_interval, native_step
from feelcheck.sources.devices.views import SdlViews, View, evdev_views

__all__ = ["combined", "list_devices"]

_REST_S = 0.0002
_CLOCKS = {
    "evdev": "the kernel's stamp of each report (monotonic clock)",
    "gamepad": "this program's clock, as a bracket around each poll",
}


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
