"""What a record, a capture or a change of parts would feel like, as a response that can be played."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from feelcheck.comparison import joined_direction
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchRecord, Caveat, Estimate, LiveStick, Status, TargetAxis, TargetResponse, UsedResponse
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.pipeline._feel import used_responses
from feelcheck.pipeline._specimens import Specimen, specimen_of

__all__ = ["ideal_stick", "stick_of", "target_of"]

USUAL_INTERVAL_S = 1e-3
MOST_POLES = 2
BOTH_AXES_ALIKE = Caveat(
    code="both_axes_alike",
    text="Only one axis of {label} is known ({axis}); up-down and across are played alike.",
)
AS_ONE_POLE = Caveat(
    code="as_one_pole",
    text="Where {label} is not one or two poles each way (an average, a ramp), one pole of the same delay is played.",
)


def target_of(reference: str, side: str = "left") -> TargetResponse:
    """Return what a reference would feel like.

    Parameters
    ----------
    reference : str
        As `specimen_of` takes it: a record, a state, a change of parts, a capture, a session or log.
    side : {"left", "right"}
        Which stick of a pad with two is meant.

    Raises
    ------
    NotEnoughDataError
        If no axis of it has a response.
    """
    return _target(specimen_of(reference), side)


def _target(specimen: Specimen, side: str) -> TargetResponse:
    known = {response.axis: response for response in _told_responses(specimen) if _tells(response)}
    if not known:
        raise NotEnoughDataError(
            "Playing a response needs one that was resolved in the hand, on the bench or from the parts.",
            {"specimen": specimen.label},
            "Record flicks (feelcheck log), or measure it on the bench (feelcheck bench), and add that to the record.",
        )
    x, y = _chosen(known, side, "x"), _chosen(known, side, "y")
    remarks = [remark for response in (x, y) if response is not None for remark in response.caveats]
    if x is None or y is None:
        only = x or y or next(iter(known.values()))
        x = y = only
        remarks.append(_about(BOTH_AXES_ALIKE, specimen.label, only.axis))
    played = {id(response): _playable(specimen, response, remarks) for response in (x, y)}
    return TargetResponse(
        label=specimen.label,
        origin=x.origin,
        x=played[id(x)],
        y=played[id(y)],
        caveats=tuple({remark.code: remark for remark in remarks}.values()),
    )


def _told_responses(specimen: Specimen) -> tuple[UsedResponse, ...]:
    try:
        return used_responses(specimen)
    except NotEnoughDataError:
        return ()


def _about(remark: Caveat, label: str, axis: str = "") -> Caveat:
    return replace(remark, text=remark.text.format(label=label, axis=axis))


def _tells(response: UsedResponse) -> bool:
    return all(side.status is not Status.NOT_RESOLVED for side in (response.rising, response.falling))


def _chosen(known: Mapping[str, UsedResponse], side: str, letter: str) -> UsedResponse | None:
    """The axis of that side and letter, else any of that letter."""
    fitting = [r for axis, r in known.items() if axis.lower().rstrip("0123456789 _-").endswith(letter)]
    return next((r for r in fitting if r.axis.lower().startswith(side)), fitting[0] if fitting else None)


def _playable(specimen: Specimen, response: UsedResponse, remarks: list[Caveat]) -> TargetAxis:
    bench = next((r for r in specimen.bench if r.axis == response.axis and response.origin == "bench"), None)
    rising, falling = response.rising, response.falling
    dead_time_s = refresh_s = 0.0
    if bench is not None:
        rising, falling = (_on_bench(specimen, bench, way, "smoothing_delay") for way in DIRECTIONS)
        dead = [_on_bench(specimen, bench, way, "dead_time").value or 0.0 for way in DIRECTIONS]
        dead_time_s = sum(dead) / 2
        refresh_s = _value(bench.overall.get("update_interval"))
    elif response.origin == "hand":
        refresh_s = _refresh_in_hand(specimen, response.axis)
    poles = [
        _poles(side, own) for side, own in ((rising, response.rising_poles_s), (falling, response.falling_poles_s))
    ]
    if len({len(own) for own in poles if own}) > 1 or any(len(own) > MOST_POLES for own in poles):
        poles = [(sum(own),) if own else () for own in poles]
        remarks.append(_about(AS_ONE_POLE, specimen.label))
    elif any(_unlike(side, own) for side, own in zip((rising, falling), poles, strict=True)):
        poles = [_poles(side, ()) for side in (rising, falling)]
        remarks.append(_about(AS_ONE_POLE, specimen.label))
    return TargetAxis(
        rising=rising,
        falling=falling,
        rising_poles_s=poles[0],
        falling_poles_s=poles[1],
        dead_time_s=max(0.0, dead_time_s),
        refresh_s=refresh_s,
        step_fraction=_value(response.step_fraction),
    )


def _on_bench(specimen: Specimen, record: BenchRecord, way: str, name: str) -> Estimate:
    behind = joined_direction(way, specimen.profile.polarity.get(record.axis)) or way
    return record.directions.get(behind, {}).get(name, Estimate.not_resolved(name, unit="s"))


def _refresh_in_hand(specimen: Specimen, axis: str) -> float:
    found = [r.axes[axis][""].get("update_interval") for r in specimen.hand if axis in r.axes and "" in r.axes[axis]]
    return _value(found[-1]) if found else 0.0


def _value(estimate: Estimate | None) -> float:
    return 0.0 if estimate is None or estimate.value is None else max(0.0, estimate.value)


def _poles(delay: Estimate, poles_s: Sequence[float]) -> tuple[float, ...]:
    if poles_s:
        return tuple(poles_s)
    return (delay.value,) if delay.value is not None and delay.value > 0 else ()


def _unlike(delay: Estimate, poles_s: Sequence[float]) -> bool:
    """Whether the poles leave more than a tenth of the delay out, as beside an average."""
    return bool(poles_s) and delay.value is not None and abs(sum(poles_s) - delay.value) > 0.1 * delay.value


def stick_of(reference: str, side: str = "left") -> LiveStick:
    """Return what the stick in hand adds by itself, from its record, session or log.

    Raises
    ------
    NotEnoughDataError
        If it has no response from the hand.
    """
    specimen = specimen_of(reference)
    response = _target(specimen, side)
    if response.origin != "hand":
        raise NotEnoughDataError(
            "What the stick in hand adds is told by a recording made with it.",
            {"own": reference},
            "Record it (feelcheck log ... --script quick), or leave --own out: it is then measured first.",
        )
    latest = specimen.hand[-1]
    noise = _chosen_noise(specimen, side)
    one_pole = all(
        len(poles) <= 1 for axis in (response.x, response.y) for poles in (axis.rising_poles_s, axis.falling_poles_s)
    ) and not any(remark.code == AS_ONE_POLE.code for remark in response.caveats)
    return LiveStick(
        response=response,
        one_pole=one_pole,
        report_interval_s=_value(latest.report_interval) or USUAL_INTERVAL_S,
        rest_noise_fraction=noise,
        known_from=f"recorded: {latest.session}",
    )


def _chosen_noise(specimen: Specimen, side: str) -> float:
    """Noise at rest as a fraction of throw: counts over the reach that step and step of throw give."""
    for response in used_responses(specimen):
        own = specimen.hand[-1].axes.get(response.axis, {}).get("", {})
        step, share, noise = (
            own.get(name) for name in ("quantization_step", "quantization_step_of_throw", "rest_noise")
        )
        if response.axis.lower().startswith(side) and _value(step) and _value(share) and noise is not None:
            return (noise.value or noise.bound or 0.0) * _value(share) / _value(step)
    return 0.0


def ideal_stick(known_from: str) -> LiveStick:
    """Return a stick that adds nothing: what a simulated observer holds, or what nobody wants to measure."""
    none = Estimate.measured("smoothing_delay", 0.0, u=0.0, unit="s")
    axis = TargetAxis(rising=none, falling=none)
    response = TargetResponse(label="stick in hand", origin="hand", x=axis, y=axis)
    return LiveStick(
        response=response,
        one_pole=True,
        report_interval_s=USUAL_INTERVAL_S,
        known_from=known_from,
    )
