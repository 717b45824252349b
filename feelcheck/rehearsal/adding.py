"""What must be added to the stick in hand so that both together answer like a target."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from feelcheck.errors import NotComparableError
from feelcheck.model import Caveat, Estimate, LiveStick, PlayedStage, Slowness, TargetAxis, TargetResponse
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.model.rehearsal import StageMode
from feelcheck.numerics.played_response import AddedResponse
from feelcheck.numerics.uncertainty import coverage_interval, difference_of

__all__ = ["slowed", "stage_for"]

REST_SHIFT = 0.0025
"""How far noise may push the resting output, as a fraction of throw, before undoing the stick's own ways is given up:
a quarter of a per cent, well inside what a stick returns to by itself (our choice)."""
MEAN_STEP = 2 / math.sqrt(math.pi)
"""Mean size of the difference between two readings with normal noise of standard deviation one."""
NOT_UNDONE = Caveat(
    code="equal_mean_delay",
    text="The stick's own response is not one pole: stick and stage together have the target's mean delay, not its "
    "exact shape.",
)
TOO_NOISY = Caveat(
    code="noise_forbids",
    text="Undoing a stick that rises and falls differently would let its noise push the resting place; only the "
    "difference in mean delay is added.",
    advice="Use a quieter stick to play this target exactly.",
)
AS_IT_IS = Caveat(
    code="as_in_hand",
    text="In a direction in which the target is as quick as the stick in hand, within what is known, nothing is added.",
)
OWN_UNRESOLVED = Caveat(
    code="own_not_resolved",
    text="The stick's own delay is known only up to a bound; that much may come on top of the target's.",
)
COARSER = Caveat(
    code="own_step_coarser",
    text="The stick in hand has coarser steps or a slower refresh than the target; that cannot be undone.",
)


def stage_for(target: TargetResponse, stick: LiveStick) -> PlayedStage:
    """Return what is added so that stick and stage together answer like the target.

    Parameters
    ----------
    target : TargetResponse
        The response wanted.
    stick : LiveStick
        The stick in hand, with its own.

    Raises
    ------
    NotComparableError
        If the target is quicker than the stick in hand: software can only delay.
    """
    remarks: list[Caveat] = list(target.caveats)
    own = stick.response
    (x, x_mode), (y, y_mode) = (
        _axis(target.label, pair, stick, remarks) for pair in ((target.x, own.x), (target.y, own.y))
    )
    modes: tuple[StageMode, ...] = ("equal_delay", "exact", "as_it_is")
    return PlayedStage(
        label=target.label,
        mode=next(mode for mode in modes if mode in (x_mode, y_mode)),
        added_rising=_added(target.x.rising, own.x.rising),
        added_falling=_added(target.x.falling, own.x.falling),
        x=x,
        y=y,
        caveats=tuple({remark.code: remark for remark in remarks}.values()),
    )


def _added(target: Estimate, own: Estimate) -> Estimate:
    if own.value is None:
        return target.renamed("added_delay")
    return difference_of(target, own, quantity="added_delay")


def _axis(
    label: str, pair: tuple[TargetAxis, TargetAxis], stick: LiveStick, remarks: list[Caveat]
) -> tuple[AddedResponse, StageMode]:
    target, own = pair
    equal = {way: _as_quick(label, way, pair) for way in DIRECTIONS}
    if any(equal.values()) and target is not own:
        remarks.append(AS_IT_IS)
    if any(str(side.status) == "at_most" for side in (own.rising, own.falling)):
        remarks.append(OWN_UNRESOLVED)
    if _coarser(own.step_fraction, target.step_fraction) or _coarser(own.refresh_s, target.refresh_s):
        remarks.append(COARSER)
    shared: dict[str, Any] = {
        "dead_time_s": max(0.0, target.dead_time_s - own.dead_time_s),
        "refresh_s": target.refresh_s if _coarser(target.refresh_s, own.refresh_s) or not own.refresh_s else 0.0,
        "step": target.step_fraction
        if _coarser(target.step_fraction, own.step_fraction) or not own.step_fraction
        else 0.0,
    }
    if all(equal.values()):
        added = AddedResponse(**shared)
        return added, "as_it_is" if added == AddedResponse() else "exact"
    undone = _undone(own, stick, remarks)
    rising, lead_rising = _way(target.rising_poles_s, own.rising, undone=undone, equal=equal["rising"])
    falling, lead_falling = _way(target.falling_poles_s, own.falling, undone=undone, equal=equal["falling"])
    added = AddedResponse(
        rising_poles_s=rising,
        falling_poles_s=falling,
        own_rising_s=lead_rising,
        own_falling_s=lead_falling,
        **shared,
    )
    exact = undone or not (own.rising.value or own.falling.value)
    return added, "exact" if exact else "equal_delay"


def _coarser(own: float, target: float) -> bool:
    return own > 1.05 * target > 0


def _as_quick(label: str, way: str, pair: tuple[TargetAxis, TargetAxis]) -> bool:
    """Return whether target and stick are equally quick as far as is known; refuse a target that is quicker."""
    target, own = (getattr(side, way) for side in pair)
    if target.value is None or own.value is None:
        low, _ = coverage_interval(own)
        _, high = coverage_interval(target)
        if high is not None and low is not None and high < low:
            raise _quicker(label, way, target, own)
        return target.value is None
    difference = difference_of(target, own, quantity="difference")
    low, high = coverage_interval(difference)
    if high is not None and high < 0:
        raise _quicker(label, way, target, own)
    return (difference.value is not None and difference.value <= 0) or (
        low is not None and low <= 0 and not target.value
    )


def _quicker(label: str, way: str, target: Estimate, own: Estimate) -> NotComparableError:
    def words(estimate: Estimate) -> str:
        number = estimate.value if estimate.value is not None else estimate.bound
        return f"{1e3 * (number or 0.0):.3g} ms"

    return NotComparableError(
        "Only what is slower than the stick in hand can be played: software can add delay, not take it away.",
        {"target": label, f"its delay, code {way}": words(target), "stick in hand": words(own)},
        "Rehearse it on a quicker stick, or play the slower one of the two.",
    )


def _undone(own: TargetAxis, stick: LiveStick, remarks: list[Caveat]) -> bool:
    """Return whether the stick's own response is undone; say why where it is not."""
    rising_s, falling_s = own.rising.value or 0.0, own.falling.value or 0.0
    if not rising_s and not falling_s:
        return False
    if not stick.one_pole:
        remarks.append(NOT_UNDONE)
        return False
    noise = math.hypot(stick.rest_noise_fraction, own.step_fraction / math.sqrt(12))
    shift = abs(rising_s - falling_s) * MEAN_STEP * noise / (2 * max(stick.report_interval_s, 1e-4))
    if shift > REST_SHIFT:
        remarks.append(TOO_NOISY)
        return False
    return True


