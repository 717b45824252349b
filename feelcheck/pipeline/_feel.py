"""What a specimen's response means in use."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from feelcheck.comparison import joined_direction, pooled_estimate
from feelcheck.errors import NotEnoughDataError
from feelcheck.feel import compare_in_use, poles_of, specimen_in_use, stick_speed
from feelcheck.model import Caveat, Estimate, FeelResult, HandRecord, Play, Results, Status, UsedResponse
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.uncertainty import difference_of
from feelcheck.phases import phase
from feelcheck.pipeline._parts import axes_with_parts, delay_from_parts
from feelcheck.pipeline._references import listed
from feelcheck.pipeline._specimens import Specimen, specimens_of

__all__ = ["feel", "feel_specimens", "used_responses"]

POLARITY_UNKNOWN = Caveat(
    code="polarity_unknown",
    text="The volts were taken to rise with the code; the other way round, rising and falling change places.",
    advice="Note the polarity in the record: polarity = {left_x = 1} or -1.",
)
IN_THAT_PAD = Caveat(
    code="in_that_pad",
    text="Flick speed, step and report interval are those of the hand sessions of {pad}.",
)


def feel(references: str | Path | Sequence[str | Path], play: Play | None = None) -> Results[FeelResult]:
    """Return what each specimen's response means in use; from the second on also where it differs from the first.

    Parameters
    ----------
    references : str, Path or sequence of them
        Records, captures or sessions; see `specimen_of`.
    play : Play, optional
        How the stick is used: turn rate, field of view, dead zone, ...

    Raises
    ------
    NotEnoughDataError
        If a specimen has neither a hand nor a bench response.
    """
    return Results(feel_specimens(specimens_of(listed(references)), play or Play()))


def feel_specimens(specimens: Sequence[Specimen], play: Play) -> list[FeelResult]:
    """Return what each specimen's response means in use; see `feel`.

    A response from the bench or from parts is looked at in the pad whose hand sessions are known: those of the same
    record in another state, else those of the first specimen.
    """
    phase(f"working out what {', '.join(specimen.label for specimen in specimens)} means in use")
    first = specimens[0]
    used = [_in_a_pad(s, used_responses(s), first) for s in specimens]
    results = [specimen_in_use(s.label, found, play) for s, found in zip(specimens, used, strict=True)]
    return [results[0], *(_beside(r, used[0], own) for r, own in zip(results[1:], used[1:], strict=True))]


def used_responses(specimen: Specimen) -> tuple[UsedResponse, ...]:
    """Return one response an axis: pooled over the hand sessions, else from the bench, else from the parts.

    Raises
    ------
    NotEnoughDataError
        If there is none of them.
    """
    found: dict[str, UsedResponse] = {}
    for bench in specimen.bench:
        if set(DIRECTIONS) <= set(bench.directions):
            found[bench.axis] = _from_bench(specimen, bench.axis, bench.directions)
    for axis in _axes(specimen.hand):
        response = _from_hand(specimen.hand, axis, specimen.state)
        # What was recorded in the hand stands before the bench, unless it tells no value.
        if response.rising.value is not None or axis not in found:
            found[axis] = response
    if not found:
        found = {axis: _from_parts(specimen, axis) for axis in axes_with_parts(specimen)}
    if not found:
        raise NotEnoughDataError(
            "Meaning in use needs a response from the hand or the bench, or the parts on the board.",
            {"specimen": specimen.label},
            "Add one with: feelcheck profile add, or feelcheck profile part",
        )
    return tuple(found.values())


def _from_hand(records: Sequence[HandRecord], axis: str, state: str) -> UsedResponse:
    latest = next(record for record in reversed(records) if axis in record.axes)
    sides = {d: pooled_estimate(records, axis, d, "smoothing_delay") for d in DIRECTIONS}
    poles = {d: _rescaled(latest.axes[axis].get(d, {}), sides[d]) for d in DIRECTIONS}
    return UsedResponse(
        axis=axis,
        state=state,
        origin="hand",
        rising=sides["rising"],
        falling=sides["falling"],
        rising_poles_s=poles["rising"],
        falling_poles_s=poles["falling"],
        rest_noise=_noted(records, axis, "rest_noise"),
        step_fraction=_noted(records, axis, "quantization_step_of_throw"),
        peak_speed=_noted(records, axis, "peak_speed"),
        ring_frequency=latest.release.get("ring_frequency"),
        settling_time=latest.release.get("settling_time"),
        report_interval=latest.report_interval,
    )


def _noted(records: Sequence[HandRecord], axis: str, name: str) -> Estimate | None:
    """What has no direction; None where no session knows it."""
    found = pooled_estimate(records, axis, "", name)
    if found.status is not Status.NOT_RESOLVED:
        return found
    bounds = [group[name] for r in records if name in (group := r.axes.get(axis, {}).get("", {}))]
    return next((bound for bound in reversed(bounds) if bound.status is not Status.NOT_RESOLVED), None)


def _rescaled(group: Mapping[str, Estimate], pooled: Estimate) -> tuple[float, ...]:
    """The latest session's poles, together as slow as all sessions say."""
    poles = _poles(group)
    own = group.get("smoothing_delay")
    if not poles or own is None or not own.value or not pooled.value:
        return ()
    return tuple(pole * pooled.value / own.value for pole in poles)


