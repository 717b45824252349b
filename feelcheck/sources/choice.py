"""Which way of reading a pad is best on this machine."""

from __future__ import annotations

from feelcheck.sources.evdev.system import has_event_devices

__all__ = ["automatic_source"]


def automatic_source(device: str = "") -> tuple[str, str]:
    """Return the name of the best source for a pad, and why in words.

    Parameters
    ----------
    device : str
        Which pad, as in ``--device``.

    Notes
    -----
    Where the kernel stamps each report and this user may read it, that stamp beats a bracket around a poll; everywhere
    else SDL sees more pads.
    """
    if not has_event_devices():
        return "gamepad", "this system has no event devices"
    from feelcheck.sources.evdev.discovery import find_pads, fits

    meant = [pad for k, pad in enumerate(find_pads()) if fits(pad, k, device)]
    if not meant:
        return "gamepad", f"no pad{' of that name' if device else ''} is among the event devices"
    if not any(pad.readable for pad in meant):
        return "gamepad", "this user may not read the pad's event device"
    return "evdev", "the kernel stamps each report of this pad"
