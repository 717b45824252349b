"""The gesture as a path: where the stick should go, drawn like a pen stroke, and where it is."""

from __future__ import annotations

import math
from collections.abc import Sequence

from feelcheck.model import Action, Step
from feelcheck.recorder.guide.sticks import Pad, Stick
from feelcheck.recorder.window.canvas import FAINT, GOOD, INK, SOFT, Canvas, Panel

__all__ = ["draw_gestures"]

Point = tuple[float, float]
LEFT, TOP, WIDE, HIGH = 48.0, 208.0, 560.0, 300.0
LOOP_S = 1.8
TRAIL_S = 0.5
_ROUND = (Action.CIRCLE, Action.ROLL)


class _Place:
    """Where one stick's drawing is on the sheet."""

    def __init__(self, x: float, y: float, radius: float) -> None:
        self.x, self.y, self.radius = x, y, radius

    def at(self, out: float, angle_deg: float) -> Point:
        angle = math.radians(angle_deg)
        return self.x + out * self.radius * math.cos(angle), self.y - out * self.radius * math.sin(angle)

    def arc(self, from_deg: float, to_deg: float, out: float = 1.0) -> list[Point]:
        n = max(2, int(abs(to_deg - from_deg) / 4))
        return [self.at(out, from_deg + (to_deg - from_deg) * k / n) for k in range(n + 1)]


def draw_gestures(canvas: Canvas, pad: Pad, step: Step | None, t_s: float) -> None:
    """Draw what is asked of each stick and where each is.

    Parameters
    ----------
    canvas : Canvas
        The sheet.
    pad : Pad
        The sticks.
    step : Step or None
        What is asked.
    t_s : float, s
        Any running time, for the moving pen.
    """
    panel = canvas.panel(LEFT, TOP, WIDE, HIGH)
    names = ("left", "right")
    both = step is None or step.stick in ("both", "")
    for k, name in enumerate(names):
        asked = step is not None and (both or step.stick == name)
        place = _Place(LEFT + 150 + 260 * k, TOP + 138, 106.0 if asked else 46.0)
        if asked and step is not None:
            _draw_request(panel, place, step, t_s)
        stick = pad.sticks.get(name)
        if stick is not None:
            _draw_stick(panel, place, stick, strong=asked)
    panel.put()
    for k, name in enumerate(names):
        asked = step is not None and (both or step.stick == name)
        words = f"{name} stick" if asked or both else f"{name} stick: leave it alone"
        colour, face = (INK, "bold") if asked else (SOFT, "plain")
        canvas.text(words, LEFT + 150 + 260 * k, TOP + HIGH - 30, 17, side="middle", colour=colour, face=face)


def _draw_request(panel: Panel, place: _Place, step: Step, t_s: float) -> None:
    share = t_s % LOOP_S / LOOP_S
    if step.action in _ROUND:
        _dashes(panel, place.arc(0, 360))
        _pen(panel, place.at(1.0, 90 - 360 * share), 90 - 360 * share - 90)
    elif step.direction_deg is not None:
        angle = step.direction_deg
        panel.path(place.arc(angle - 32, angle + 32, 1.06), FAINT, 7)
        _dashes(panel, [place.at(0.06 + 0.9 * k / 20, angle) for k in range(21)])
        gone = _eased(min(1.0, share / 0.35))
        _pen(panel, place.at(0.9 * gone, angle), angle)
    elif step.action in (Action.FLICK, Action.HOLD):
        _dashes(panel, place.arc(0, 360))
    elif step.action is Action.RELEASE:
        for angle in (45, 135, 225, 315):
            _dashes(panel, [place.at(0.85 - 0.5 * k / 12, angle) for k in range(13)])
            _pen(panel, place.at(0.75 - 0.4 * _eased(share), angle), angle + 180, size=8)
    elif step.action is Action.REST:
        panel.path([place.at(0.55, 200), place.at(0.55, 340)], FAINT, 5)


def _eased(u: float) -> float:
    return u * u * u * (10 - 15 * u + 6 * u * u)


def _dashes(panel: Panel, points: Sequence[Point]) -> None:
    for k in range(0, len(points) - 1, 2):
        panel.path(points[k : k + 2], FAINT, 3)


def _pen(panel: Panel, tip: Point, angle_deg: float, *, size: float = 13) -> None:
    """Draw the moving pen point: an arrow head that shows which way."""
    angle = math.radians(angle_deg)
    ahead = (math.cos(angle), -math.sin(angle))
    aside = (-ahead[1], ahead[0])
    back = (tip[0] - 1.6 * size * ahead[0], tip[1] - 1.6 * size * ahead[1])
    corners = [(back[0] + s * 0.8 * size * aside[0], back[1] + s * 0.8 * size * aside[1]) for s in (1, -1)]
    panel.shape([tip, *corners], SOFT)


def _draw_stick(panel: Panel, place: _Place, stick: Stick, *, strong: bool) -> None:
    """Draw the stroke of the last half second and the place of the stick at its end."""
    colour = GOOD if strong else SOFT
    panel.disc((place.x, place.y), 3.5 if strong else 2.5, FAINT)
    now = stick.now
    since_s = now.t_s - TRAIL_S
    samples = [sample for sample in stick.recent(since_s) if sample.t_s >= since_s]
    every = max(1, len(samples) // 60)
    points = [place.at(*stick.polar(sample)) for sample in (*samples[::every], now)]
    panel.path(points, colour, 3.5 if strong else 2)
    panel.disc(points[-1], 9 if strong else 6, colour)
    panel.disc(points[-1], 4 if strong else 2.5, (255, 255, 255))
