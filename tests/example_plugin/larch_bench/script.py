"""A flick script: rest, then one flick and release to each side."""

from __future__ import annotations

from feelcheck.model import Action, Script, Step

__all__ = ["FOUR_SIDES"]

REST = Step(action=Action.REST, duration_s=1.5, stick="left", say="Left stick: hands off.")
SIDES = {"right": 0.0, "up": 90.0, "left": 180.0, "down": 270.0}


def _there_and_back(side: str, direction_deg: float) -> tuple[Step, Step]:
    say = f"Left stick: flick {side} to the rim and hold."
    flick = Step(action=Action.FLICK, duration_s=1.0, stick="left", direction_deg=direction_deg, say=say)
    return flick, Step(action=Action.RELEASE, duration_s=0.8, stick="left", say="Let go.")


FOUR_SIDES = Script(
    name="four_sides",
    title="One flick to each side",
    steps=(REST, *(step for side, angle in SIDES.items() for step in _there_and_back(side, angle))),
)
