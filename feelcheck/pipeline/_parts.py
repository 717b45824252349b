"""From parts to a response, and from a specimen's record to the network on its board."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from feelcheck.errors import FormatError, ProfileError
from feelcheck.model import BenchResult, Caveat, Estimate, Part
from feelcheck.model.parts import BoardNetwork, OutputStage, PartsResult, SinkKind, WhatIf
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.network import (
    ASSUMED_TOLERANCE,
    changed_network,
    check_settles,
    class_2_factors,
    edge,
    infer_capacitance,
    infer_resistance,
    is_class_2,
    predict,
    tolerance_factors,
    what_if,
)
from feelcheck.numerics.si_values import PartUnit, component_value
from feelcheck.numerics.uncertainty import WIDTH_95, coverage_interval
from feelcheck.pipeline._bench import bench
from feelcheck.pipeline._specimens import Specimen

__all__ = [
    "PartsAsked",
    "PredictedDelay",
    "axes_with_parts",
    "delay_from_parts",
    "known_parts",
    "network_of",
    "parts",
    "parts_what_if",
]

ROLES = {"pin_capacitor": "pin_f", "series_resistor": "series_ohm", "capacitor": "behind_f", "load": "load_ohm"}
ALIKE_RATIO = 1.05
"""Ratio of falling to rising within which a plain filter is believed."""
HIGHEST_V = 60.0
"""Supply above which no stick sensor works (extra-low voltage; common practice, no source)."""
ASSUMED = Caveat(
    code="assumed_tolerance",
    text="Tolerances were assumed: 5 % for resistors, 20 % for capacitors.",
    advice="Give them with --resistor-tolerance and --capacitor-tolerance (per cent).",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsAsked:
    """Parts as a person types them; values with SI prefixes, tolerances as fractions."""

    resistor: str = ""
    capacitor: str = ""
    pin_capacitor: str = ""
    load: str = ""
    source: str = ""
    sink_resistor: str = ""
    sink_current: str = ""
    resistor_tolerance: float | None = None
    capacitor_tolerance: float | None = None
    dielectric: str = ""
    low_v: float = 0.2
    high_v: float = 1.6


def parts(
    asked: PartsAsked | None = None,
    *,
    resistor: str = "",
    capacitor: str = "",
    pin_capacitor: str = "",
    load: str = "",
    from_bench: Path | str | None = None,
    direction: str = "rising",
) -> PartsResult:
    """Predict from parts, or infer the unknown one of resistor and capacitor from a capture.

    Parameters
    ----------
    asked : PartsAsked, optional
        Everything that may be told of a board; else the four parts that follow.
    resistor, capacitor, pin_capacitor, load : str
        Values with SI prefixes (``"4.7k"``, ``"1u"``).
    from_bench : Path or str, optional
        A capture to infer from.
    direction : {"rising", "falling"}
        Which edges of the capture count.

    Raises
    ------
    FormatError
        If a value is no component value, or there is nothing to predict or infer from.
    """
    asked = asked or PartsAsked(resistor=resistor, capacitor=capacitor, pin_capacitor=pin_capacitor, load=load)
    if direction not in DIRECTIONS:
        raise FormatError(
            "A direction is rising or falling.", {"got": direction}, "Give --direction rising or --direction falling."
        )
    if from_bench is not None:
        return _inferred(asked, Path(from_bench), direction)
    if not any((asked.resistor, asked.capacitor, asked.pin_capacitor)):
        raise FormatError("A prediction needs parts.", {"got": "none"}, "Give --resistor and --capacitor.")
    network = _network(asked)
    _check_filter(asked)
    check_settles(network)
    result = predict(network, class_2=is_class_2(asked.dielectric))
    assumed = asked.resistor_tolerance is None or asked.capacitor_tolerance is None
    return replace(result, caveats=(*result.caveats, ASSUMED)) if assumed else result


def parts_what_if(asked: PartsAsked, changes: Sequence[str]) -> list[WhatIf]:
    """Predict the effect of changes such as ``capacitor=lifted`` or ``resistor=2.2k``, one at a time."""
    network = _network(asked)
    names = {"resistor": "series_ohm", "capacitor": "behind_f", "pin_capacitor": "pin_f", "load": "load_ohm"}
    found = []
    for change in changes:
        part, _, value = (word.strip() for word in change.partition("="))
        if part not in names or not value:
            facts = {"got": change, "allowed": ", ".join(names)}
            raise FormatError("A change is written part=lifted or part=value.", facts, "Try capacitor=lifted.")
        unit: PartUnit = "F" if part.endswith("capacitor") else "ohm"
        wanted = None if value == "lifted" else component_value(value, unit)
        check_settles(changed_network(network, names[part], wanted))
        found.append(what_if(network, names[part], wanted))
    return found


def known_parts(resistor: str, capacitor: str) -> tuple[float | None, float | None]:
    """Return what a person says of a filter, ohm and farad; None where nothing is said."""
    return _optional(resistor, "ohm") or None, _optional(capacitor, "F") or None


def _optional(text: str, unit: PartUnit) -> float:
    return component_value(text, unit) if text else 0.0


def _check_filter(asked: PartsAsked) -> None:
    """Refuse one part alone: neither a resistor nor a capacitor delays anything without the other."""
    capacitors = asked.capacitor or asked.pin_capacitor
    charged_by = asked.resistor or asked.source or asked.sink_resistor or asked.sink_current
    if not capacitors:
        facts = {"got": f"a resistor of {asked.resistor}"}
        raise FormatError("A resistor alone delays nothing: a filter needs a capacitor.", facts, "Add --capacitor.")
    if not charged_by:
        facts = {"got": f"a capacitor of {capacitors}"}
        raise FormatError(
            "A capacitor alone delays nothing: something resists what charges it.", facts, "Add --resistor or --source."
        )


def _check_numbers(asked: PartsAsked) -> None:
    if not 0 <= asked.low_v < asked.high_v <= HIGHEST_V:
        facts = {"low": asked.low_v, "high": asked.high_v}
        raise FormatError(
            "An output steps between 0 <= low < high volts, 60 at most.", facts, "Give --low-v and --high-v so."
        )
    widest = max(asked.resistor_tolerance or 0.0, asked.capacitor_tolerance or 0.0)
    if widest >= 1:
        raise FormatError("A tolerance is less than 100 %.", {"got": f"{100 * widest:g} %"}, "Give a smaller one.")


def _network(asked: PartsAsked) -> BoardNetwork:
    _check_numbers(asked)
    sink: SinkKind = "current" if asked.sink_current else "pull_down" if asked.sink_resistor else "source"
    stage = OutputStage(
        source_ohm=_optional(asked.source, "ohm"),
        sink=sink,
        sink_ohm=_optional(asked.sink_resistor, "ohm") or None,
        sink_a=_optional(asked.sink_current, "A") or None,
    )
    r_band = tolerance_factors(asked.resistor_tolerance or ASSUMED_TOLERANCE["ohm"])
    c_band = tolerance_factors(asked.capacitor_tolerance or ASSUMED_TOLERANCE["F"])
    present = {
        "series_ohm": (asked.resistor, r_band),
        "load_ohm": (asked.load, r_band),
        "behind_f": (asked.capacitor, c_band),
        "pin_f": (asked.pin_capacitor, c_band),
    }
    return BoardNetwork(
        stage=stage,
        pin_f=_optional(asked.pin_capacitor, "F"),
        series_ohm=_optional(asked.resistor, "ohm"),
        behind_f=_optional(asked.capacitor, "F"),
        load_ohm=_optional(asked.load, "ohm") or None,
        low_v=asked.low_v,
        high_v=asked.high_v,
        bands={name: band for name, (text, band) in present.items() if text},
    )


def _inferred(asked: PartsAsked, capture: Path, direction: str) -> PartsResult:
    result = bench(capture)
    side = result.rising if direction == "rising" else result.falling
    if side is None or bool(asked.resistor) == bool(asked.capacitor):
        facts = {"direction": direction, "resistor": asked.resistor or "-", "capacitor": asked.capacitor or "-"}
        raise FormatError(
            "Inferring needs an edge in that direction and exactly one known part.",
            facts,
            "Give --resistor or --capacitor, not both.",
        )
    tau = side.smoothing_delay
    if asked.resistor:
        tolerance = asked.resistor_tolerance or ASSUMED_TOLERANCE["ohm"]
        inferred = infer_capacitance(
            tau,
            component_value(asked.resistor, "ohm"),
            tolerance=tolerance,
            class_2=is_class_2(asked.dielectric),
            bias_v=asked.high_v,
        )
    else:
        tolerance = asked.capacitor_tolerance or ASSUMED_TOLERANCE["F"]
        inferred = infer_resistance(tau, component_value(asked.capacitor, "F"), tolerance=tolerance)
    return PartsResult(
        network=None,
        time_constant=side.time_constant,
        corner_frequency=Estimate.not_resolved("corner_frequency", unit="Hz"),
        transition_10_90=side.step_transition_10_90,
        mean_delay=side.mean_delay,
        inferred=inferred,
        caveats=(*_other_edge(result, direction), *side.time_constant.caveats),
    )


def _other_edge(result: BenchResult, direction: str) -> tuple[Caveat, ...]:
    """What the edge that was not used says against one resistor and one capacitor: both edges are alike behind them."""
    low, high = coverage_interval(result.asymmetry)
    ratio = result.asymmetry.value or low or high
    if not ratio or ((low or 0.0) < ALIKE_RATIO and (high or math.inf) > 1 / ALIKE_RATIO):
        return ()
    longer = ratio if direction == "rising" else 1 / ratio
    other = "falling" if direction == "rising" else "rising"
    limits = ("", "") if result.asymmetry.is_ok else ("at least ", "at most ")
    words = f"{limits[0]}{longer:.3g} times as long" if longer > 1 else f"{limits[1] or 'only '}{longer:.2g} of that"
    return (
        Caveat(
            code="other_edge_contradicts",
            text=f"The {other} edge takes {words}: behind one resistor and one capacitor both would be alike.",
            advice=f"Take this value for the {direction} path only; look for a capacitor on a pin that sinks weakly.",
        ),
    )


# --- a specimen's own network -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictedDelay:
    """A delay predicted from a record's parts.

    Parameters
    ----------
    estimate : Estimate, s
        At the middle of what the parts allow, without their band.
    band_s : float, s
        Half-width of the parts' band (95 %).
    class_2 : bool
        Whether a class-2 capacitor is among them: a meter reads it without its working voltage.
    measured : bool
        Whether every part was measured rather than assumed.
    """

    estimate: Estimate
    band_s: float
    class_2: bool
    measured: bool

    @property
    def whole(self) -> Estimate:
        """The estimate with the band as its uncertainty."""
        u = math.hypot(self.estimate.u or 0.0, self.band_s / (WIDTH_95 / 2))
        return replace(self.estimate, u=u)


def network_of(specimen: Specimen, axis: str) -> tuple[BoardNetwork, tuple[Part, ...]] | None:
    """Return the network of one axis in the specimen's state, and its parts; None where no filter part is known.

    Raises
    ------
    ProfileError
        If a state changes a part to something that is no value.
    """
    own = [p for p in _parts_in_state(specimen) if p.role in ROLES and p.axis in ("", axis)]
    if not own:
        return None
    fitted = [part for part in own if part.fitted]
    places = dict.fromkeys(ROLES[part.role] for part in fitted)
    values = {place: _together([p.value for p in fitted if ROLES[p.role] == place], place) for place in places}
    sensor = specimen.profile.sensor
    sink: SinkKind = "current" if sensor.sink_a else "pull_down" if sensor.sink_ohm else "source"
    stage = OutputStage(source_ohm=sensor.source_ohm or 0.0, sink=sink, sink_ohm=sensor.sink_ohm, sink_a=sensor.sink_a)
    bands = {place: _shared_band([p for p in fitted if ROLES[p.role] == place], specimen) for place in places}
    low_v, high_v = _levels(specimen)
    return BoardNetwork(stage=stage, low_v=low_v, high_v=high_v, bands=bands, **values), tuple(own)


def _together(values: Sequence[float], place: str) -> float:
    """Several parts at one place: capacitors side by side and resistors in series add, loads to ground are parallel."""
    return 1 / sum(1 / value for value in values) if place == "load_ohm" else sum(values)


def _shared_band(own: Sequence[Part], specimen: Specimen) -> tuple[float, float]:
    """Factors of the whole: each part's own, by its share of the value."""
    total = sum(part.value for part in own)
    bands = [(part.value / total, _band(part, specimen)) for part in own]
    return sum(share * band[0] for share, band in bands), sum(share * band[1] for share, band in bands)


