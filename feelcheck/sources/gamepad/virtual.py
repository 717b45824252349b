"""A virtual pad, attached through SDL's own virtual joystick driver and played in real time."""

from __future__ import annotations

import ctypes
import os
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

import numpy as np

from feelcheck.errors import SourceError
from feelcheck.model import Script, SourceEvent
from feelcheck.sources.gamepad.naming import axis_records
from feelcheck.sources.gamepad.pad import open_pad_facts
from feelcheck.sources.gamepad.poll import LOOPS, brackets, quieten
from feelcheck.sources.gamepad.rows import PadRows
from feelcheck.sources.gamepad.sdl import (
    AXIS_MOTION,
    DEVICE_REMOVED,
    UPDATE_CALLBACK,
    EventDrain,
    VirtualDescription,
    load_sdl,
)
from feelcheck.sources.synthetic import DeviceRun, simulate_device, staged_world

__all__ = ["Change", "RunPlayer", "VirtualPad", "VirtualSource"]

Change = tuple[str, int, int]
"""``("axis" or "button", index, value)``: one control of a report."""
Due = Callable[[int], Iterable[Sequence[Change]]]

_VIRTUAL_VERSION = 1
_GAMECONTROLLER_TYPE = 1
_NOTHING: list[SourceEvent] = []


class VirtualPad:
    """A joystick of SDL's virtual driver whose reports a callback supplies.

    Parameters
    ----------
    n_axes, n_buttons : int
        Its controls.
    due : callable
        ``due(now_ns)`` is called once in every poll and returns the reports that are due, in order. Several are queued
        one after the other, as a driver with a queue of reports does; a device that keeps only its latest state
        returns at most one.

    Notes
    -----
    SDL calls the callback in the polling thread, holding its joystick lock, which that thread may take again: each
    report is set and pushed through by a nested update. No other thread may poll at that time.
    """

    def __init__(self, n_axes: int, n_buttons: int, due: Due) -> None:
        self.library = load_sdl()
        self.n_axes = n_axes
        self._due, self._nested, self._polling = due, False, False
        self._callback = UPDATE_CALLBACK(self._update)
        self._name = ctypes.create_string_buffer(b"virtual pad")
        description = VirtualDescription(
            version=_VIRTUAL_VERSION,
            type=_GAMECONTROLLER_TYPE,
            naxes=n_axes,
            nbuttons=n_buttons,
            name=ctypes.cast(self._name, ctypes.c_char_p),
            Update=self._callback,
        )
        self._index = self.library.SDL_JoystickAttachVirtualEx(ctypes.byref(description))
        if self._index < 0:
            reason = (self.library.SDL_GetError() or b"").decode("utf-8", "replace")
            raise SourceError(
                "SDL's virtual pad cannot be attached.", {"reason": reason}, "Record with --source synthetic instead."
            )
        self.stick: int | None = self.library.SDL_JoystickOpen(self._index)
        self.instance = int(self.library.SDL_JoystickInstanceID(self.stick))
        self.guid = bytes(self.library.SDL_JoystickGetGUID(self.stick).data).hex()

    @property
    def values(self) -> list[int]:
        """Present value of every axis, as SDL has it."""
        return [self.library.SDL_JoystickGetAxis(self.stick, k) for k in range(self.n_axes)]

    def start(self) -> None:
        """Discard what attaching and opening queued; from now on reports are played."""
        self.library.SDL_JoystickUpdate()
        self.library.SDL_FlushEvents(AXIS_MOTION, DEVICE_REMOVED)
        self._polling = True

    def _update(self, _: int | None) -> None:
        if self._nested or not self._polling:
            return
        self._nested = True
        library, stick = self.library, self.stick
        for report in self._due(time.perf_counter_ns()):
            for kind, index, value in report:
                if kind == "axis":
                    library.SDL_JoystickSetVirtualAxis(stick, index, value)
                else:
                    library.SDL_JoystickSetVirtualButton(stick, index, value)
            library.SDL_JoystickUpdate()
        self._nested = False

    def close(self) -> None:
        """Detach the pad; safe to call twice."""
        if self.stick is not None:
            self._polling = False
            self.library.SDL_JoystickClose(self.stick)
            self.stick = None
            for index in range(self.library.SDL_NumJoysticks()):
                if self.library.SDL_JoystickIsVirtual(index):
                    self.library.SDL_JoystickDetachVirtual(index)
                    break


