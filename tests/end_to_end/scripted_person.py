"""A person on a virtual pad: reads the prompts in the events file, reacts, and makes bad flicks as well as good ones.

The pad is SDL's own virtual joystick with a report a millisecond; the sticks' electronics are one pole of known time
constant. `options.device` is ``EVENTS FILE|first bad flick,second,...``: each bad one is done once, at the first try of
the flick of that number; every other flick is a good one. Further words: ``quit`` holds a stick down in a pause.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from feelcheck.model import Cue, SourceEvent, SourceKind, SourceOptions
from feelcheck.sources.gamepad.naming import axis_records
from feelcheck.sources.gamepad.poll import brackets, quieten
from feelcheck.sources.gamepad.rows import PadRows
from feelcheck.sources.gamepad.sdl import EventDrain
from feelcheck.sources.gamepad.virtual import Change, VirtualPad

NAMES = {0: "left_x", 1: "left_y", 2: "right_x", 3: "right_y"}
TAU_S = 0.012
PERIOD_NS = 1_000_000
RIM = 1.12
REACTION_S = 0.25
TREMOR = 0.003
NOISE_COUNTS = 10.0
LOOK_NS = 20_000_000
Point = tuple[float, float]


def eased(u: float) -> float:
    u = min(1.0, max(0.0, u))
    return u * u * u * (10 - 15 * u + 6 * u * u)


class Thumb:
    """One thumb: where it drives its stick, as a function of time."""

    def __init__(self) -> None:
        self.start_s, self.took_s = 0.0, 0.1
        self.here: Point = (0.0, 0.0)
        self.goal: Point = (0.0, 0.0)
        self.turn_s = self.give = 0.0

    def at(self, t_s: float) -> Point:
        if self.turn_s and t_s > self.start_s + 0.25:
            angle = math.radians(410.0 * min(1.0, (t_s - self.start_s - 0.25) / self.turn_s))
            return RIM * math.cos(angle), RIM * math.sin(angle)
        share = eased((t_s - self.start_s) / self.took_s)
        x = self.here[0] + (self.goal[0] - self.here[0]) * share
        y = self.here[1] + (self.goal[1] - self.here[1]) * share
        out, rim = (
            math.hypot(x, y),
            RIM * (1.0 + self.give * (1.0 - math.exp(min(0.0, self.start_s + 0.05 - t_s) / 0.02))),
        )
        x, y = (x, y) if out <= rim else (x * rim / out, y * rim / out)
        shake = TREMOR * min(1.0, out)
        return x + shake * math.sin(57.0 * t_s), y + shake * math.sin(63.0 * t_s + 1.0)

    def go(self, t_s: float, out: float, angle_deg: float, took_s: float) -> None:
        self.here, self.start_s, self.took_s, self.turn_s = self.at(t_s), t_s, took_s, 0.0
        self.goal = (out * math.cos(math.radians(angle_deg)), out * math.sin(math.radians(angle_deg)))

    def turn(self, t_s: float, took_s: float) -> None:
        self.go(t_s, RIM, 0.0, 0.2)
        self.turn_s = took_s


class Person:
    """Turns cues into movements."""

    def __init__(self, bad: list[str]) -> None:
        self.thumbs = {"left": Thumb(), "right": Thumb()}
        self.bad = bad
        self.flicks = 0
        self.asked: list[tuple[float, Cue]] = []
        self.presses: list[tuple[float, int]] = []
        self.chosen = False

    def start(self, t_s: float) -> None:
        """Take the pad and press a button to begin."""
        self.presses = [(t_s + 0.6, 1), (t_s + 0.7, 0)]

    def told(self, t_s: float, text: str) -> None:
        """Hear one cue at an instant; react a moment later."""
        self.asked.append((t_s + REACTION_S, Cue.parse(text, t_s)))

    def move(self, t_s: float) -> None:
        """Begin what is due."""
        self.asked.sort(key=lambda one: one[0])
        while self.asked and self.asked[0][0] <= t_s:
            _, cue = self.asked.pop(0)
            action = str(cue.action)
            thumb = self.thumbs.get(cue.stick, self.thumbs["left"])
            if action == "flick":
                self._flick(t_s, thumb, cue.direction_deg or 0.0)
            elif action in ("circle", "roll"):
                thumb.turn(t_s, 1.2 if action == "circle" else 2.5)
            else:
                for each in self.thumbs.values():
                    each.go(t_s, 0.0, 0.0, 0.04)
                if action == "pause" and self.flicks and not self.chosen:
                    self.chosen = True
                    self.asked.append((t_s + 0.5, Cue.parse("hold direction_deg=90", t_s)))
                    self.asked.append((t_s + 1.55, Cue.parse("release", t_s)))
            if action == "hold":
                thumb.go(t_s, RIM, cue.direction_deg or 0.0, 0.1)

    def _quick_s(self) -> float:
        return 0.08 + 0.05 * (self.flicks * 0.382 % 1.0)

    def _flick(self, t_s: float, thumb: Thumb, angle_deg: float) -> None:
        kind = self.bad[self.flicks] if self.flicks < len(self.bad) else "good"
        self.flicks += 1
        thumb.give = 0.002 + 0.006 * (self.flicks * 0.618 % 1.0)
        if kind == "pause":
            self.presses += [(t_s + 0.02, 1), (t_s + 0.08, 0)]
            return
        if kind == "two":
            self.thumbs["right"].go(t_s + 0.02, 1.7, angle_deg, 0.1)
        # The rim is beyond full scale along the axes: off the diagonal an axis clips.
        away_deg = 21.0 if kind == "clipped" else 0.0
        thumb.go(t_s, 0.8 if kind == "short" else 1.7, angle_deg + away_deg, 1.0 if kind == "slow" else self._quick_s())


class Electronics:
    """One pole and some noise on each axis, and the codes that changed."""

    def __init__(self) -> None:
        self.smooth = [0.0] * 4
        self.codes = [0] * 4
        self.noise = random.Random(7)

    def report(self, person: Person, t_s: float) -> list[Change]:
        """Return what one report changes."""
        person.move(t_s)
        changes: list[Change] = []
        decay = math.exp(-PERIOD_NS * 1e-9 / TAU_S)
        places = [value for thumb in person.thumbs.values() for value in thumb.at(t_s)]
        for k, value in enumerate(places):
            self.smooth[k] = value + (self.smooth[k] - value) * decay
            sign = -1 if k % 2 else 1
            code = max(-32768, min(32767, round(sign * 32767 * self.smooth[k] + self.noise.gauss(0.0, NOISE_COUNTS))))
            if code != self.codes[k]:
                self.codes[k] = code
                changes.append(("axis", k, code))
        while person.presses and person.presses[0][0] <= t_s:
            changes.append(("button", 0, person.presses.pop(0)[1]))
        return changes


class PersonSource:
    """The virtual pad in the person's hands."""

    name = "person"

    def __init__(self, options: SourceOptions) -> None:
        events, _, bad = options.device.partition("|")
        self.events_file = Path(events)
        self.person = Person(bad.split(","))
        self.low_power = options.low_power
        self.pad: VirtualPad | None = None
        self.electronics = Electronics()
        self.next_ns = self.look_ns = self.start_ns = 0
        self.offset = 0

    def open(self) -> None:
        self.pad = VirtualPad(4, 2, self.due)

    def due(self, now_ns: int) -> Iterator[list[Change]]:
        if now_ns >= self.look_ns:
            self.look_ns = now_ns + LOOK_NS
            self._read()
        while self.next_ns <= now_ns:
            changes = self.electronics.report(self.person, self.next_ns * 1e-9)
            self.next_ns += PERIOD_NS
            if changes:
                yield changes

    def _read(self) -> None:
        if not self.events_file.exists():
            return
        with self.events_file.open("rb") as stream:
            stream.seek(self.offset)
            whole, _, _ = stream.read().rpartition(b"\n")
        if whole:
            self.offset += len(whole) + 1
        for line in whole.split(b"\n"):
            if b",cue," in line:
                t_ns, _, _, text, *_ = line.decode().split(",")
                self.person.told(int(t_ns) * 1e-9, text)

    def describe(self) -> dict[str, Any]:
        return {"device": "scripted pad", "guid": "00", "axes": axis_records(NAMES, 4), "simulated": True}

    def events(self) -> Iterator[list[SourceEvent]]:
        assert self.pad is not None
        quieten(low_power=self.low_power)
        self.start_ns = self.next_ns = time.perf_counter_ns()
        self.person.start(self.start_ns * 1e-9)
        self.pad.start()
        rows = PadRows(self.pad.instance, list(NAMES.values()), ["button_0", "button_1"], self.pad.values)
        yield [(self.start_ns, self.start_ns, "axis", name, 0) for name in NAMES.values()]
        nothing: list[SourceEvent] = []
        poll = EventDrain(self.pad.library).poll
        for lo, hi, found in brackets(poll, low_power=self.low_power, since_ns=self.start_ns):
            yield rows.translate(found, lo, hi).rows if found else nothing

    def close(self) -> None:
        if self.pad is not None:
            self.pad.close()


PERSON = SourceKind(name="person", about="a scripted person on a virtual pad, for tests", make=PersonSource)