def _way(poles_s: tuple[float, ...], own: Estimate, *, undone: bool, equal: bool) -> tuple[tuple[float, ...], float]:
    """Return poles and lead of one direction: both or neither where nothing is added."""
    own_s = own.value or 0.0
    if equal:
        return ((own_s,), own_s) if undone and own_s else ((), 0.0)
    if undone:
        return poles_s, own_s
    rest_s = sum(poles_s) - own_s
    return tuple(pole * rest_s / sum(poles_s) for pole in poles_s), 0.0


def slowed(stage: PlayedStage, by_s: float, ways: Slowness) -> PlayedStage:
    """Return a stage that is slower by a delay, in both directions of the code or in the falling one alone.

    Parameters
    ----------
    stage : PlayedStage
        What is played.
    by_s : float, s
        The delay that is added.
    ways : Slowness
        Which directions get slower.
    """
    change = _slower(by_s, ways)
    return replace(
        stage,
        label=f"{stage.label} +{1e3 * by_s:.3g} ms",
        mode="exact" if stage.mode == "as_it_is" else stage.mode,
        x=change(stage.x),
        y=change(stage.y),
    )


def _slower(by_s: float, ways: Slowness) -> Callable[[AddedResponse], AddedResponse]:
    def change(added: AddedResponse) -> AddedResponse:
        falling = _longer(added.falling_poles_s, by_s)
        rising = _longer(added.rising_poles_s, by_s) if ways == "both" else added.rising_poles_s
        if len(rising) != len(falling):
            # Both ways have equally many poles; one of 10 us stands in for none.
            rising = rising or (1e-5,)
        return replace(added, rising_poles_s=rising, falling_poles_s=falling)

    return change


def _longer(poles_s: tuple[float, ...], by_s: float) -> tuple[float, ...]:
    slow_s, *others = poles_s or (0.0,)
    return (slow_s + by_s, *others)
