"""A simulated pad for rehearsals: SDL's own virtual joystick, moved and pressed as it is told."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterator, Mapping
from typing import Any

from feelcheck.model import SourceEvent, SourceKind, SourceOptions
from feelcheck.sources.gamepad.naming import axis_records
from feelcheck.sources.gamepad.pad import open_pad_facts
from feelcheck.sources.gamepad.poll import brackets, quieten
from feelcheck.sources.gamepad.rows import PadRows
from feelcheck.sources.gamepad.sdl import EventDrain
from feelcheck.sources.gamepad.virtual import Change, VirtualPad

__all__ = ["SIMULATED_PAD", "SimulatedPad"]

NAMES = ("left_x", "left_y", "right_x", "right_y")
BUTTONS = ("button_0", "button_1", "button_2", "button_3")
PERIOD_NS = 1_000_000
HELD_NS = 60_000_000
REACH = 32767
Point = tuple[float, float]
_NOTHING: list[SourceEvent] = []


class SimulatedPad:
    """A pad with a report a millisecond whose thumbs make minimum-jerk movements.

    Parameters
    ----------
    options : SourceOptions
        `low_power` is used.

    Notes
    -----
    Orders: ``{"stick": [x, y], "took_s": 0.09, "side": "left"}`` (fractions of throw, right and up positive) and
    ``{"press": 0}``.
    """

    name = "simulated"

    def __init__(self, options: SourceOptions) -> None:
        self.low_power = options.low_power
        self._pad: VirtualPad | None = None
        self._next_ns = 0
        self._moves: dict[str, tuple[int, int, Point, Point]] = {}
        self._presses: deque[tuple[int, int, int]] = deque()
        self._codes = [0] * len(NAMES)

    def open(self) -> None:
        """Attach the pad."""
        self._pad = VirtualPad(len(NAMES), len(BUTTONS), self._due)

    def describe(self) -> dict[str, Any]:
        """Return what the session header records."""
        assert self._pad is not None
        facts = open_pad_facts(self._pad.library, self._pad.stick, self._pad.guid)
        return {**facts, "axes": axis_records(dict(enumerate(NAMES)), len(NAMES)), "simulated": True}

    def do(self, order: Mapping[str, Any]) -> None:
        """Take one order: where a stick goes within which time, or which button is pressed."""
        now_ns = time.perf_counter_ns()
        if "stick" in order:
            side = str(order.get("side", "left"))
            x, y = order["stick"]
            took_ns = max(1, round(float(order.get("took_s", 0.09)) * 1e9))
            self._moves[side] = (now_ns, took_ns, self._at(side, now_ns), (float(x), float(y)))
        if "press" in order:
            self._presses += [(now_ns, int(order["press"]), 1), (now_ns + HELD_NS, int(order["press"]), 0)]

    def _at(self, side: str, t_ns: int) -> Point:
        if side not in self._moves:
            return 0.0, 0.0
        start_ns, took_ns, here, goal = self._moves[side]
        u = min(1.0, max(0.0, (t_ns - start_ns) / took_ns))
        share = u * u * u * (10 - 15 * u + 6 * u * u)
        return here[0] + (goal[0] - here[0]) * share, here[1] + (goal[1] - here[1]) * share

    def _due(self, now_ns: int) -> Iterator[list[Change]]:
        while self._next_ns <= now_ns:
            changes = self._report(self._next_ns)
            self._next_ns += PERIOD_NS
            if changes:
                yield changes

    def _report(self, t_ns: int) -> list[Change]:
        changes: list[Change] = []
        (lx, ly), (rx, ry) = self._at("left", t_ns), self._at("right", t_ns)
        for k, value in enumerate((lx, -ly, rx, -ry)):
            code = max(-REACH, min(REACH, round(REACH * value)))
            if code != self._codes[k]:
                self._codes[k] = code
                changes.append(("axis", k, code))
        while self._presses and self._presses[0][0] <= t_ns:
            _, button, state = self._presses.popleft()
            changes.append(("button", button, state))
        return changes

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield the events of each poll, mostly none, until `close`."""
        pad = self._pad
        assert pad is not None
        quieten(low_power=self.low_power)
        start_ns = self._next_ns = time.perf_counter_ns()
        pad.start()
        rows = PadRows(pad.instance, NAMES, BUTTONS, pad.values)
        yield [(start_ns, start_ns, "axis", name, 0) for name in NAMES]
        poll = EventDrain(pad.library).poll
        for t_lo_ns, t_hi_ns, found in brackets(poll, low_power=self.low_power, since_ns=start_ns):
            yield rows.translate(found, t_lo_ns, t_hi_ns).rows if found else _NOTHING
            if self._pad is None:
                return

    def close(self) -> None:
        """Detach the pad; safe to call twice."""
        if self._pad is not None:
            self._pad.close()
            self._pad = None


SIMULATED_PAD = SourceKind(name="simulated", about="a simulated pad that does what it is told", make=SimulatedPad)