def _levels(specimen: Specimen) -> tuple[float, float]:
    supply = specimen.profile.sensor.supply_v or 1.8
    return 0.01 * supply, 0.9 * supply


def _parts_in_state(specimen: Specimen) -> list[Part]:
    """The parts after every change up to the specimen's state, undone steps left out."""
    changed = {part.position: part for part in specimen.profile.parts}
    for state in specimen.profile.states:
        if specimen.state == "as_found":
            break
        if not state.undone:
            for position, value in state.changes.items():
                if position in changed:
                    changed[position] = _changed(changed[position], value)
        # States stand in order of time: what follows was not done yet.
        if state.name == specimen.state:
            break
    return list(changed.values())


def _changed(part: Part, value: str) -> Part:
    if value == "lifted":
        return replace(part, fitted=False)
    try:
        return replace(part, value=component_value(value, part.unit), fitted=True)
    except FormatError as error:
        facts = {"part": part.position, **error.facts}
        raise ProfileError(
            f"A changed part is lifted or has a value. {error.sentence}", facts, error.next_step
        ) from None


def _band(part: Part, specimen: Specimen) -> tuple[float, float]:
    half = part.tolerance_fraction if part.tolerance_fraction is not None else ASSUMED_TOLERANCE[part.unit]
    low, high = tolerance_factors(half)
    if part.unit == "F" and part.measured in ("marked", "assumed") and is_class_2(part.dielectric):
        derated_low, derated_high = class_2_factors(specimen.profile.sensor.supply_v or 1.8)
        return low * derated_low, max(high, derated_high)
    return low, high


