"""Draw the window of a guided recording as a picture: ``python demo_logs/window_picture.py``, no display needed."""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable
from pathlib import Path

os.environ["SDL_VIDEODRIVER"] = "dummy"

import pygame
from PIL import Image

from feelcheck.canvas import Canvas
from feelcheck.recorder import load_script
from feelcheck.recorder.guide import Guide
from feelcheck.recorder.window.sheet import draw_sheet
from feelcheck.sources.gamepad.naming import axis_records

NAMES = {0: "left_x", 1: "left_y", 2: "right_x", 3: "right_y"}
SIZE = (1024, 576)
RIM, TAU_S, STEP_S, LOOK_S = 0.95, 0.008, 0.001, 0.02


class Hand:
    """A left thumb that reports to a guide, a step at a time."""

    def __init__(self, guide: Guide) -> None:
        self.guide, self.t_s, self.place, self.seen = guide, 10.0, [0.0, 0.0], [0.0, 0.0]
        guide.take([(self.t_s, "axis", name, 0) for name in NAMES.values()])

    def go(self, seconds: float, goal: Callable[[float], tuple[float, float]]) -> None:
        """Follow a goal, given over the share of the time, through the lag of the stick's electronics."""
        start = list(self.place)
        for k in range(1, round(seconds / STEP_S) + 1):
            share = k * STEP_S / seconds
            self.t_s += STEP_S
            self.place = [a + (b - a) * min(1.0, 4 * share) for a, b in zip(start, goal(share), strict=True)]
            self.seen = [s + (p - s) * STEP_S / TAU_S for s, p in zip(self.seen, self.place, strict=True)]
            codes = (round(32767 * self.seen[0]), round(-32767 * self.seen[1]))
            self.guide.take([(self.t_s, "axis", name, code) for name, code in zip(NAMES.values(), codes, strict=False)])
            if k % round(LOOK_S / STEP_S) == 0:
                self.guide.look(self.t_s)

    def flick(self, out: float, angle_deg: float, held_s: float) -> None:
        """Go out and stay."""
        angle = math.radians(angle_deg)
        self.go(0.12, lambda _: (out * RIM * math.cos(angle), out * RIM * math.sin(angle)))
        self.go(held_s, lambda _: (out * RIM * math.cos(angle), out * RIM * math.sin(angle)))

    def rest(self, seconds: float) -> None:
        """Let go."""
        self.go(0.08, lambda _: (0.0, 0.0))
        self.go(seconds, lambda _: (0.0, 0.0))


def main() -> None:
    """Play a circle, a flick that stops short and one that does not, and draw the second in mid hold."""
    guide = Guide(load_script("quick"), axis_records(NAMES, 4), ready_s=0.0)
    hand = Hand(guide)
    hand.rest(0.6)
    hand.go(0.3, lambda _: (RIM, 0.0))
    hand.go(1.2, lambda share: (RIM * math.cos(6.7 * share), RIM * math.sin(6.7 * share)))
    hand.rest(2.4)
    hand.flick(0.76, 45.0, 0.6)
    hand.rest(0.7)
    hand.flick(1.0, 45.0, 0.34)
    surface = pygame.Surface(SIZE)
    pygame.font.init()
    draw_sheet(Canvas(surface), guide.view(), [])
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "pictures" / "window.png"
    picture = Image.frombytes("RGB", SIZE, pygame.image.tobytes(surface, "RGB"))
    picture.quantize(64, dither=Image.Dither.NONE).save(out, optimize=True)


if __name__ == "__main__":
    main()
