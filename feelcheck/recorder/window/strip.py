"""The strip: the axes of the asked stick over the last seconds, written like a seismograph."""

from __future__ import annotations

import math

from feelcheck.canvas import FAINT, INK, SHADE, SOFT, WIDTH, Canvas, Panel
from feelcheck.capturing.sticks import Pad, Stick
from feelcheck.model import Step

__all__ = ["draw_strip"]

LEFT, TOP, HIGH = 48.0, 526.0, 104.0
LABELS = 96.0
SPAN_S = 6.0
POINTS = 450


def draw_strip(canvas: Canvas, pad: Pad, step: Step | None, now_s: float) -> None:
    """Draw the strip: the newest at the right, lines a second apart, each axis' newest value at its name.

    Parameters
    ----------
    canvas : Canvas
        Where to draw.
    pad : Pad
        What the pad's axes did so far.
    step : Step or None
        One step of a script; none before the first.
    now_s : float, s
        The present instant.
    """
    names = ["left", "right"] if step is None or step.stick in ("both", "") else [step.stick]
    sticks = [pad.sticks[name] for name in names if name in pad.sticks]
    lanes = [(stick, letter) for stick in sticks for letter in "xy"]
    wide = WIDTH - 2 * LEFT - LABELS
    panel = canvas.panel(LEFT + LABELS, TOP, wide, HIGH, SHADE)
    right = LEFT + LABELS + wide - 10

    def x_of(t_s: float) -> float:
        return right - max(0.0, now_s - t_s) / SPAN_S * wide

    for second in range(1, math.floor(SPAN_S) + 1):
        x = x_of(now_s - second)
        panel.path([(x, TOP), (x, TOP + HIGH)], FAINT, 1)
    each = HIGH / max(1, len(lanes))
    for k, (stick, letter) in enumerate(lanes):
        middle = TOP + each * (k + 0.5)
        panel.path([(LEFT + LABELS, middle), (right, middle)], FAINT, 1)
        _trace(panel, stick, letter, (middle, 0.44 * each), x_of, now_s)
    panel.put()
    for k, (stick, letter) in enumerate(lanes):
        way = "across" if letter == "x" else "up-down"
        middle = TOP + each * (k + 0.5)
        size = 15.0 if len(sticks) == 1 else 13.0
        words = way if len(sticks) == 1 else f"{stick.name} {way}"
        value = stick.now.x if letter == "x" else stick.now.y
        canvas.text(words, LEFT, middle - 1.15 * size, size, colour=SOFT)
        percent = round(100 * value)
        canvas.text(f"{percent:+d} %" if percent else "0 %", LEFT, middle - 0.05 * size, size - 2)
    for second in range(1, math.floor(SPAN_S) + 1):
        canvas.text(f"{second} s ago", x_of(now_s - second), TOP + HIGH + 1, 10, colour=SOFT, side="middle")


def _trace(panel: Panel, stick: Stick, letter: str, lane: tuple[float, float], x_of: object, now_s: float) -> None:
    middle, half = lane
    assert callable(x_of)
    samples = stick.recent(now_s - SPAN_S)
    every = max(1, len(samples) // POINTS)
    points: list[tuple[float, float]] = []
    for sample in samples[::every] if samples else []:
        value = sample.x if letter == "x" else sample.y
        x, y = x_of(max(sample.t_s, now_s - SPAN_S)), middle - half * max(-1.0, min(1.0, value))
        if points and x - points[-1][0] > 4:
            points.append((x, points[-1][1]))
        points.append((x, y))
    if points:
        value = stick.now.x if letter == "x" else stick.now.y
        last = (x_of(now_s), middle - half * max(-1.0, min(1.0, value)))
        panel.path([*points, last], INK, 1.6)
        panel.disc(last, 4, INK)
