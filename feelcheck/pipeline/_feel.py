"""What a specimen's response means in use."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from feelcheck.errors import NotEnoughDataError
from feelcheck.feel import compare_in_use, specimen_in_use
from feelcheck.model import Estimate, FeelResult, Play, UsedResponse
from feelcheck.numerics.uncertainty import difference_of
from feelcheck.pipeline._parts import axes_with_parts, delay_from_parts
from feelcheck.pipeline._specimens import Specimen, specimen_of

__all__ = ["feel", "feel_specimens", "used_responses"]

Groups = Mapping[str, Mapping[str, Estimate]]


def feel(references: Sequence[str], play: Play) -> list[FeelResult]:
    """Return what each specimen's response means in use; from the second on also where it differs from the first.

    Raises
    ------
    NotEnoughDataError
        If a specimen has neither a hand nor a bench response.
    """
    return feel_specimens([specimen_of(reference) for reference in references], play)


def feel_specimens(specimens: Sequence[Specimen], play: Play) -> list[FeelResult]:
    """Return what each specimen's response means in use; see `feel`."""
    results = [specimen_in_use(s.label, used_responses(s), play) for s in specimens]
    first = used_responses(specimens[0])
    return [
        results[0],
        *(_beside(r, first, used_responses(s)) for r, s in zip(results[1:], specimens[1:], strict=True)),
    ]


def used_responses(specimen: Specimen) -> tuple[UsedResponse, ...]:
    """Return one response an axis: from the latest hand session, else from the bench, else from the parts.

    Raises
    ------
    NotEnoughDataError
        If there is neither.
    """
    found: dict[str, UsedResponse] = {}
    for bench in specimen.bench:
        if {"rising", "falling"} <= set(bench.directions):
            found[bench.axis] = _response(bench.axis, specimen.state, "bench", bench.directions, {}, "mean_delay")
    for hand in specimen.hand:
        for axis, groups in hand.axes.items():
            response = _response(axis, specimen.state, "hand", groups, hand.release, "smoothing_delay")
            if response.rising.value is not None or axis not in found:
                found[axis] = response
    if not found:
        found = {axis: _from_parts(specimen, axis) for axis in axes_with_parts(specimen)}
    if not found:
        raise NotEnoughDataError(
            "Meaning in use needs a response from the hand or the bench.",
            {"specimen": specimen.label},
            "Add one with: feelcheck profile add",
        )
    return tuple(found.values())


def _response(
    axis: str, state: str, origin: str, groups: Groups, release: Mapping[str, Estimate], quantity: str
) -> UsedResponse:
    missing = Estimate.not_resolved(quantity, unit="s")
    both = groups.get("", {})
    return UsedResponse(
        axis=axis,
        state=state,
        origin="hand" if origin == "hand" else "bench",
        rising=groups.get("rising", {}).get(quantity, missing),
        falling=groups.get("falling", {}).get(quantity, missing),
        rising_poles_s=_poles(groups.get("rising", {})),
        falling_poles_s=_poles(groups.get("falling", {})),
        rest_noise=both.get("rest_noise"),
        step_fraction=both.get("step_fraction"),
        ring_frequency=release.get("ring_frequency"),
        peak_speed_fs_s=both.get("peak_speed"),
    )


def _from_parts(specimen: Specimen, axis: str) -> UsedResponse:
    delays = {direction: delay_from_parts(specimen, axis, direction) for direction in ("rising", "falling")}
    missing = Estimate.not_resolved("smoothing_delay", unit="s")
    rising, falling = (found.whole if found is not None else missing for found in delays.values())
    return UsedResponse(axis=axis, state=specimen.state, origin="parts", rising=rising, falling=falling)


def _poles(group: Mapping[str, Estimate]) -> tuple[float, ...]:
    poles = [group[key] for key in sorted(group) if key.startswith("pole_")]
    return tuple(pole.value for pole in poles if pole.value is not None and pole.value > 0)


def _beside(result: FeelResult, first: Sequence[UsedResponse], own: Sequence[UsedResponse]) -> FeelResult:
    """Add where the difference to the first specimen lies among published results (the first axis that answers)."""
    by_axis = {response.axis: response for response in first}
    for response in own:
        if response.axis in by_axis:
            difference = difference_of(response.rising, by_axis[response.axis].rising, quantity="difference")
            if difference.is_ok:
                return replace(result, notes=compare_in_use(difference))
    return result