def _poles(group: Mapping[str, Estimate]) -> tuple[float, ...]:
    poles = [group[key] for key in sorted(group) if key.startswith("pole_")]
    return tuple(pole.value for pole in poles if pole.value is not None and pole.value > 0)


def _from_bench(specimen: Specimen, axis: str, directions: Mapping[str, Mapping[str, Estimate]]) -> UsedResponse:
    missing = Estimate.not_resolved("mean_delay", unit="s")
    rising, falling = (directions[_behind(specimen, axis, direction)] for direction in DIRECTIONS)
    return UsedResponse(
        axis=axis,
        state=specimen.state,
        origin="bench",
        rising=rising.get("mean_delay", missing),
        falling=falling.get("mean_delay", missing),
        rising_poles_s=_poles(rising),
        falling_poles_s=_poles(falling),
        caveats=_polarity_remark(specimen, axis),
    )


def _from_parts(specimen: Specimen, axis: str) -> UsedResponse:
    delays = [delay_from_parts(specimen, axis, _behind(specimen, axis, direction)) for direction in DIRECTIONS]
    missing = Estimate.not_resolved("smoothing_delay", unit="s")
    rising, falling = (found.whole if found is not None else missing for found in delays)
    return UsedResponse(
        axis=axis,
        state=specimen.state,
        origin="parts",
        rising=rising,
        falling=falling,
        caveats=_polarity_remark(specimen, axis),
    )


def _behind(specimen: Specimen, axis: str, direction: str) -> str:
    return joined_direction(direction, specimen.profile.polarity.get(axis)) or direction


def _polarity_remark(specimen: Specimen, axis: str) -> tuple[Caveat, ...]:
    return () if specimen.profile.polarity.get(axis) in (1, -1) else (POLARITY_UNKNOWN,)


def _in_a_pad(specimen: Specimen, responses: Sequence[UsedResponse], first: Specimen) -> tuple[UsedResponse, ...]:
    """Give responses that no hand recorded the flicks, steps and reports of the pad they would sit in."""
    pads = [s for s in (specimen, first) if s.profile.hand]
    pad = next((s for s in pads if _flicked(s.profile.hand)), pads[0] if pads else specimen)
    records = pad.profile.hand
    known = {axis: _from_hand(records, axis, "") for axis in _axes(records)}
    flicked = [found for found in known.values() if found.peak_speed is not None]
    placed = []
    for response in responses:
        like = known.get(response.axis) or next(iter(flicked), None)
        if response.origin == "hand" or like is None:
            placed.append(response)
            continue
        remark = replace(IN_THAT_PAD, text=IN_THAT_PAD.text.format(pad=pad.profile.specimen))
        placed.append(
            replace(
                response,
                step_fraction=like.step_fraction,
                report_interval=like.report_interval,
                ring_frequency=like.ring_frequency,
                stick_speed=_stick_speed(like),
                caveats=(*response.caveats, remark),
            )
        )
    return tuple(placed)


def _axes(records: Sequence[HandRecord]) -> list[str]:
    return list(dict.fromkeys(axis for record in records for axis in record.axes))


def _flicked(records: Sequence[HandRecord]) -> bool:
    return any(_noted(records, axis, "peak_speed") is not None for axis in _axes(records))


def _stick_speed(like: UsedResponse) -> Estimate | None:
    return None if like.peak_speed is None else stick_speed(like.peak_speed, poles_of(like, "rising") or (0.0,))


def _beside(result: FeelResult, first: Sequence[UsedResponse], own: Sequence[UsedResponse]) -> FeelResult:
    """Add the largest resolved difference to the first specimen and where it lies among published results."""
    found = []
    alike = {response.axis for response in own} & {other.axis for other in first}
    for response in own:
        for other in first:
            if other.axis == response.axis or (not alike and 1 in (len(own), len(first))):
                pair = response.axis if other.axis == response.axis else f"{response.axis} against {other.axis}"
                found += [(f"{pair}, {d}", _difference(response, other, d)) for d in DIRECTIONS]
    told = [(where, difference) for where, difference in found if difference.value is not None]
    if not told:
        return result
    where, difference = max(told, key=lambda pair: abs(pair[1].value or 0.0))
    return replace(result, difference=difference, difference_at=where, notes=compare_in_use(difference))


def _difference(own: UsedResponse, other: UsedResponse, direction: str) -> Estimate:
    mine, theirs = (r.rising if direction == "rising" else r.falling for r in (own, other))
    return difference_of(mine, theirs, quantity="difference_of_delay")
