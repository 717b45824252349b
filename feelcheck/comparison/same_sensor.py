"""Several boards read differently: one sensor behind different parts, or different sensors?

The known network is taken out of each response; what is left is held against each other, one piece of evidence at a
time. Evidence that cannot be seen behind a slow filter (internal steps) counts for nothing when it is absent; but steps
that a filter hides hold the output back by half their interval, and that is looked for in the delay.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from scipy import special

from feelcheck.comparison.numbers import (
    ALIKE_S,
    LONGEST_STEP_S,
    OWN_DELAY_SPREAD_S,
    RESIDUAL_MARGIN_S,
    SENSOR_LEVEL,
    STEPS_HIDDEN_ABOVE,
)
from feelcheck.comparison.tests_of_means import holm
from feelcheck.model import Estimate, SensorVerdict, Status
from feelcheck.numerics.uncertainty import coverage_factor, difference_of

__all__ = ["BoardResponse", "compare_sensors"]

SPECIMEN_SPREAD = MappingProxyType({"sensitivity": 0.15, "saturation_swing": 0.10, "update_interval": 0.05})
"""How far two specimens of one sensor type may lie apart, relative (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardResponse:
    """What the bench says of one board, with its known network.

    Parameters
    ----------
    name : str
        Specimen.
    delay : Estimate, s
        Mean delay behind the drive, dead time and smoothing together, of the quicker direction as measured: holding
        between samples that are not seen goes into either.
    network_delay : Estimate, s
        What the known parts predict for it (measured parts where there are any).
    update_interval : Estimate, s
        Internal sampling interval seen as steps; not_present where none were seen.
    sensitivity : Estimate
        Swing per unit of drive; not_resolved where the drive's unit is not the same for both.
    saturation_swing : Estimate
        Swing between the flat tops where the sensor saturates; not_present where it does not.
    drive_unit : str
        Unit of the drive behind the sensitivity.
    drive_s : float, s
        Transition of the drive; 0 where it is a step or unknown.
    """

    name: str
    delay: Estimate
    network_delay: Estimate
    update_interval: Estimate
    sensitivity: Estimate
    saturation_swing: Estimate
    drive_unit: str = ""
    drive_s: float = 0.0

    @property
    def residual(self) -> Estimate:
        """Delay that the network does not explain, holding between internal samples included.

        Notes
        -----
        Steps that are seen are taken out of the response by the fit, so half their interval is put back; behind a slow
        filter the response holds it anyway.
        """
        beyond = difference_of(self.delay, self.network_delay, quantity="residual_delay")
        if beyond.value is None or self.update_interval.value is None:
            return beyond
        return replace(beyond, value=beyond.value + 0.5 * self.update_interval.value)

    def lacks_steps_of(self, other: BoardResponse) -> bool:
        """Whether the other board shows internal steps that this one does not and could not hide.

        Parameters
        ----------
        other : BoardResponse
            The board that may show steps.
        """
        return self._quicker_than(other, STEPS_HIDDEN_ABOVE)

    def has_no_room_for_steps_of(self, other: BoardResponse) -> bool:
        """Whether this board shows no steps and answers sooner than holding for the other's would let it.

        Parameters
        ----------
        other : BoardResponse
            The board that may show steps.
        """
        return self._quicker_than(other, 0.5)

    def _quicker_than(self, other: BoardResponse, n_steps: float) -> bool:
        interval, delay = other.update_interval.value, self.delay.value
        if interval is None or delay is None or self.update_interval.status is not Status.NOT_PRESENT:
            return False
        return delay < n_steps * interval and self.drive_s >= interval


def compare_sensors(first: BoardResponse, second: BoardResponse) -> SensorVerdict:
    """Hold two boards' sensors against each other.

    Parameters
    ----------
    first : BoardResponse
        One board's response.
    second : BoardResponse
        The other's.

    Notes
    -----
    Each piece of evidence is tested for a difference beyond the spread of specimens of one type (two-sided, Holm over
    the pieces) and for being alike: within half that spread (two one-sided tests). One difference decides `different`.
    Consistency needs the residual response and one more piece to be alike; otherwise nothing can be told. Internal
    steps that only one board shows forbid consistency where the other could show them, and decide `different` where
    they would hold it back for longer than it takes to answer.

    Samples that are not seen hold an edge back by at least half the smaller of their interval and the drive's
    transition, whatever their phase. So the residual delays must lie within half the drive's transition before they
    say that both boards sample alike, and a drive quicker than the samples widens what their phase may do.
    """
    margins: dict[str, float] = {}
    evidence: dict[str, Estimate] = {}
    for name, difference, margin in _pieces(first, second):
        evidence[name], margins[name] = difference, margin
    beyond = dict(zip(evidence, holm([_p_beyond(d, margins[n]) for n, d in evidence.items()]), strict=True))
    alike = {name: margin / 2 for name, margin in margins.items()} | {"residual_delay": _alike_s(first, second)}
    inside = [name for name, difference in evidence.items() if _inside(difference, alike[name])]
    apart = [name for name, p in beyond.items() if p < SENSOR_LEVEL]
    lacking = [(a, b) for a, b in ((first, second), (second, first)) if a.lacks_steps_of(b)]
    apart += ["internal_steps"] if any(a.has_no_room_for_steps_of(b) for a, b in lacking) else []
    remarks = [*_remarks(first, second), *_why_open(evidence.get("residual_delay"), first, second)]
    words = tuple(name.replace("_", " ") for name in (apart or inside))
    if apart:
        verdict = "different"
    elif "residual_delay" in inside and len(inside) > 1 and not lacking:
        verdict = "consistent_with_one_sensor"
    else:
        verdict, words = "cannot_tell", ()
    return SensorVerdict(
        first=first.name,
        second=second.name,
        verdict=verdict,  # type: ignore[arg-type]
        decided_by=words,
        evidence=evidence,
        remarks=tuple(remarks) if verdict == "cannot_tell" else _remarks(first, second),
    )


def _pieces(first: BoardResponse, second: BoardResponse) -> list[tuple[str, Estimate, float]]:
    """Every piece of evidence that both boards give, as a difference with its margin."""
    found = []
    residual = difference_of(second.residual, first.residual, quantity="residual_delay")
    if residual.is_ok and residual.u is not None:
        residual = replace(residual, u=math.hypot(residual.u, OWN_DELAY_SPREAD_S))
        found.append(("residual_delay", residual, RESIDUAL_MARGIN_S + _phase_s(first, second)))
    pairs: Mapping[str, tuple[Estimate, Estimate]] = {
        "update_interval": (first.update_interval, second.update_interval),
        "saturation_swing": (first.saturation_swing, second.saturation_swing),
    }
    if first.drive_unit == second.drive_unit:
        pairs = {**pairs, "sensitivity": (first.sensitivity, second.sensitivity)}
    for name, (a, b) in pairs.items():
        ratio = _log_ratio(a, b, name)
        if ratio is not None:
            found.append((name, ratio, math.log1p(SPECIMEN_SPREAD[name])))
    return found


def _both_step(first: BoardResponse, second: BoardResponse) -> bool:
    return first.update_interval.is_ok and second.update_interval.is_ok


def _alike_s(first: BoardResponse, second: BoardResponse) -> float:
    """How near the residual delays must be, s: no hold that a filter hides may pass for none."""
    return ALIKE_S if _both_step(first, second) else min(ALIKE_S, 0.5 * min(first.drive_s, second.drive_s))


def _phase_s(first: BoardResponse, second: BoardResponse) -> float:
    """What the phase of unseen samples may add to the residual delay under a quick drive, s."""
    return 0.0 if _both_step(first, second) else max(LONGEST_STEP_S - min(first.drive_s, second.drive_s), 0.0)


def _log_ratio(first: Estimate, second: Estimate, name: str) -> Estimate | None:
    if not (first.value and second.value and first.u is not None and second.u is not None):
        return None
    u = math.hypot(first.u / first.value, second.u / second.value)
    dof = min(first.dof, second.dof)
    return Estimate.measured(name, math.log(abs(second.value / first.value)), u=u, unit="log ratio", dof=dof)


def _p_beyond(difference: Estimate, margin: float) -> float:
    """P that the difference lies inside the margin after all, from how far it lies beyond it."""
    if difference.value is None or not difference.u:
        return 0.0 if abs(difference.value or 0.0) > margin else 1.0
    return float(special.stdtr(difference.dof, (margin - abs(difference.value)) / difference.u))


def _inside(difference: Estimate, margin: float) -> bool:
    if difference.value is None or difference.u is None:
        return False
    return abs(difference.value) + coverage_factor(difference.dof, 0.90) * difference.u < margin


def _why_open(residual: Estimate | None, first: BoardResponse, second: BoardResponse) -> tuple[str, ...]:
    """What stands in the way of a decision, and what to do about it."""
    pair = f"{first.name} and {second.name}"
    if residual is None or residual.u is None:
        return (f"{pair}: what the filter parts explain is not known for both; note their parts.",)
    if _alike_s(first, second) < ALIKE_S:
        return (f"{pair}: the drive is too quick, or unknown, to tell what internal samples hold; ramp it over 1 ms.",)
    half_ms = 1e3 * coverage_factor(residual.dof) * residual.u
    if half_ms > 1e3 * ALIKE_S:
        return (f"{pair}: the parts leave {half_ms:.2g} ms open; measure them instead of reading their marks.",)
    return (f"{pair}: nothing beside the delay could be held against each other; use one drive for both.",)


def _remarks(first: BoardResponse, second: BoardResponse) -> tuple[str, ...]:
    remarks = []
    for board, other in ((first, second), (second, first)):
        if other.update_interval.is_ok and not board.update_interval.is_ok:
            if board.lacks_steps_of(other):
                remarks.append(
                    f"{other.name} shows internal steps and {board.name}, quick enough to show them, does not."
                )
            else:
                remarks.append(f"{board.name} shows no internal steps, but its filter would hide them: no evidence.")
    return tuple(remarks)
