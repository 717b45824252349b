"""From parts to the response they cause, each direction on its own, with the parts' tolerances carried along."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Literal

from feelcheck.errors import FormatError
from feelcheck.model import Caveat, Estimate, Trace
from feelcheck.model.parts import BoardNetwork, PartsDirection, PartsResult
from feelcheck.network.circuit import Edge, edge, poles_s
from feelcheck.network.derating import class_2_factors
from feelcheck.network.numbers import LONGEST_S
from feelcheck.numerics.si_values import format_si
from feelcheck.numerics.uncertainty import WIDTH_95

__all__ = ["check_settles", "predict", "predict_edge"]

N_TRACE = 400
NO_POLE = Caveat(
    code="no_single_pole",
    text="A constant-current sink makes a ramp: there is no time constant, the mean delay tells its length.",
)
EVERY_DIRECTION = Caveat(
    code="directions_differ",
    text="Rising and falling differ; the figures in front are those of the rising edge.",
)

Shape = Literal["step", "pole", "ramp", "exponential_to_ground"]


def predict(network: BoardNetwork, *, class_2: bool = False) -> PartsResult:
    """Predict the response of a network.

    Parameters
    ----------
    network : BoardNetwork
        Parts, their bands, levels.
    class_2 : bool
        Whether the capacitors are of class 2 (or unknown): then the derated figures are given beside the marked ones.

    Notes
    -----
    The uncertainty of each figure adds, in squares, what every part's band does to it; a band is taken as 95 %.
    """
    rising, falling = (predict_edge(network, rising=way) for way in (True, False))
    slowest = rising.time_constant
    corner = _corner(slowest)
    alike = _alike(rising, falling)
    return PartsResult(
        network=network,
        time_constant=slowest,
        corner_frequency=corner,
        transition_10_90=rising.transition_10_90,
        mean_delay=rising.mean_delay,
        rising=rising,
        falling=falling,
        derated=_derated(network, rising) if class_2 and (network.pin_f or network.behind_f) else {},
        caveats=() if alike else (EVERY_DIRECTION,),
        traces=(_trace(network),),
    )


def check_settles(network: BoardNetwork, **facts: str) -> None:
    """Refuse parts that settle more slowly than any stick's filter could.

    Parameters
    ----------
    network : BoardNetwork
        The board's parts.
    **facts : str
        What else the message tells, such as the file.

    Raises
    ------
    FormatError
        With the parts and the delay that they make.
    """
    slowest = max(edge(network, rising=way).area_s() for way in (True, False))
    if slowest > LONGEST_S:
        parts = {"series resistor": (network.series_ohm, "ohm"), "capacitor behind it": (network.behind_f, "F"),
                 "capacitor at the pin": (network.pin_f, "F")}  # fmt: skip
        said = {name: format_si(value, unit) for name, (value, unit) in parts.items() if value}
        raise FormatError(
            f"These parts delay by {slowest:.3g} s, and a stick's filter by milliseconds.",
            {**facts, **said},
            "Look for a missing or wrong prefix.",
        )


def predict_edge(network: BoardNetwork, *, rising: bool) -> PartsDirection:
    """Predict one direction.

    Parameters
    ----------
    network : BoardNetwork
        The parts on the board.
    rising : bool
        Which direction: whether the volts rise.
    """
    found = edge(network, rising=rising)
    shape = _shape(network, found)
    return PartsDirection(
        time_constant=_time_constant(network, rising, shape),
        transition_10_90=_with_bands("transition_10_90", network, lambda n: _transition(n, rising)),
        mean_delay=_with_bands("mean_delay", network, lambda n: edge(n, rising=rising).area_s()),
        shape=shape,
        swing=found.last_v - found.first_v,
    )


def _transition(network: BoardNetwork, rising: bool) -> float:
    found = edge(network, rising=rising)
    return found.crossing_s(0.9) - found.crossing_s(0.1)


def _shape(network: BoardNetwork, found: Edge) -> Shape:
    if not (network.pin_f or network.behind_f):
        return "step"
    if len(found.pieces) == 1:
        return "pole"
    return "ramp" if network.stage.sink == "current" else "exponential_to_ground"


def _time_constant(network: BoardNetwork, rising: bool, shape: Shape) -> Estimate:
    if shape == "ramp":
        return Estimate.not_present("time_constant", unit="s", caveats=(NO_POLE,))
    if shape == "exponential_to_ground":
        return _with_bands("time_constant", network, _pull_down_pole)
    return _with_bands("time_constant", network, lambda n: max(poles_s(n, rising=rising), default=0.0))


def _pull_down_pole(network: BoardNetwork) -> float:
    """The slowest time constant while the pull-down discharges: its resistor in place of the stage's own."""
    stage = replace(network.stage, source_ohm=network.stage.sink_ohm or 0.0, sink="source", sink_ohm=None)
    return max(poles_s(replace(network, stage=stage), rising=False), default=0.0)


def _with_bands(quantity: str, network: BoardNetwork, value_of: Callable[[BoardNetwork], float]) -> Estimate:
    value = value_of(network)
    square = 0.0
    for part, factors in network.bands.items():
        ends = [value_of(_scaled(network, part, factor)) for factor in factors]
        square += ((max(ends) - min(ends)) / WIDTH_95) ** 2
    scale: Literal["linear", "log"] = "log" if value > 0 else "linear"
    return Estimate.measured(quantity, value, u=math.sqrt(square), unit="s", scale=scale)


def _scaled(network: BoardNetwork, part: str, factor: float) -> BoardNetwork:
    if part in ("source_ohm", "sink_ohm", "sink_a"):
        value = getattr(network.stage, part)
        return network if value is None else replace(network, stage=replace(network.stage, **{part: value * factor}))
    value = getattr(network, part)
    return network if value is None else replace(network, **{part: value * factor})


def _corner(time_constant: Estimate) -> Estimate:
    if not time_constant.value or time_constant.u is None:
        return Estimate.not_present("corner_frequency", unit="Hz")
    value = 1 / (2 * math.pi * time_constant.value)
    u = value * time_constant.u / time_constant.value
    return Estimate.measured("corner_frequency", value, u=u, unit="Hz", scale="log")


def _derated(network: BoardNetwork, rising: PartsDirection) -> dict[str, Estimate]:
    """The rising edge's figures over the class-2 band: middle of the band by ratio, its width as the interval."""
    low, high = class_2_factors(network.high_v)
    found = {}
    for name in ("time_constant", "transition_10_90", "mean_delay"):
        marked: Estimate = getattr(rising, name)
        if marked.value and marked.u is not None:
            own = marked.u / marked.value
            width = math.hypot(math.log(high / low) / WIDTH_95, own)
            middle = marked.value * math.sqrt(low * high)
            found[name] = Estimate.measured(name, middle, u=middle * width, unit="s", scale="log")
    return found


def _alike(rising: PartsDirection, falling: PartsDirection) -> bool:
    a, b = rising.mean_delay.value or 0.0, falling.mean_delay.value or 0.0
    return math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-12)


def _trace(network: BoardNetwork) -> Trace:
    """Both edges on one time axis, for a figure."""
    import numpy as np

    up, down = edge(network, rising=True), edge(network, rising=False)
    t_s = np.linspace(0.0, max(up.crossing_s(0.999), down.crossing_s(0.999), 1e-6) * 1.1, N_TRACE)
    arrays = {"t_s": t_s, "rising_v": up.output_v(t_s), "falling_v": down.output_v(t_s)}
    return Trace(kind="network", axis="", arrays=arrays)
