"""Rows as a hand on a simulated pad would make them, for the judges' tests."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from feelcheck.recorder.guide import Row


def axes(*, rises: tuple[str | None, str | None] = ("right", "down"), scale: tuple[float, float] = (0, 32767)) -> Any:
    return [
        {"name": f"{side}_{c}", "stick": side, "centre": scale[0], "reach": scale[1], "rises_toward": rises[c == "y"]}
        for side in ("left", "right")
        for c in "xy"
    ]


@dataclass
class Hand:
    """Moves sticks in rim fractions; a report every `step_s`, silent where no code changes."""

    records: Any = field(default_factory=axes)
    rim: Callable[[float], float] = lambda angle_deg: 0.9
    step_s: float = 0.001
    step_fs: float = 1 / 32767
    t_s: float = 10.0
    offset: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        self.place = {"left": (0.0, 0.0), "right": (0.0, 0.0)}
        self.codes: dict[str, int] = {}

    def rows(self) -> list[Row]:
        """The rows of the present instant."""
        out: list[Row] = []
        for record in self.records:
            side, letter = record["name"].split("_")
            x, y = self.place[side]
            value = x + self.offset[0] if letter == "x" else y + self.offset[1]
            sign = -1 if record["rises_toward"] in ("left", "down") else 1
            value = round(value / self.step_fs) * self.step_fs
            code = round(record["centre"] + sign * record["reach"] * max(-1.0, min(1.0, value)))
            if self.codes.get(record["name"]) != code:
                self.codes[record["name"]] = code
                out.append((self.t_s, "axis", record["name"], code))
        return out

    def move(self, out: float, angle_deg: float, duration_s: float, *, side: str = "left") -> list[Row]:
        """Go straight to a place at an even pace (out in fractions of the way to the rim there)."""
        radius = out * self.rim(angle_deg)
        goal = (radius * math.cos(math.radians(angle_deg)), radius * math.sin(math.radians(angle_deg)))
        return self.path(lambda u: goal, duration_s, side=side, straight=True)

    def turn(self, degrees: float, duration_s: float, *, out: float = 1.0, side: str = "left") -> list[Row]:
        """Go round from the right."""

        def place(u: float) -> tuple[float, float]:
            angle = degrees * u
            radius = out * self.rim(angle % 360.0)
            return radius * math.cos(math.radians(angle)), radius * math.sin(math.radians(angle))

        return self.path(place, duration_s, side=side)

    def path(
        self, place: Callable[[float], tuple[float, float]], duration_s: float, *, side: str, straight: bool = False
    ) -> list[Row]:
        found: list[Row] = []
        n = max(1, round(duration_s / self.step_s))
        x0, y0 = self.place[side]
        for k in range(1, n + 1):
            self.t_s += self.step_s
            x, y = place(k / n)
            share = k / n if straight else 1.0
            self.place[side] = (x0 + (x - x0) * share, y0 + (y - y0) * share)
            found += self.rows()
        return found

    def wait(self, seconds: float) -> list[Row]:
        self.t_s += seconds
        return self.rows()
