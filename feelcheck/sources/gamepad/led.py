"""The virtual pad in the hands of a simulated person who is led through a script, one request at a time."""

from __future__ import annotations

import math
import os
import queue
import sys
import threading
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from feelcheck.model import Action, Script, SourceEvent, Step
from feelcheck.sources.gamepad.virtual import Change, VirtualPad, VirtualSource
from feelcheck.sources.synthetic import World, simulate_device
from feelcheck.sources.synthetic.live import LivePerson, Stretch

__all__ = ["LedVirtualSource", "LivePlayer"]

STILL = Script(name="still", title="Nothing", steps=(Step(action=Action.REST, duration_s=1.0, stick="both"),))
_LEFT_S = 0.8
"""The person is asked to stay where they are when less than this is planned ahead."""
_LOOK_S = 0.1
_SWITCH_S = 0.0005
_MOMENTS = (".n_contacts", ".contact_", ".release_")


class LivePlayer:
    """Plays what a simulated person does: at every call, the reports that are due and changed something.

    Parameters
    ----------
    person : LivePerson
        Who moves.
    axis_names, button_names : sequence of str
        The pad's controls, by index.

    Notes
    -----
    The person is simulated in a thread of its own, so that polling does not wait for it. Where that takes longer than
    the reaction to a request, the person reacts later by whole report intervals, and the pad's clock goes on as it was.
    """

    def __init__(self, person: LivePerson, button_names: list[str]) -> None:
        self.start_ns: int | None = None
        self._person = person
        self._place = {name: k for k, name in enumerate(button_names)}
        self._late_ns, self._interval_ns = 0, round(1e9 * person.world.reports.true_interval_s)
        self._asked: queue.SimpleQueue[tuple[int, Step] | None] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._reports: deque[tuple[int, list[Change]]] = deque()
        self._last: dict[int, int] = {}
        self._take(person.stay())
        self._thread = threading.Thread(target=self._live, name="person", daemon=True)

    def start(self, start_ns: int) -> None:
        """Let the person live from an instant on the host's clock on.

        Parameters
        ----------
        start_ns : int, ns
            The person's instant 0.
        """
        self.start_ns = start_ns
        sys.setswitchinterval(_SWITCH_S)
        self._thread.start()

    def hear(self, t_ns: int, step: Step) -> None:
        """Pass a request on to the person."""
        self._asked.put((t_ns, step))

    def stop(self) -> None:
        """End the person's thread; safe to call twice."""
        self._asked.put(None)
        if self._thread.is_alive():
            self._thread.join()

    def due(self, now_ns: int) -> Iterator[list[Change]]:
        """Yield the reports up to an instant that were not played yet and change something.

        Parameters
        ----------
        now_ns : int, ns
            On the host's clock.
        """
        if self.start_ns is None:
            return
        elapsed_ns = now_ns - self.start_ns
        with self._lock:
            ready = []
            while self._reports and self._reports[0][0] <= elapsed_ns:
                ready.append(self._reports.popleft()[1])
        for report in ready:
            changes = [change for change in report if change[0] != "axis" or self._last.get(change[1]) != change[2]]
            self._last.update((index, value) for kind, index, value in changes if kind == "axis")
            if changes:
                yield changes

    def _live(self) -> None:
        assert self.start_ns is not None
        while True:
            try:
                asked = self._asked.get(timeout=_LOOK_S)
            except queue.Empty:
                if self._person.until_s - self._person_s(time.perf_counter_ns()) < _LEFT_S:
                    self._take(self._person.stay())
                continue
            if asked is None:
                return
            t_ns, step = asked
            self._take(self._person.hear(self._person_s(t_ns), step))

    def _person_s(self, t_ns: int) -> float:
        """Return the person's time at an instant of the host's clock, s."""
        return (t_ns - (self.start_ns or 0) - self._late_ns) * 1e-9

    def _take(self, stretch: Stretch) -> None:
        """Play a stretch in place of what was planned from its beginning on."""
        new: list[tuple[int, list[Change]]] = [
            (round(t_s * 1e9), [("axis", k, code) for k, code in enumerate(codes)])
            for t_s, codes in zip(stretch.sent_s.tolist(), stretch.codes.tolist(), strict=True)
        ]
        new += [(round(t_s * 1e9), [("button", self._place[name], state)]) for t_s, name, state in stretch.buttons]
        new.sort(key=lambda report: report[0])
        begin_ns = round(stretch.begin_s * 1e9) + self._late_ns
        if self.start_ns is not None:
            behind_ns = time.perf_counter_ns() - self.start_ns - begin_ns
            shift_ns = self._interval_ns * max(0, -(-behind_ns // self._interval_ns))
            self._late_ns, begin_ns = self._late_ns + shift_ns, begin_ns + shift_ns
        new = [(due_ns + self._late_ns, changes) for due_ns, changes in new]
        with self._lock:
            while self._reports and self._reports[-1][0] >= begin_ns:
                self._reports.pop()
            self._reports.extend(new)


class LedVirtualSource(VirtualSource):
    """The virtual pad of a person who waits for what they are asked; see `VirtualSource`."""

    def open(self) -> None:
        """Let the simulated person take the pad, and attach it."""
        os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
        self.seconds = math.inf
        rng = np.random.default_rng(self.seed)
        run = simulate_device(self.world, STILL, rng)
        truth = {key: value for key, value in run.truth.items() if not any(word in key for word in _MOMENTS)}
        self._run = replace(run, cues=(), truth=truth)
        self._buttons = _button_names(self.world, self.script)
        self._live = LivePlayer(LivePerson(self.world, rng), self._buttons)
        self._pad = VirtualPad(len(run.axis_names), len(self._buttons), self._live.due)

    def hear(self, t_ns: int, step: Step) -> None:
        """Take one request; see `feelcheck.model.Listener`."""
        self._live.hear(t_ns, step)

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield the events of each poll, mostly none, until `close`."""
        return self._played(self._live.start)

    def close(self) -> None:
        """Detach the pad; safe to call twice."""
        super().close()
        if hasattr(self, "_live"):
            self._live.stop()

    def describe(self) -> dict[str, Any]:
        """Return what the session header records, and that the person was led."""
        return {**super().describe(), "led": True}


def _button_names(world: World, script: Script) -> list[str]:
    pressed = {f"{stick}_press" for stick in world.sticks if any(s.action is Action.PRESS for s in script.steps)}
    return sorted(pressed | ({world.rim_button} if world.rim_button else set()))
