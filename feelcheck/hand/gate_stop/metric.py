"""The gate stop as a metric: what every axis does in each electrical direction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.counted import counted
from feelcheck.hand.gate_stop import numbers
from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.numbers import MIN_FLICKS
from feelcheck.hand.gate_stop.pooling import DirectionFindings, pool_direction, unresolved
from feelcheck.hand.gate_stop.released import Released, released
from feelcheck.hand.gate_stop.rest_memory import noise_memory_s
from feelcheck.hand.gate_stop.rim_bracket import StickBrackets
from feelcheck.hand.gate_stop.stick_fit import Fitted, stick_flicks
from feelcheck.hand.gate_stop.traces import flick_traces, unsmoothed_trace
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.hand.returns import spring_returns
from feelcheck.model import (
    Caveat,
    Estimate,
    Finding,
    FlickRecord,
    FloatArray,
    HandView,
    MetricOutput,
    RimBracket,
    StickAxes,
)
from feelcheck.model.quantities import DIRECTIONS, Direction
from feelcheck.numerics.uncertainty import combined

__all__ = ["METRIC", "GateStopMetric"]


NO_FLICKS = Caveat(
    code="no_flicks",
    text="There is no flick that ran into the rim and was held there, so the smoothing cannot be told.",
    advice="Record about ten quick flicks into each of the four diagonal corners, each held for half a second.",
)


class GateStopMetric:
    """Effective smoothing of each axis and direction from flicks that stop at the rim."""

    name = "gate_stop"
    numbers = numbers

    def measure(self, view: HandView) -> MetricOutput:
        """Return findings for every axis and direction; thin data gives not_resolved with the reason."""
        outputs = [_measure_stick(view, stick) for stick in view.sticks]
        return MetricOutput(
            findings=tuple(f for o in outputs for f in o.findings),
            flicks=tuple(sorted((f for o in outputs for f in o.flicks), key=lambda f: f.start_s)),
            traces=tuple(t for o in outputs for t in o.traces),
            caveats=tuple({c.code: c for o in outputs for c in o.caveats}.values()),
            models={key: value for o in outputs for key, value in o.models.items()},
            poles={key: value for o in outputs for key, value in o.poles.items()},
            brackets={key: value for o in outputs for key, value in o.brackets.items()},
        )


METRIC = GateStopMetric()


def _record(window: FlickWindow, stick: StickAxes) -> FlickRecord:
    return FlickRecord(
        start_s=window.start_s,
        direction_deg=window.direction_deg,
        kind="flick",
        used=not window.why_not,
        why_not=window.why_not,
        stick=stick.stick,
    )


def _measure_stick(view: HandView, stick: StickAxes) -> MetricOutput:
    names = (stick.x, stick.y)
    flicks = stick_flicks(view, stick)
    records = tuple(_record(window, stick) for window in flicks.windows)
    fitted = flicks.fitted
    if fitted is None:
        return _nothing(names, records, _why_nothing(flicks.windows))
    rests = [(s.start_s, s.end_s) for s in view.segments if s.kind == "rest" and s.stick == stick.stick]
    memory_s = _of_both(noise_memory_s(fitted.reports, rests))
    returns = released(view.once(spring_returns, stick), fitted.chosen, names)
    results = _directions(fitted, flicks.windows, names, memory_s, returns)
    findings = [f for result in results.values() for f in result.findings]
    findings += [_asymmetry(name, results) for name in names if name]
    traces = flick_traces(fitted.chosen, fitted.windows, names)
    return MetricOutput(
        findings=tuple(findings),
        flicks=records,
        traces=(*traces, *unsmoothed_trace(fitted.chosen, fitted.wall, names, stick.stick)),
        models={key: result.model for key, result in results.items()},
        poles={key: result.poles for key, result in results.items()},
        brackets=_of_names(fitted.wall.brackets, names),
    )


def _of_names(brackets: StickBrackets, names: tuple[str, str]) -> dict[tuple[str, str], RimBracket]:
    """Return the brackets by axis and direction."""
    places = [(g, names[g // 2], DIRECTIONS[g % 2]) for g in range(N_GROUPS)]
    return {(name, direction): brackets.of(g) for g, name, direction in places if name}


def _of_both(memory_s: FloatArray) -> float:
    """Return one memory of the noise for both axes, which pass the same firmware; NaN where neither tells."""
    told = memory_s[np.isfinite(memory_s)]
    return float(told.mean()) if told.size else float("nan")


def _directions(
    fitted: Fitted,
    windows: Sequence[FlickWindow],
    names: tuple[str, str],
    memory_s: float,
    returns: Released,
) -> dict[tuple[str, str], DirectionFindings]:
    results: dict[tuple[str, str], DirectionFindings] = {}
    for g in range(N_GROUPS):
        axis, name = g // 2, names[g // 2]
        direction: Direction = "falling" if g % 2 else "rising"
        if not name:
            continue
        n_flicks = fitted.chosen.best.batch.used_rows(g).size
        if n_flicks < MIN_FLICKS:
            results[name, direction] = unresolved(name, direction, _why_thin(windows, axis, n_flicks), n_flicks)
        else:
            results[name, direction] = pool_direction(
                fitted.chosen,
                g,
                name,
                direction,
                fitted.wall,
                both=all(names),
                memory_s=memory_s,
                scatter_s=fitted.scatter_s,
                returns=returns,
            )
    return results


def _why_thin(windows: Sequence[FlickWindow], axis: int, n_flicks: int) -> Caveat:
    if any("clipped" in w.why_not_axis[axis] for w in windows):
        return Caveat(
            code="clipped_before_rim",
            text=f"{_so_many(n_flicks)} in this direction stopped below full scale; the others are clipped.",
            advice="Flick into the diagonal corners, where an axis stops at about 0.7 of its throw.",
        )
    return Caveat(
        code="too_few_flicks",
        text=f"{_so_many(n_flicks)} in this direction ran into the rim and were held.",
        advice="Record about ten quick flicks into each of the four diagonal corners, each held for half a second.",
    )


def _so_many(n_flicks: int) -> str:
    return f"Only {counted(n_flicks, 'flick')}" if n_flicks else "No flick"


def _why_nothing(windows: Sequence[FlickWindow]) -> Caveat:
    reasons = [w.why_not for w in windows]
    if not reasons:
        return NO_FLICKS
    usual = max(set(reasons), key=reasons.count)
    if "reports" in usual:
        return Caveat(
            code="too_few_reports",
            text="A flick is over within one to three reports, so the smoothing cannot be told from this log.",
            advice="Record at the rate at which the device reports (125 Hz or more), not once a picture.",
        )
    if "clipped" in usual:
        return Caveat(
            code="clipped_before_rim",
            text="Every flick runs into the end of the scale before the rim, so its stop is not seen.",
            advice="Flick into the diagonal corners, or log the stick without scaling at the edge.",
        )
    if "held" in usual:
        return Caveat(
            code="not_held",
            text="The flicks were not held at the rim long enough to see the response end.",
            advice="Hold each flick at the rim for half a second before letting go.",
        )
    return NO_FLICKS


def _nothing(names: tuple[str, str], flicks: tuple[FlickRecord, ...], why: Caveat) -> MetricOutput:
    results: dict[tuple[str, str], DirectionFindings] = {
        (n, d): unresolved(n, d, why, 0) for n in names if n for d in DIRECTIONS
    }
    findings = [f for result in results.values() for f in result.findings]
    findings += [_asymmetry(name, results) for name in names if name]
    return MetricOutput(
        findings=tuple(findings),
        flicks=flicks,
        caveats=(why,),
        models=dict.fromkeys(results, "none"),
        poles=dict.fromkeys(results, ()),
    )


def _asymmetry(name: str, results: dict[tuple[str, str], DirectionFindings]) -> Finding:
    both = [results[name, d] for d in DIRECTIONS]
    rising, falling = (result.smoothing_delay for result in both)
    estimate = Estimate.not_resolved("asymmetry", unit="ratio")
    if rising.value and falling.value:
        ratio = falling.value / rising.value
        parts = (both[0].own_relative_u, both[1].own_relative_u)
        relative = float(np.hypot(*parts))
        terms = combined({"rising": ratio * parts[0], "falling": ratio * parts[1]})[1]
        dof = relative**4 / max(parts[0] ** 4 / rising.dof + parts[1] ** 4 / falling.dof, 1e-300)
        estimate = Estimate.measured(
            "asymmetry",
            ratio,
            u=ratio * relative,
            unit="ratio",
            n=min(rising.n, falling.n),
            dof=max(dof, 1.0),
            scale="log",
            terms=terms,
        )
    return Finding(estimate=estimate, axis=name)
