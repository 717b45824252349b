"""The set-up that a person is asked to make before they go on, as a figure."""

from __future__ import annotations

import math

from feelcheck.canvas import FAINT, INK, SOFT, WAY, Canvas, Panel
from feelcheck.model import Step
from feelcheck.recorder.window.gesture import HIGH, LEFT, TOP, WIDE, Place

__all__ = ["draw_set_up"]


def draw_set_up(canvas: Canvas, step: Step | None, *, tied: bool) -> None:
    """Draw tied sticks with their bar, or the button at the rim in the direction that a waiting step names.

    Parameters
    ----------
    canvas : Canvas
        The sheet.
    step : Step or None
        What is waited for.
    tied : bool
        Whether the sticks are to be tied.
    """
    if tied:
        _draw_bar(canvas)
    elif step is not None and step.direction_deg is not None:
        _draw_button(canvas, step.direction_deg)


def _draw_bar(canvas: Canvas) -> None:
    panel = canvas.panel(LEFT, TOP, WIDE, HIGH)
    places = [Place(LEFT + x, TOP + 140, 96.0) for x in (130, 430)]
    for place in places:
        panel.disc((place.x, place.y), place.radius, FAINT, line=2)
    panel.path([place.at(0.0, 0.0) for place in places], INK, 12)
    for place in places:
        panel.disc((place.x, place.y), 26, WAY)
        panel.disc((place.x, place.y), 6, INK)
    panel.put()
    canvas.text("stiff bar", LEFT + 280, TOP + 100, 17, side="middle", face="bold")
    for place, name in zip(places, ("left stick", "right stick"), strict=True):
        canvas.text(name, place.x, TOP + 246, 17, side="middle", colour=SOFT)


def _draw_button(canvas: Canvas, angle_deg: float) -> None:
    panel = canvas.panel(LEFT, TOP, WIDE, HIGH)
    place = Place(LEFT + 170, TOP + 154, 96.0)
    panel.disc((place.x, place.y), place.radius, FAINT, line=2)
    panel.path([place.at(0.0, 0.0), place.at(0.72, angle_deg)], SOFT, 4)
    panel.disc(place.at(0.72, angle_deg), 26, WAY)
    _draw_key(panel, place, angle_deg)
    panel.put()
    x, y = place.at(1.75, angle_deg)
    canvas.text("button", x, y - 12, 17, face="bold", side="middle")
    x, y = place.at(1.5, angle_deg + 180.0)
    canvas.text("rim", *place.at(1.12, angle_deg - 100.0), 17, colour=SOFT)
    canvas.text("left stick", x, y - 12, 17, colour=SOFT, side="middle")


def _draw_key(panel: Panel, place: Place, angle_deg: float) -> None:
    """Draw the button's body beyond the rim and its plunger, which the stick meets with the rim."""
    half = math.degrees(0.2)
    thin = math.degrees(0.08)
    panel.shape(
        [place.at(out, angle_deg + turn) for out, turn in ((1, thin), (1.12, thin), (1.12, -thin), (1, -thin))], INK
    )
    panel.shape(
        [place.at(out, angle_deg + turn) for out, turn in ((1.12, half), (1.4, half), (1.4, -half), (1.12, -half))], INK
    )
