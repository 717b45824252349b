"""Six boards that every bench meets, told from fitted evidence and explained in words."""

from __future__ import annotations

from feelcheck.bench.numbers import (
    ALIKE_BOTH_WAYS,
    BARE,
    FAR_SLOWER,
    LATE_FOR_A_POLE,
    LONGEST_FILTER,
    SEEN_BEHIND_DRIVE,
    SMALL_SIGNAL_TO_NOISE,
    SMALL_SWING_V,
)
from feelcheck.model import BenchDirection, BenchResult, Estimate, Status

__all__ = ["explain_board", "recognise_board"]

ASYMMETRIC = frozenset(("asymmetry_weak_sink", "asymmetry_capacitor_on_pin"))

_STORIES: dict[str, tuple[str, ...]] = {
    "a": (
        "A slow rise and a far slower fall: a capacitor straight on the sensor's output pin, with a series resistor and"
        " a second capacitor behind it.",
        "The output charges the capacitor well and discharges it weakly, so the fall is set by the sink, not by the"
        " resistor: no passive network does that.",
        "Look for a capacitor between the sensor's output pin and ground, ahead of the series resistor; lifting it"
        " should make the fall like the rise.",
    ),
    "b": (
        "Rise and fall alike along one pole, and the output is flat before the drive is done: a series resistor and a"
        " capacitor behind a very sensitive sensor that saturates.",
        "The time constant is the network's; the saturation only hides part of the drive and makes nothing faster.",
        "Look for the resistor between the sensor's output and the pad's connector and the capacitor behind it: their"
        " product, derated, should give the time constant.",
    ),
    "c": (
        "Rise and fall alike along one pole, with an output that follows the drive to its end: a series resistor and a"
        " capacitor behind a sensor that does not saturate.",
        "Against a twin that saturates, the difference in output is the spread of specimens, not of parts: compare the"
        " time constants, which the parts set.",
        "Look for the same resistor and capacitor as on the twin before anything is exchanged.",
    ),
    "d": (
        "Stair steps at an even interval, rise like fall, and nothing slow behind them: a bare sensor that samples"
        " internally.",
        "Its own sampling adds half an interval of delay on average, and no part on the board changes that.",
        "Look whether the output runs straight to the connector without a capacitor; the step interval belongs to the"
        " sensor's type.",
    ),
    "e": (
        "As fast as the drive, with a small swing for this drive: a sensor of low sensitivity with small capacitors"
        " from supply and output to ground.",
        "What limits it is noise against swing, not time: judge it by that ratio, or with a larger field.",
        "Look for capacitors of some nanofarads at supply and output, and check the magnet's distance.",
    ),
    "f": (
        "A smooth edge near the limit of the drive, rise like fall, no stair steps: nothing slow is on the output, as"
        " after its capacitors were lifted.",
        "The response is an upper bound where its interval reaches zero: this drive cannot show it shorter.",
        "Look whether the pads of the capacitors at the output are empty; a field reference would lower the bound.",
    ),
    "none": (
        "The capture matches none of the six common boards.",
        "Read the response in each direction as it stands; the caveats say what was seen.",
    ),
}


def explain_board(result: BenchResult) -> tuple[str, ...]:
    """Return what the capture says about the board, and what to look at on it, in sentences.

    Parameters
    ----------
    result : BenchResult
        What was measured of the capture.

    Notes
    -----
    Common practice, no source: the six patterns are those that benches meet.
    """
    name = recognise_board(result)
    causes = [caveat for caveat in result.asymmetry.caveats if caveat.code in ASYMMETRIC]
    if name == "none" and causes:
        return (*(f"{cause.text} {cause.advice}" for cause in causes), *_evidence(result))
    return (*_STORIES[name], *_evidence(result))


