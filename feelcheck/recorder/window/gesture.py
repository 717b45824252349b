"""The gesture as a path: where the stick should go, drawn like a pen stroke, and where it is."""

from __future__ import annotations

import math
from collections.abc import Sequence

from feelcheck.canvas import FAINT, GOOD, SOFT, WAY, Canvas, Panel
from feelcheck.capturing.sticks import Pad, Stick
from feelcheck.model import Action, Step

__all__ = ["HIGH", "LEFT", "TOP", "WIDE", "Place", "draw_gestures"]

Point = tuple[float, float]
LEFT, TOP, WIDE, HIGH = 48.0, 208.0, 560.0, 306.0
LOOP_S = {Action.CIRCLE: 2.4, Action.ROLL: 5.0}
USUAL_LOOP_S = 1.8
LATELY_S = 1.5
TRAIL_S = 0.5
_ROUND = (Action.CIRCLE, Action.ROLL)


class Place:
    """Where one stick's drawing is on the sheet.

    Parameters
    ----------
    x, y, radius : float
        Its centre and its rim.
    """

    def __init__(self, x: float, y: float, radius: float) -> None:
        self.x, self.y, self.radius = x, y, radius

    def at(self, out: float, angle_deg: float) -> Point:
        """Return the point that far out (1 at the rim) in a direction, counter-clockwise from right.

        Parameters
        ----------
        out : float
            Fraction of the way to the rim.
        angle_deg : float, deg
            The direction.
        """
        angle = math.radians(angle_deg)
        return self.x + out * self.radius * math.cos(angle), self.y - out * self.radius * math.sin(angle)

    def arc(self, from_deg: float, to_deg: float, out: float = 1.0) -> list[Point]:
        """Return the points of an arc.

        Parameters
        ----------
        from_deg, to_deg : float, deg
            Where it begins and ends, counter-clockwise from right.
        out : float
            Its radius as a fraction of the way to the rim.
        """
        n = max(6, int(abs(math.radians(to_deg - from_deg)) * out * self.radius / 8))
        return [self.at(out, from_deg + (to_deg - from_deg) * k / n) for k in range(n + 1)]


def draw_gestures(canvas: Canvas, pad: Pad, step: Step | None, now_s: float, *, tied: bool = False) -> None:
    """Draw what is asked of each stick and where each is.

    Parameters
    ----------
    canvas : Canvas
        The sheet.
    pad : Pad
        The sticks.
    step : Step or None
        What is asked.
    now_s : float, s
        Now, on the clock of the sticks' samples.
    tied : bool
        Whether the other stick follows the asked one.
    """
    panel = canvas.panel(LEFT, TOP, WIDE, HIGH)
    names = ("left", "right")
    both = step is None or step.stick in ("both", "")
    for k, name in enumerate(names):
        asked = step is not None and (both or step.stick == name)
        place = Place(LEFT + 150 + 260 * k, TOP + 140, 116.0 if asked else 40.0)
        stick = pad.sticks.get(name)
        if asked and step is not None:
            _draw_request(panel, place, step, stick, now_s)
        if stick is not None:
            _draw_stick(panel, place, stick, now_s, strong=asked)
    panel.put()
    for k, name in enumerate(names):
        asked = step is not None and (both or step.stick == name)
        x = LEFT + 150 + 260 * k
        if asked or both:
            canvas.text(f"{name} stick", x, TOP + HIGH - 28, 17, side="middle", face="bold")
        else:
            words = "it follows" if tied else "leave it"
            canvas.text(f"{name} stick: {words}", x, TOP + 196, 15, side="middle", colour=SOFT)


def _draw_request(panel: Panel, place: Place, step: Step, stick: Stick | None, now_s: float) -> None:
    loop_s = LOOP_S.get(step.action, USUAL_LOOP_S)
    share = now_s % loop_s / loop_s
    if step.action in _ROUND:
        _dashes(panel, place.arc(0, 360))
        _pen(panel, place.at(1.0, 90 - 360 * share), 90 - 360 * share - 90)
    elif step.direction_deg is not None:
        angle = step.direction_deg
        _draw_rim(panel, place, angle)
        _dashes(panel, [place.at(0.06 + 0.9 * k / 20, angle) for k in range(21)])
        gone = _eased(min(1.0, share / 0.35))
        _pen(panel, place.at(0.9 * gone, angle), angle)
    elif step.action in (Action.FLICK, Action.HOLD):
        _dashes(panel, place.arc(0, 360))
    elif step.action in (Action.RELEASE, Action.REST):
        _draw_home(panel, place, None if step.action is Action.REST else stick, now_s, share)


def _draw_home(panel: Panel, place: Place, stick: Stick | None, now_s: float, share: float) -> None:
    """Draw the centre as a small ring to come home to, and the way there from where the stick was lately."""
    _dashes(panel, place.arc(0, 360, 0.2))
    lately = [] if stick is None else [stick.polar(sample) for sample in stick.recent(now_s - LATELY_S)]
    out, angle = max(lately, default=(0.0, 0.0))
    if out > 0.5:
        _draw_rim(panel, place, angle)
        _dashes(panel, [place.at(0.92 - 0.7 * k / 14, angle) for k in range(15)])
        _pen(panel, place.at(0.9 - 0.66 * _eased(min(1.0, share / 0.5)), angle), angle + 180)


def _draw_rim(panel: Panel, place: Place, angle_deg: float) -> None:
    """Draw the piece of the rim that the stick should meet."""
    outer, inner = (place.arc(angle_deg - 32, angle_deg + 32, out) for out in (1.10, 1.045))
    panel.shape([*outer, *reversed(inner)], WAY)


def _eased(u: float) -> float:
    return u * u * u * (10 - 15 * u + 6 * u * u)


def _dashes(panel: Panel, points: Sequence[Point]) -> None:
    for k in range(0, len(points) - 1, 2):
        panel.path(points[k : k + 2], WAY, 2.5)


def _pen(panel: Panel, tip: Point, angle_deg: float, *, size: float = 13) -> None:
    """Draw the moving pen point: an arrow head that shows which way."""
    angle = math.radians(angle_deg)
    ahead = (math.cos(angle), -math.sin(angle))
    aside = (-ahead[1], ahead[0])
    back = (tip[0] - 1.6 * size * ahead[0], tip[1] - 1.6 * size * ahead[1])
    corners = [(back[0] + s * 0.8 * size * aside[0], back[1] + s * 0.8 * size * aside[1]) for s in (1, -1)]
    panel.shape([tip, *corners], SOFT)


def _draw_stick(panel: Panel, place: Place, stick: Stick, now_s: float, *, strong: bool) -> None:
    """Draw the stroke of the last half second and the place of the stick at its end."""
    colour = GOOD if strong else SOFT
    panel.disc((place.x, place.y), 3.5 if strong else 2.5, FAINT)
    now = stick.now
    since_s = now_s - TRAIL_S
    samples = [sample for sample in stick.recent(since_s) if sample.t_s >= since_s]
    every = max(1, len(samples) // 60)
    points = [place.at(*stick.polar(sample)) for sample in (*samples[::every], now)]
    panel.path(points, colour, 3.5 if strong else 2)
    panel.disc(points[-1], 9 if strong else 6, colour)
    panel.disc(points[-1], 4 if strong else 2.5, (255, 255, 255))
