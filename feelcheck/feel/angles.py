"""Where the view goes: angles by formula where it holds, else from a flick that is run sample by sample."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from feelcheck.feel.rate_control import ViewRun, turn_of_view
from feelcheck.feel.trailing import PEAK_OF_MINIMUM_JERK, poles_of
from feelcheck.model import Caveat, Estimate, Play, Status, UsedResponse
from feelcheck.numerics.uncertainty import difference_of, scaled_estimate

__all__ = ["angles", "of_picture"]

Sides = tuple[tuple[float, ...], tuple[float, ...]]
SETTLED_DELAYS = 5.0
SIMULATED = Caveat(
    code="simulated_flick",
    text="A dead zone, a response curve or a short hold breaks the linear formula; the flick was run instead.",
)


def angles(response: UsedResponse, play: Play) -> Mapping[str, Estimate]:
    """Return carry-on, net angle and drift in degrees, and the time the electronics take to come to rest.

    Parameters
    ----------
    response : UsedResponse
        The response of one axis.
    play : Play
        How the stick is used.

    Notes
    -----
    Carry-on after release is turn rate times delay (the area above the step response): exact for any linear response.
    Electrical asymmetry pushes a flick either way by the same signed angle, turn rate times (falling minus rising),
    so a pair drifts by twice that.
    """
    found = _by_formula(response, play) if _linear(response, play) else _by_running(response, play)
    settle = _settling(response, play)
    return {**found, **({} if settle is None else {"settle_after_release": settle})}


def _linear(response: UsedResponse, play: Play) -> bool:
    delays = [side.value or side.bound or 0.0 for side in (response.rising, response.falling)]
    straight = play.dead_zone_fraction == 0 and play.curve_exponent == 1
    return straight and play.held_s > SETTLED_DELAYS * max(delays)


def _by_formula(response: UsedResponse, play: Play) -> dict[str, Estimate]:
    rate = play.turn_rate_deg_s
    difference = difference_of(response.falling, response.rising, quantity="net_angle_per_flick")
    return {
        "carry_on_after_release": scaled_estimate(
            response.falling, rate, quantity="carry_on_after_release", unit="deg"
        ),
        "carry_on_opposite": scaled_estimate(response.rising, rate, quantity="carry_on_opposite", unit="deg"),
        "net_angle_per_flick": scaled_estimate(difference, rate, quantity="net_angle_per_flick", unit="deg"),
        "drift_per_pair": scaled_estimate(difference, 2 * rate, quantity="drift_per_pair", unit="deg"),
    }


def _by_running(response: UsedResponse, play: Play) -> dict[str, Estimate]:
    """Run a flick either way; a bound of the delay is run as a pole of its own and gives a bound of the carry-on."""

    def carried(sign: int) -> Callable[[Sides], float]:
        return lambda sides: abs(_run(response, play, sides, sign).carry_on_deg)

    def drift(sides: Sides) -> float:
        return sum(_run(response, play, sides, sign).angle_deg for sign in (1, -1))

    both = _sides(response)
    names = ("carry_on_after_release", "carry_on_opposite", "net_angle_per_flick", "drift_per_pair")
    if both is None:
        return {name: Estimate.not_resolved(name, unit="deg") for name in names}
    pair = _measured("drift_per_pair", drift, both, response)
    return {
        "carry_on_after_release": _carried("carry_on_after_release", carried(1), both, response, response.falling),
        "carry_on_opposite": _carried("carry_on_opposite", carried(-1), both, response, response.rising),
        "net_angle_per_flick": scaled_estimate(pair, 0.5, quantity="net_angle_per_flick", unit="deg"),
        "drift_per_pair": pair,
    }


def _run(response: UsedResponse, play: Play, sides: Sides, sign: int) -> ViewRun:
    speed = response.stick_speed or response.peak_speed
    out_s = PEAK_OF_MINIMUM_JERK / speed.value if speed is not None and speed.value else play.flick_s
    return turn_of_view(play, *sides, sign=sign, out_s=out_s)


def _sides(response: UsedResponse) -> Sides | None:
    found = []
    for direction, delay in (("rising", response.rising), ("falling", response.falling)):
        poles = poles_of(response, direction)
        if poles is None:
            if delay.status is not Status.AT_MOST or delay.bound is None:
                return None
            poles = (delay.bound,)
        found.append(poles)
    return found[0], found[1]


def _carried(name: str, run: Callable[[Sides], float], sides: Sides, response: UsedResponse, own: Estimate) -> Estimate:
    if own.value is None:
        return Estimate.at_most(name, run(sides), unit="deg", n=own.n, caveats=(SIMULATED,))
    return _measured(name, run, sides, response, needs_both=False)


def _measured(
    name: str,
    run: Callable[[Sides], float],
    sides: Sides,
    response: UsedResponse,
    *,
    unit: str = "deg",
    needs_both: bool = True,
) -> Estimate:
    """Return what a run gives, its uncertainty by moving either delay by its own."""
    delays = (response.rising, response.falling)
    if needs_both and any(delay.value is None for delay in delays):
        return Estimate.not_resolved(name, unit=unit, caveats=(SIMULATED,))
    value = run(sides)
    moved = [run(_stretched(sides, k, 1 + _share(delay))) - value for k, delay in enumerate(delays) if delay.u]
    dof = min((delay.dof for delay in delays if delay.u), default=math.inf)
    return Estimate.measured(name, value, u=math.hypot(*moved), unit=unit, dof=dof, caveats=(SIMULATED,))


def _share(delay: Estimate) -> float:
    return delay.u / delay.value if delay.u and delay.value else 0.0


def _stretched(sides: Sides, which: int, factor: float) -> Sides:
    moved = [tuple(tau * (factor if k == which else 1.0) for tau in poles) for k, poles in enumerate(sides)]
    return moved[0], moved[1]


def _settling(response: UsedResponse, play: Play) -> Estimate | None:
    """Return how long the output needs into the rest band after the stick is back, the slower way of the two."""
    sides = _sides(response)
    if sides is None:
        return None

    def settle(both: Sides) -> float:
        return max(_run(response, play, both, sign).settle_s for sign in (1, -1))

    if any(delay.value is None for delay in (response.rising, response.falling)):
        return Estimate.at_most("settle_after_release", settle(sides), unit="s")
    found = _measured("settle_after_release", settle, sides, response, unit="s")
    return replace(found, caveats=())


def of_picture(angle: Estimate, play: Play, *, quantity: str) -> Estimate:
    """Return how far something at the middle of the picture moves for a turn of the view, in picture widths.

    A flat picture of field of view F shows a turn a at tan(a) / (2 tan(F / 2)) of its width; what turns by half of F or
    more has left the picture.

    Parameters
    ----------
    angle : Estimate
        Degrees of turn.
    play : Play
        How the stick is used.
    quantity : str
        Name of the estimate that comes of it.
    """
    half = math.radians(play.field_of_view_deg / 2)
    ends = [abs(end) for end in (angle.value, angle.bound) if end is not None]
    if ends and math.radians(max(ends)) >= half:
        return _left_the_picture(angle, quantity)

    def share(degrees: float | None) -> float | None:
        return None if degrees is None else math.tan(math.radians(degrees)) / (2 * math.tan(half))

    slope = math.radians(1) / (2 * math.tan(half) * math.cos(math.radians(max(ends, default=0.0))) ** 2)
    u = None if angle.u is None else angle.u * slope
    return replace(
        angle, quantity=quantity, unit="fraction", value=share(angle.value), u=u, bound=share(angle.bound), caveats=()
    )


def _left_the_picture(angle: Estimate, quantity: str) -> Estimate:
    """Half a picture or more, on the side of the turn; a limit on the turn from above then limits nothing."""
    turned = (angle.bound if angle.value is None else angle.value) or 0.0
    if not angle.is_ok and (turned > 0) != (angle.status is Status.AT_LEAST):
        return Estimate.not_resolved(quantity, unit="fraction", n=angle.n)
    bounded = Estimate.at_least if turned > 0 else Estimate.at_most
    return bounded(quantity, math.copysign(0.5, turned), unit="fraction", n=angle.n)