def recognise_board(result: BenchResult) -> str:
    """Return which of the six common boards ("a" to "f") the evidence fits, or "none".

    Parameters
    ----------
    result : BenchResult
        A capture with a drive and both directions; without them the answer is "none".

    Notes
    -----
    Only ratios count: smoothing delay to the drive's transition, fall to rise, swing to noise; and the presence of
    stair steps and of saturation.
    """
    rise, fall, drive = result.rising, result.falling, result.drive_transition
    if rise is None or fall is None or drive is None or drive.value is None or result.drive_kind == "command":
        return "none"
    if rise.model == "unexplained" or fall.model == "unexplained":
        return "none"
    if _is_far_slower_down(rise, result.asymmetry, drive.value):
        return "a"
    if _fast(rise, drive.value) and _fast(fall, drive.value):
        return _fast_board(result)
    if _alike(result.asymmetry) and all(_one_clean_pole(one, drive.value) for one in (rise, fall)):
        return "b" if rise.saturated or fall.saturated else "c"
    return "none"


def _fast_board(result: BenchResult) -> str:
    if result.update_interval.is_ok:
        return "d"
    swing, noise = result.swing.value, result.noise.value
    if swing is None or noise is None:
        return "none"
    small = swing < SMALL_SWING_V if result.swing.unit == "V" else swing < SMALL_SIGNAL_TO_NOISE * noise
    return "e" if small else "f"


def _is_far_slower_down(rise: BenchDirection, ratio: Estimate, drive_s: float) -> bool:
    """Whether the rise is a pole's and the fall far longer, seen to its end or not."""
    slow_rise = rise.model == "one_pole" and (rise.time_constant.value or 0.0) > SEEN_BEHIND_DRIVE * drive_s
    far = (ratio.value or 0.0) > FAR_SLOWER or (ratio.status is Status.AT_LEAST and (ratio.bound or 0.0) > 1.5)
    return slow_rise and far


def _fast(one: BenchDirection, drive_s: float) -> bool:
    delay = one.smoothing_delay
    if one.dead_time.is_ok and (one.dead_time.value or 0.0) > BARE * drive_s:
        return False
    if one.model not in ("none", "one_pole"):
        return False
    top = delay.value if delay.is_ok else delay.bound if delay.status is Status.AT_MOST else None
    return top is not None and top < BARE * drive_s


def _alike(ratio: Estimate) -> bool:
    if ratio.value is None or ratio.u is None:
        return False
    return abs(ratio.value - 1) < max(ALIKE_BOTH_WAYS, 2.5 * ratio.u)


def _one_clean_pole(one: BenchDirection, drive_s: float) -> bool:
    tau, dead = one.time_constant, one.dead_time
    late = dead.value if dead.is_ok and dead.value is not None else 0.0
    settled = one.settled_fraction.value or 0.0
    return bool(
        one.model == "one_pole"
        and tau.value is not None
        and SEEN_BEHIND_DRIVE * drive_s < tau.value < LONGEST_FILTER * drive_s
        and late < LATE_FOR_A_POLE * tau.value
        and settled > 0.95
    )


def _evidence(result: BenchResult) -> tuple[str, ...]:
    """The numbers behind the story."""
    words = []
    for name, one in (("rise", result.rising), ("fall", result.falling)):
        if one is not None:
            words.append(f"{name} {one.model.replace('_', ' ')}, smoothing {_text(one.smoothing_delay)}")
    if result.update_interval.is_ok:
        words.append(f"step interval {_text(result.update_interval)}")
    swing, noise = result.swing.value, result.noise.value
    if swing and noise:
        words.append(f"swing {swing:.3g} {result.swing.unit}".rstrip() + f", {swing / noise:.0f} times its rms noise")
    return ("Evidence: " + "; ".join(words) + ".",) if words else ()


def _text(estimate: Estimate) -> str:
    if estimate.value is not None:
        return f"{estimate.value * 1e3:.3g} ms"
    if estimate.bound is not None:
        return f"{'at most' if estimate.status is Status.AT_MOST else 'at least'} {estimate.bound * 1e3:.3g} ms"
    return "not resolved"
