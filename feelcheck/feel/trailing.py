"""How far the output trails the stick in the person's own flicks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

from feelcheck.feel.kinematics import flick_through_poles
from feelcheck.model import Caveat, Estimate, Play, Status, UsedResponse
from feelcheck.numerics.uncertainty import product_of

__all__ = ["poles_of", "stick_speed", "trailing"]

PEAK_OF_MINIMUM_JERK = 1.875
ROUNDS = 12
OWN = Caveat(
    code="own_flicks",
    text="Delay times the peak speed of this axis in the recorded flicks: what one pole does to any motion. A flick "
    "straight along the axis is faster than a diagonal one.",
)
BORROWED = Caveat(
    code="borrowed_flicks",
    text="The flicks are those recorded through another response, taken as minimum-jerk motions.",
)
ASSUMED = Caveat(
    code="assumed_flick",
    text="No flicks of your own are known here: a minimum-jerk flick of the given duration was assumed.",
    advice="Record flicks (feelcheck log), or give the duration with --flick-ms.",
)


def poles_of(response: UsedResponse, direction: str) -> tuple[float, ...] | None:
    """Return the poles of one direction, the delay as a single pole where only that is known, else None.

    Parameters
    ----------
    response : UsedResponse
        A response as it is used.
    direction : str
        ``rising`` or ``falling``.
    """
    poles = response.rising_poles_s if direction == "rising" else response.falling_poles_s
    delay = response.rising if direction == "rising" else response.falling
    if poles:
        return poles
    return None if delay.value is None else (delay.value,)


def trailing(response: UsedResponse, play: Play) -> Mapping[str, Estimate]:
    """Return the greatest distance of the output behind the stick, for the code rising and falling.

    Parameters
    ----------
    response : UsedResponse
        The response of one axis.
    play : Play
        How the stick is used.

    Notes
    -----
    One pole of time constant A obeys stick - output = A d(output)/dt, so the distance peaks at A times the peak speed
    of the output, whatever the motion; further poles change that only where the speed is still growing. Where the own
    flicks were recorded through another response, or none were, a minimum-jerk flick is passed through the poles.
    """
    found = {}
    for direction, delay in (("rising", response.rising), ("falling", response.falling)):
        name = f"trailing_{direction}"
        if response.peak_speed is not None and response.peak_speed.status is not Status.NOT_RESOLVED:
            own = product_of(delay, response.peak_speed, quantity=name, unit="fraction")
            found[name] = own.with_caveats(OWN, *response.peak_speed.caveats)
        elif delay.status in (Status.OK, Status.AT_MOST):
            found[name] = _through_a_flick(name, response, direction, play)
    return found


def _through_a_flick(name: str, response: UsedResponse, direction: str, play: Play) -> Estimate:
    delay = response.rising if direction == "rising" else response.falling
    speed = response.stick_speed
    if speed is None or speed.value is None or speed.u is None:
        flick_s, u_flick, why = play.flick_s, 0.0, ASSUMED
    else:
        flick_s, u_flick, why = PEAK_OF_MINIMUM_JERK / speed.value, speed.u / speed.value, BORROWED
    if delay.value is None:
        bound = flick_through_poles([delay.bound or 0.0], flick_s).peak_trailing_fraction
        return Estimate.at_most(name, bound, unit="fraction", n=delay.n, caveats=(why,))
    poles = poles_of(response, direction) or ()
    value = flick_through_poles(poles, flick_s).peak_trailing_fraction
    # Trailing depends on pole over duration alone, so both shares act through the same slope.
    share = math.hypot((delay.u or 0.0) / delay.value if delay.value else 0.0, u_flick)
    slower = flick_through_poles([tau * (1 + share) for tau in poles], flick_s).peak_trailing_fraction
    dof = min(delay.dof, speed.dof) if why is BORROWED and speed is not None else delay.dof
    scale: Literal["linear", "log"] = "log" if value > 0 else "linear"
    return Estimate.measured(
        name, value, u=slower - value, unit="fraction", n=delay.n, dof=dof, scale=scale, caveats=(why,)
    )


def stick_speed(peak_speed: Estimate, poles_s: Sequence[float]) -> Estimate:
    """Return the peak speed of the stick from that of an output behind poles.

    Parameters
    ----------
    peak_speed : Estimate, throws/s
        Peak speed of the output in flicks.
    poles_s : sequence of float, s
        What the output went through.

    Notes
    -----
    Poles keep less of a fast flick's peak than of a slow one's; for a minimum-jerk flick over full throw, whose
    duration follows from its peak speed, the speed is found by iteration. Half of the correction is added to the
    uncertainty, since a thumb is no formula.
    """
    if peak_speed.value is None or peak_speed.u is None:
        return peak_speed
    speed = peak_speed.value
    for _ in range(ROUNDS):
        kept = flick_through_poles(poles_s, PEAK_OF_MINIMUM_JERK / speed).peak_speed_kept_fraction
        speed = peak_speed.value / kept
    share = math.hypot(peak_speed.u / peak_speed.value, 0.5 * (1 - peak_speed.value / speed))
    return replace(peak_speed, quantity="stick_speed", value=speed, u=speed * share)
