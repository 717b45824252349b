"""What would limit a recording from a pad, each with its remedy."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from feelcheck.model import Caveat

__all__ = ["limits_of"]

_BLUETOOTH = 5
_LATEST_ONLY = {"xinput", "wgi", "mfi"}


def limits_of(
    sources: Mapping[str, Mapping[str, Any]], *, refused: str, bus: int, system: str, n_changes: int
) -> tuple[Caveat, ...]:
    """Return what would limit a recording.

    Parameters
    ----------
    sources : Mapping of str to Mapping
        Header facts by each source that can read the pad (``"evdev"``, ``"gamepad"``).
    refused : str
        What helps where the event device may not be read, else empty.
    bus : int
        The pad's bus number; 5 is Bluetooth.
    system : str
        `sys.platform`.
    n_changes : int
        How many changes were seen.
    """
    found = [*_access(refused), *_smoothing(sources.get("evdev", {}), alone="evdev" not in sources, system=system)]
    sdl = sources.get("gamepad")
    if sdl is not None and "evdev" not in sources:
        found += _reading(sdl, system)
    if "gamepad" not in sources:
        found.append(
            Caveat(
                code="not_in_sdl",
                text="SDL does not show this pad: the gamepad source cannot read it.",
                advice="Record with --source evdev.",
            )
        )
    if bus == _BLUETOOTH:
        found.append(
            Caveat(
                code="wireless",
                text="It is connected by Bluetooth: reports come late and in bursts.",
                advice="Use a cable for anything about timing.",
            )
        )
    if not n_changes:
        found.append(
            Caveat(
                code="silent",
                text="It reported nothing while it was watched.",
                advice="Watch again and turn both sticks in full circles; if it stays silent, plug it in again.",
            )
        )
    return tuple(found)


def _access(refused: str) -> list[Caveat]:
    if not refused:
        return []
    return [
        Caveat(
            code="permission",
            text="This user may not read its event device: no kernel stamps, and smoothing stays on.",
            advice=refused,
        )
    ]


def _smoothing(facts: Mapping[str, Any], *, alone: bool, system: str) -> list[Caveat]:
    """Say what the kernel does to small motions."""
    before, now = facts.get("kernel_smoothing_before", "none"), facts.get("kernel_smoothing", "none")
    if alone:
        unknown = Caveat(
            code="smoothing_unknown",
            text="The kernel may smooth small motions (fuzz), and that cannot be seen this way.",
            advice="Record with --source evdev, which switches it off while it records.",
        )
        return [unknown] if system.startswith("linux") else []
    if now != "none":
        text = f"The kernel smooths small motions (fuzz {now} counts) and this user may not change that."
        return [Caveat(code="smoothed", text=text, advice="Get the right to write to its event device.")]
    if before != "none":
        text = f"The kernel smooths small motions (fuzz {before} counts) for every program that does not ask it not to."
        advice = "Record with --source evdev, which switches it off while it records and puts it back."
        return [Caveat(code="smoothing", text=text, advice=advice)]
    return []


def _reading(facts: Mapping[str, Any], system: str) -> list[Caveat]:
    """Say what SDL's driver may lose."""
    found = []
    backend = str(facts.get("backend", ""))
    if backend in _LATEST_ONLY or (system == "darwin" and backend == "system"):
        found.append(
            Caveat(
                code="polled",
                text=f"This driver ({backend}) keeps only the latest state: a report between two polls is lost.",
                advice="Do not use --low-power, close other programs, and look at the loss that the recording tells.",
            )
        )
    hints = facts.get("hints", {})
    if hints.get("SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS", "1") == "0" or backend == "wgi":
        found.append(
            Caveat(
                code="focus",
                text="Reports are dropped while another window has the focus.",
                advice="Unset SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS and SDL_JOYSTICK_WGI, or keep the window in front.",
            )
        )
    return found