class RunPlayer:
    """Plays a simulated device's run: at every call, the reports that are due and changed something.

    Parameters
    ----------
    run : DeviceRun
        What the pad sends.
    button_names : sequence of str
        Names of the buttons, by index.
    """

    def __init__(self, run: DeviceRun, button_names: Sequence[str]) -> None:
        self.start_ns: int | None = None
        reports: list[tuple[int, list[Change]]] = []
        last: list[int | None] = [None] * len(run.axis_names)
        for t_s, codes in zip(run.sent_s.tolist(), run.codes.tolist(), strict=True):
            changes: list[Change] = [("axis", k, c) for k, c in enumerate(codes) if c != last[k]]
            last = codes
            if changes:
                reports.append((round(t_s * 1e9), changes))
        place = {name: k for k, name in enumerate(button_names)}
        carried = np.searchsorted(run.t_s, [t_s for t_s, _, _ in run.buttons]).tolist()
        for row, (_, name, state) in zip(carried, run.buttons, strict=True):
            if row < run.sent_s.size:
                reports.append((round(float(run.sent_s[row]) * 1e9), [("button", place[name], state)]))
        reports.sort(key=lambda report: report[0])
        self.reports = reports
        self._next = 0

    def due(self, now_ns: int) -> Iterator[list[Change]]:
        """Yield the reports up to an instant that were not played yet.

        Parameters
        ----------
        now_ns : int, ns
            On the host's clock.
        """
        if self.start_ns is None:
            return
        elapsed_ns = now_ns - self.start_ns
        while self._next < len(self.reports) and self.reports[self._next][0] <= elapsed_ns:
            changes = self.reports[self._next][1]
            self._next += 1
            yield changes


class VirtualSource:
    """A simulated world in real time through SDL's real event queue; needs no hardware and no display.

    Parameters
    ----------
    world_name : str
        One of the simulated worlds.
    script : Script
        What the simulated person is asked to do.
    seed : int
        Seed of everything that is drawn.
    seconds : float or None
        Where to stop, if before the script's end.
    low_power : bool
        Sleep 50 us between polls.
    """

    name = "virtual"

    def __init__(
        self, world_name: str, script: Script, seed: int, seconds: float | None = None, *, low_power: bool = False
    ) -> None:
        self.world, self.script = staged_world(world_name, script.name), script
        self.seed, self.low_power = seed, low_power
        self.seconds = script.duration_s if seconds is None else min(seconds, script.duration_s)
        self._pad: VirtualPad | None = None
        self._run: DeviceRun | None = None
        self._player: RunPlayer | None = None

    def open(self) -> None:
        """Simulate the device and attach it."""
        os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
        self._run = simulate_device(self.world, self.script, np.random.default_rng(self.seed))
        self._buttons = sorted({name for _, name, _ in self._run.buttons})
        self._player = RunPlayer(self._run, self._buttons)
        self._pad = VirtualPad(len(self._run.axis_names), len(self._buttons), self._player.due)

    def describe(self) -> dict[str, Any]:
        """Return what the session header records, the truth of the simulated world included."""
        pad, run = self._opened()
        axes = axis_records(dict(enumerate(run.axis_names)), len(run.axis_names))
        for axis, scale in zip(axes, run.scales, strict=True):
            polarity = run.truth.get(f"{axis['name']}.polarity")
            known = int(polarity) if isinstance(polarity, float | int) else None
            rises = "right" if axis["name"].endswith("x") else "up"
            axis |= {"centre": scale.centre, "reach": scale.reach, "polarity": known, "rises_toward": rises}
        return {
            **open_pad_facts(pad.library, pad.stick, pad.guid),
            "loop": LOOPS[self.low_power],
            "axes": axes,
            "simulated": True,
            "world": self.world.name,
            "seed": self.seed,
            "truth": dict(run.truth),
        }

    def _opened(self) -> tuple[VirtualPad, DeviceRun]:
        if self._pad is None or self._run is None:
            raise SourceError("The virtual pad was not opened.", {"source": self.name}, "Open the source first.")
        return self._pad, self._run

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield the events of each poll, mostly none, until the script's end or `close`."""
        player = self._player

        def start(start_ns: int) -> None:
            assert player is not None
            player.start_ns = start_ns

        return self._played(start)

    def _played(self, start: Callable[[int], None]) -> Iterator[list[SourceEvent]]:
        """Poll the pad; `start` is told the instant of the beginning."""
        pad, run = self._opened()
        pad.start()
        quieten(low_power=self.low_power)
        rows = PadRows(pad.instance, run.axis_names, self._buttons, pad.values)
        drain = EventDrain(pad.library)
        cues = [(round(cue.t_s * 1e9), cue.text) for cue in run.cues]
        end_ns = self.seconds * 1e9
        start_ns = time.perf_counter_ns()
        start(start_ns)
        shown = 0
        for t_lo_ns, t_hi_ns, found in brackets(drain.poll, low_power=self.low_power, since_ns=start_ns):
            elapsed_ns = t_hi_ns - start_ns
            batch = rows.translate(found, t_lo_ns, t_hi_ns).rows if found else _NOTHING
            while shown < len(cues) and cues[shown][0] <= elapsed_ns:
                t_ns, text = cues[shown]
                shown += 1
                batch = [(start_ns + t_ns, start_ns + t_ns, "cue", text, 0), *batch]
            yield batch
            if elapsed_ns >= end_ns or self._pad is None:
                return

    def close(self) -> None:
        """Detach the pad; safe to call twice."""
        if self._pad is not None:
            self._pad.close()
            self._pad = None
