"""From a measured response to its meaning in use, each number with its own interval."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from feelcheck.feel.angles import angles, of_picture
from feelcheck.feel.evidence import PublishedResult, evidence_table, note, notes_for_difference, result
from feelcheck.feel.kinematics import deflection_of_speed_step, gain_at, tremor_band_gain, white_noise_kept
from feelcheck.feel.trailing import poles_of, trailing
from feelcheck.model import Caveat, Estimate, EvidenceNote, FeelAxis, FeelResult, Play, Status, UsedResponse
from feelcheck.numerics.uncertainty import coverage_interval

__all__ = ["CAUTIONS", "compare_in_use", "meaning_in_use", "specimen_in_use"]

CAUTIONS = (
    "Keep blocks of quick flicks short, rest between them, and stop at once on pain, tingling or numbness.",
    "These numbers are kinematics and published results; they are no medical, ergonomic or conformity statement.",
)
TREMOR_EXPLAINS_NOTHING_ABOVE = 0.9


def specimen_in_use(specimen: str, responses: Sequence[UsedResponse], play: Play) -> FeelResult:
    """Return what the responses of one specimen mean in use, axis by axis; axes without a response are named.

    Parameters
    ----------
    specimen : str
        Its name.
    responses : sequence of UsedResponse
        The response of each axis.
    play : Play
        How the pad is used: speeds, angles, delays.
    """
    told = [response for response in responses if _tells(response)]
    silent = [response.axis for response in responses if not _tells(response)]
    axes = tuple(meaning_in_use(response, play) for response in told)
    caveats = (_no_response(silent),) if silent or not axes else ()
    return FeelResult(specimen=specimen, play=play, axes=axes, caveats=caveats, cautions=CAUTIONS)


def _tells(response: UsedResponse) -> bool:
    return any(side.status is not Status.NOT_RESOLVED for side in (response.rising, response.falling))


def _no_response(axes: Sequence[str]) -> Caveat:
    where = f" for {', '.join(axes)}" if axes else ""
    return Caveat(
        code="no_response",
        text=f"There is no response{where}, so the meaning in use cannot be told.",
        advice="Record flicks to the rim (feelcheck log) or measure it on the bench (feelcheck bench).",
    )


def meaning_in_use(response: UsedResponse, play: Play) -> FeelAxis:
    """Return the meaning in use of one axis: trailing, angles, noise and speed steps; see `trailing` and `angles`.

    Parameters
    ----------
    response : UsedResponse
        The response of one axis.
    play : Play
        How the stick is used.
    """
    turned = angles(response, play)
    estimates = {
        **trailing(response, play),
        **turned,
        "carry_on_of_picture": of_picture(turned["carry_on_after_release"], play, quantity="carry_on_of_picture"),
        "drift_of_picture": of_picture(turned["drift_per_pair"], play, quantity="drift_of_picture"),
        **_measured_in_hand(response),
        **_noise(response),
        **_speed_steps(response, play),
    }
    return FeelAxis(
        axis=response.axis,
        state=response.state,
        origin=response.origin,
        plane=_plane(response.axis),
        estimates=estimates,
        notes=_tremor_notes(response),
        caveats=response.caveats,
    )


def _measured_in_hand(response: UsedResponse) -> Mapping[str, Estimate]:
    found = response.settling_time
    return {} if found is None or found.status is Status.NOT_RESOLVED else {"settling_in_hand": found}


def _plane(axis: str) -> Literal["left_right", "up_down", "unknown"]:
    last = axis.lower().rstrip("0123456789 _-")[-1:]
    if last == "x":
        return "left_right"
    return "up_down" if last == "y" else "unknown"


def _relative_u(response: UsedResponse) -> float:
    shares = [side.u / side.value for side in (response.rising, response.falling) if side.u and side.value]
    return max(shares, default=0.0)


def _noise(response: UsedResponse) -> Mapping[str, Estimate]:
    """Tremor-band gain, rest noise and ring attenuation: three causes of smoothness, kept apart."""
    found: dict[str, Estimate] = {}
    poles = poles_of(response, "rising")
    if poles is not None:
        gain = sum(tremor_band_gain(poles)) / 2
        found["tremor_band_gain"] = _gain("tremor_band_gain", gain, response)
        if response.ring_frequency is not None and response.ring_frequency.value is not None:
            kept = gain_at(poles, response.ring_frequency.value)
            found["ring_kept"] = _gain("ring_kept", kept, response)
        interval = response.report_interval
        if interval is not None and interval.value:
            kept = white_noise_kept(sum(poles), interval.value)
            found["sensor_noise_kept"] = _gain("sensor_noise_kept", kept, response)
    if response.rest_noise is not None:
        found["rest_noise"] = response.rest_noise
    return found


def _gain(quantity: str, gain: float, response: UsedResponse) -> Estimate:
    """The gain's uncertainty from that of the time constant: d|H|/dtau . u = |H| (1 - |H|^2) u/tau for one pole."""
    return Estimate.measured(quantity, gain, u=gain * (1 - gain**2) * _relative_u(response), unit="fraction")