def axes_with_parts(specimen: Specimen) -> list[str]:
    """Return the axes whose filter parts are in the record; ``"output"`` for parts without an axis."""
    return list(dict.fromkeys(part.axis or "output" for part in specimen.profile.parts if part.role in ROLES))


def delay_from_parts(specimen: Specimen, axis: str, direction: str) -> PredictedDelay | None:
    """Return the delay that a record's parts predict for one direction of the volts; None without parts."""
    found = network_of(specimen, axis)
    if found is None:
        return None
    network, own = found
    check_settles(network, specimen=specimen.label)
    middle, ends = _middle_and_ends(network, direction)
    return PredictedDelay(
        estimate=Estimate.measured("smoothing_delay", middle, u=0.0, unit="s"),
        band_s=(ends[1] - ends[0]) / 2,
        class_2=any(p.unit == "F" and p.fitted and is_class_2(p.dielectric) for p in own),
        measured=all(part.measured in ("in_circuit", "out_of_circuit") for part in own if part.fitted),
    )


def _middle_and_ends(network: BoardNetwork, direction: str) -> tuple[float, tuple[float, float]]:
    """Delay with every part at the low end, at the high end of its band, and half way between."""

    def delay(end: int) -> float:
        moved = network
        for name, factors in network.bands.items():
            moved = changed_network(moved, name, getattr(network, name) * factors[end])
        return edge(moved, rising=direction == "rising").area_s()

    low, high = sorted((delay(0), delay(1)))
    return (low + high) / 2, (low, high)
