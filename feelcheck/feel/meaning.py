"""From a measured response to its meaning in use, each number with its own interval."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from feelcheck.feel.evidence import evidence_table, note, notes_for_difference, result
from feelcheck.feel.kinematics import deflection_of_speed_step, gain_at, tremor_band_gain, white_noise_kept
from feelcheck.feel.rate_control import turn_of_view
from feelcheck.model import Caveat, Estimate, EvidenceNote, FeelAxis, FeelResult, Play, UsedResponse
from feelcheck.numerics.uncertainty import coverage_interval, difference_of, scaled_estimate

__all__ = ["CAUTIONS", "compare_in_use", "meaning_in_use", "specimen_in_use"]

CAUTIONS = (
    "Keep blocks of quick flicks short, rest between them, and stop at once on pain, tingling or numbness.",
    "These numbers are kinematics and published results; they are no medical, ergonomic or conformity statement.",
)
TREMOR_EXPLAINS_NOTHING_ABOVE = 0.9
NO_DELAY = Caveat(
    code="no_response",
    text="There is no mean delay for this axis, so its meaning in use cannot be told.",
    advice="Record flicks to the rim (feelcheck log) or measure it on the bench (feelcheck bench).",
)


def specimen_in_use(specimen: str, responses: Sequence[UsedResponse], play: Play) -> FeelResult:
    """Return what the responses of one specimen mean in use, axis by axis."""
    axes = tuple(meaning_in_use(response, play) for response in responses)
    caveats = () if axes else (NO_DELAY,)
    return FeelResult(specimen=specimen, play=play, axes=axes, caveats=caveats, cautions=CAUTIONS)


def meaning_in_use(response: UsedResponse, play: Play) -> FeelAxis:
    """Return the meaning in use of one axis.

    Notes
    -----
    Carry-on after release is turn rate times mean delay (the area above the step response): exact for any linear
    response. Electrical asymmetry pushes a flick either way by the same signed angle, turn rate times (falling minus
    rising), so a pair drifts by twice that. Where a dead zone, a curve or flicks shorter than the response break the
    formula, the flick is run sample by sample instead and the number says so.
    """
    estimates = {**_angles(response, play), **_noise(response), **_speed_steps(response, play)}
    return FeelAxis(
        axis=response.axis,
        state=response.state,
        origin=response.origin,
        plane=_plane(response.axis),
        estimates=estimates,
        notes=_tremor_notes(response),
    )


def _plane(axis: str) -> Literal["left_right", "up_down", "unknown"]:
    last = axis.lower().rstrip("0123456789 _-")[-1:]
    if last == "x":
        return "left_right"
    return "up_down" if last == "y" else "unknown"


def _angles(response: UsedResponse, play: Play) -> Mapping[str, Estimate]:
    rate = play.turn_rate_deg_s
    difference = difference_of(response.falling, response.rising, quantity="net_angle_per_flick")
    formula = {
        "carry_on_after_release": scaled_estimate(
            response.falling, rate, quantity="carry_on_after_release", unit="deg"
        ),
        "carry_on_opposite": scaled_estimate(response.rising, rate, quantity="carry_on_opposite", unit="deg"),
        "net_angle_per_flick": scaled_estimate(difference, rate, quantity="net_angle_per_flick", unit="deg"),
        "drift_per_pair": scaled_estimate(difference, 2 * rate, quantity="drift_per_pair", unit="deg"),
    }
    trailing = _trailing(response)
    if trailing is not None:
        formula["trailing_at_peak_speed"] = trailing
    return {**formula, **_simulated(response, play)}


def _trailing(response: UsedResponse) -> Estimate | None:
    peak = response.peak_speed_fs_s
    if peak is None or peak.value is None:
        return None
    bound = Caveat(
        code="ramp_bound",
        text="Peak speed times mean delay is exact for a steady ramp and an upper bound for a flick.",
    )
    return scaled_estimate(
        response.rising, peak.value, quantity="trailing_at_peak_speed", unit="fraction"
    ).with_caveats(bound)


def _simulated(response: UsedResponse, play: Play) -> Mapping[str, Estimate]:
    """Run a flick where the poles are known: settling time always, angles where the formula breaks."""
    rising, falling = _poles(response, "rising"), _poles(response, "falling")
    if rising is None or falling is None:
        return {}
    run = turn_of_view(play, rising, falling)
    relative = _relative_u(response)
    settle = Estimate.measured(
        "settle_after_release", run.settle_s, u=run.settle_s * relative, unit="s", dof=response.falling.dof
    )
    linear = play.dead_zone_fraction == 0 and play.curve_exponent == 1
    if linear and play.held_s > 5 * max([*rising, *falling, 0.0]):
        return {"settle_after_release": settle}
    left = turn_of_view(play, rising, falling, sign=-1)
    why = Caveat(
        code="simulated_flick",
        text="A dead zone, a response curve or a short flick breaks the linear formula; the flick was run instead.",
    )

    def run_angle(name: str, angle: float) -> Estimate:
        return Estimate.measured(name, angle, u=abs(angle) * relative, unit="deg", caveats=(why,))

    drift = run.angle_deg + left.angle_deg
    return {
        "settle_after_release": settle,
        "carry_on_after_release": run_angle("carry_on_after_release", run.carry_on_deg),
        "carry_on_opposite": run_angle("carry_on_opposite", abs(left.carry_on_deg)),
        "net_angle_per_flick": run_angle("net_angle_per_flick", drift / 2),
        "drift_per_pair": run_angle("drift_per_pair", drift),
    }


def _poles(response: UsedResponse, direction: str) -> tuple[float, ...] | None:
    poles = response.rising_poles_s if direction == "rising" else response.falling_poles_s
    delay = response.rising if direction == "rising" else response.falling
    if poles:
        return poles
    return None if delay.value is None else (delay.value,)


def _relative_u(response: UsedResponse) -> float:
    shares = [side.u / side.value for side in (response.rising, response.falling) if side.u and side.value]
    return max(shares, default=0.0)


def _noise(response: UsedResponse) -> Mapping[str, Estimate]:
    """Tremor-band gain, rest noise and ring attenuation: three causes of smoothness, kept apart."""
    found: dict[str, Estimate] = {}
    poles = _poles(response, "rising")
    if poles is not None:
        gain = sum(tremor_band_gain(poles)) / 2
        found["tremor_band_gain"] = _gain("tremor_band_gain", gain, response)
        if response.ring_frequency is not None and response.ring_frequency.value is not None:
            kept = gain_at(poles, response.ring_frequency.value)
            found["ring_kept"] = _gain("ring_kept", kept, response)
        kept_noise = white_noise_kept(sum(poles), 0.001)
        found["sensor_noise_kept"] = _gain("sensor_noise_kept", kept_noise, response)
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
        weber = result(key).weber_fraction or math.inf
        deflection = deflection_of_speed_step(
            step.value, weber, dead_zone_fraction=play.dead_zone_fraction, curve_exponent=play.curve_exponent
        )
        share = step.u / step.value if step.value else 0.0
        found[name] = Estimate.measured(name, deflection, u=deflection * share, unit="fraction")
    return found


def _tremor_notes(response: UsedResponse) -> tuple[EvidenceNote, ...]:
    poles = _poles(response, "rising")
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