def _speed_steps(response: UsedResponse, play: Play) -> Mapping[str, Estimate]:
    step = response.step_fraction
    if step is None or step.value is None or step.u is None:
        return {}
    found = {}
    for key, name in (("speed_weber_1988", "steady_speed_step_below"), ("speed_modulation_1991", "speed_ripple_below")):
        row = result(key)
        deflection = deflection_of_speed_step(
            step.value,
            row.weber_fraction or math.inf,
            dead_zone_fraction=play.dead_zone_fraction,
            curve_exponent=play.curve_exponent,
        )
        u = (deflection - play.dead_zone_fraction) * step.u / step.value
        caveats = _untested_speed(row, deflection, play)
        found[name] = Estimate.measured(name, deflection, u=u, unit="fraction", caveats=caveats)
    return found


def _untested_speed(row: PublishedResult, deflection: float, play: Play) -> tuple[Caveat, ...]:
    """Say so where the picture moves at the eye more slowly or faster there than in the study.

    A flat picture of field of view F on a screen that fills the angle S shows small turns at tan(S/2) / tan(F/2).
    """
    if row.low_deg_s is None or row.high_deg_s is None:
        return ()
    live = max(0.0, deflection - play.dead_zone_fraction) / (1 - play.dead_zone_fraction)
    shown = math.tan(math.radians(play.screen_deg / 2)) / math.tan(math.radians(play.field_of_view_deg / 2))
    speed = play.turn_rate_deg_s * live**play.curve_exponent * shown
    if row.low_deg_s <= speed <= row.high_deg_s:
        return ()
    text = (
        f"There the picture moves at {speed:.2g} deg/s at the eye; the study tested {row.low_deg_s:g} to "
        f"{row.high_deg_s:g} deg/s."
    )
    return (Caveat(code="speed_untested", text=text),)


def _tremor_notes(response: UsedResponse) -> tuple[EvidenceNote, ...]:
    poles = poles_of(response, "rising")
    if poles is None or tremor_band_gain(poles)[1] <= TREMOR_EXPLAINS_NOTHING_ABOVE:
        return ()
    text = (
        "More than nine tenths of the hand's 8 to 12 Hz motion passes: tremor filtering cannot explain a smooth feel."
    )
    return (note(result("thumb_tremor_1982"), text, extrapolated=False),)


def compare_in_use(difference: Estimate) -> tuple[EvidenceNote, ...]:
    """Return where a difference of mean delay (s) between two specimens lies among published results.

    The slope of the thumbstick study is added only where the interval reaches the delays that it tested; where the
    difference is not resolved nothing is said.

    Parameters
    ----------
    difference : Estimate
        Difference of mean delays, s.
    """
    low, high = coverage_interval(difference)
    if low is None or high is None:
        return ()
    ends = sorted((abs(low) * 1e3, abs(high) * 1e3))
    smallest = 0.0 if low <= 0 <= high else ends[0]
    notes = notes_for_difference(smallest, ends[1])
    slope = next(row for row in evidence_table() if row.kind == "slope")
    tested = slope.low_ms is not None and smallest >= slope.low_ms
    text = f"On a thumbstick, {slope.finding}." + (
        "" if tested else " This difference is smaller than what was tested."
    )
    return (*notes, note(slope, text, extrapolated=not tested))
