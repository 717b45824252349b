"""From a capture to its result."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np

from feelcheck.bench.asymmetry import ONE_DIRECTION, asymmetry
from feelcheck.bench.boards import explain_board
from feelcheck.bench.delays import with_hold
from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.drive import (
    choose_channels,
    denoised,
    further_outputs,
    is_sweep,
    judge_drive,
    rests_midway,
)
from feelcheck.bench.drive_reading import read_drive
from feelcheck.bench.edges import Edge, find_edges
from feelcheck.bench.figures import edge_trace, stairs_trace
from feelcheck.bench.levels import Trace1D
from feelcheck.bench.looks import Look, look_at_edges
from feelcheck.bench.noise import output_noise, output_swing
from feelcheck.bench.numbers import REFUSED_MISFIT, RETURN_RATIO, UNDRIVEN_MISFIT
from feelcheck.bench.positive import kept_positive
from feelcheck.bench.report import held_direction, limited_by_hold, report_direction
from feelcheck.bench.sampling import sampling_caveats
from feelcheck.bench.saturated_delay import lateness_of, with_lateness
from feelcheck.bench.transfer import edge_sensitivity, measure_transfer
from feelcheck.bench.waves import refuse_wave
from feelcheck.bench.windows import driven_windows, undriven_windows
from feelcheck.counted import counted
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchDirection, BenchResult, Capture, Caveat, Estimate, Trace

__all__ = ["measure_response"]

SWEEP = Caveat(
    code="slow_sweep",
    text="The drive is a slow sweep: it gives the transfer curve, and no response time.",
    advice="Step the drive for the response.",
)
DRIVE_UNFIT = Caveat(
    code="drive_does_not_explain",
    text="The output does not follow the drive column through any model; the edges were taken as steps.",
    advice="Check that both channels show the same event, or name the drive with --drive.",
)


DRIVE_RETURNS = Caveat(
    code="drive_returns",
    text="The column taken for the drive jumps and falls back by itself, like the current into a capacitor: it is an"
    " answer, no drive. The edges were taken as steps.",
    advice="Record what is switched (the generator's or the supply's voltage), or name the drive with --drive.",
)


ALSO_ANSWER = Caveat(
    code="further_outputs",
    text="Several columns answer the drive ({}): the first is on top, the others stand under further outputs.",
    advice="Put another one on top with --output.",
)
ALIKE_OUTPUTS = Caveat(
    code="alike_outputs",
    text="Nothing tells which of these columns drives ({}): each was measured as an output, its edges as steps.",
    advice="Name the drive with --drive, if one of them is.",
)


ODD_CODES = {"part_at_once", "two_ways", "does_not_fit", "weak_sink", "slow_tail"}
GUESSED_DRIVE = Caveat(
    code="guessed_drive",
    text="Neither name nor unit tells that {0} drives: it moves before {1}, which does not follow it as a filter does."
    " If both answer a drive that was not captured, read their edges as steps, under further outputs.",
    advice="Name the drive with --drive, or say --drive none.",
)


def measure_response(capture: Capture, *, drive: str | None = None, output: str | None = None) -> BenchResult:
    """Return the response of the output in both directions.

    Parameters
    ----------
    capture : Capture
        Time, output and, where there is one, the drive.
    drive, output : str, optional
        Column names that overrule what the reader took them for.

    Raises
    ------
    NotEnoughDataError
        If there is no edge to measure.
    KeyError
        If a named column is not there.

    Notes
    -----
    The measured drive, freed of its noise, passes through gain, offset and saturation limits, then a dead time and
    none, one or two poles; without a drive each edge is taken as a step at an onset that is searched.
    """
    first = _measured(capture, drive, output)
    if output is not None:
        return first
    guessed = drive is None and first.drive_name is not None and not capture.channel(first.drive_name).role
    if guessed and _is_odd(first):
        return _or_both_answer(capture, first)
    names = [channel.name for channel in further_outputs(capture, first.drive_name, first.output_name)]
    others = tuple(found for name in names if (found := _beside(capture, first.drive_name or drive, name)) is not None)
    if not others:
        return first
    told = ALSO_ANSWER if first.drive_name else ALIKE_OUTPUTS
    text = told.text.format(", ".join((first.output_name, *(other.output_name for other in others))))
    return replace(first, outputs=others, caveats=(*first.caveats, replace(told, text=text)))


def _is_odd(result: BenchResult) -> bool:
    """Whether a response is none that a circuit behind its drive usually has: of two outputs one is no filter."""
    sides = [side for side in (result.rising, result.falling) if side is not None]
    said = {caveat.code for side in sides for caveat in side.time_constant.caveats}
    one_way = ONE_DIRECTION in result.asymmetry.caveats
    return bool(said & ODD_CODES or (result.asymmetry.caveats and not one_way))


def _or_both_answer(capture: Capture, first: BenchResult) -> BenchResult:
    """A result whose drive was guessed from its pace alone, with the other reading beside: that both columns answer."""
    names = [name for name in (first.drive_name, first.output_name) if name is not None]
    both = tuple(found for name in names if (found := _beside(capture, None, name)) is not None)
    if not both:
        return first
    said = replace(GUESSED_DRIVE, text=GUESSED_DRIVE.text.format(*names))
    more = (_beside(capture, None, channel.name) for channel in further_outputs(capture, *names[:2]) if len(names) > 1)
    both += tuple(found for found in more if found is not None)
    return replace(first, outputs=both, caveats=(*first.caveats, said))


def _beside(capture: Capture, drive: str | None, output: str) -> BenchResult | None:
    """A further output on its own; None where it holds no edge that can be fitted."""
    try:
        found = _measured(capture, drive, output, alone=True)
    except NotEnoughDataError:
        return None
    return replace(found, traces=())


def _measured(capture: Capture, drive: str | None, output: str | None, alone: bool = False) -> BenchResult:
    if alone and drive is None and output is not None:
        capture = replace(capture, channels=(capture.channel(output),))
    source, answer, names, edges, caveats = _columns(capture, drive, output)
    unit = capture.channel(names[1]).unit
    kind, transition, swing = "none", None, None
    if source is not None and names[0] is not None:
        if is_sweep(source, edges):
            return _sweep(capture, (source, answer), edges, (names[0], names[1]), caveats)
        refuse_wave(names[0], source, edges)
        kind, remarks = judge_drive(capture.channel(names[0]), source, edges)
        caveats += remarks
        transition, swing = read_drive(edges, source, capture.channel(names[0]).unit)
    look, remarks = _look(source, answer, edges, names[1])
    caveats += remarks
    fits = [fit for found in look.directions for fit in found.fits]
    if not fits:
        raise _nothing(answer)
    rising, falling = (_reported(found, look) for found in (look.rising, look.falling))
    reach = output_swing(fits, unit, answer)
    saturated = any(fit.saturated for fit in fits)
    per_drive = edge_sensitivity(reach, swing, saturated, f"{unit}/{swing.unit or '1'}" if swing else unit)
    result = BenchResult(
        capture=capture,
        drive_name=names[0],
        output_name=names[1],
        drive_transition=transition,
        drive_swing=swing,
        drive_kind=kind,
        rising=rising,
        falling=falling,
        asymmetry=asymmetry(rising, falling, (look.rising, look.falling)),
        update_interval=look.stairs.interval,
        noise=output_noise(answer, fits, unit),
        swing=reach,
        caveats=caveats,
        traces=_traces(names[1], look, answer, source),
        extra=MappingProxyType({"sensitivity": per_drive} if source is not None else {}),
    )
    result = kept_positive(result)
    return replace(result, explanation=explain_board(result)) if source is not None else result


def _columns(
    capture: Capture, drive: str | None, output: str | None
) -> tuple[Trace1D | None, Trace1D, tuple[str | None, str], tuple[Edge, ...], tuple[Caveat, ...]]:
    """The drive if there is one, the output, their names, the edges to be measured, and what is to be said of them."""
    source, answer, names, caveats = choose_channels(capture, drive, output)
    caveats += (*sampling_caveats(capture), *_spikes(answer))
    edges = find_edges(source if source is not None else answer)
    if source is None or drive is not None or not _returns(source, edges, answer):
        return source, answer, names, edges, caveats
    edges = find_edges(answer)
    refuse_wave(names[1], answer, edges)
    return None, answer, (None, names[1]), edges, (*caveats, DRIVE_RETURNS)


def _reported(found: DirectionFits | None, look: Look) -> BenchDirection | None:
    """The response of one direction, the time that the sensor holds its values counted in the whole delay."""
    if found is None:
        return None
    direction = with_lateness(report_direction(found), None if look.held else lateness_of(look.rising, look.falling))
    if look.may_hold:
        return limited_by_hold(direction)
    if not look.held:
        return direction
    direction = held_direction(direction, found.fits[0].window.interval_s)
    return replace(direction, mean_delay=with_hold(direction.mean_delay, look.stairs.interval, look.conversion_s))


def _traces(name: str, look: Look, answer: Trace1D, source: Trace1D | None) -> tuple[Trace, ...]:
    edges = [edge_trace(name, found, answer, source) for found in look.directions]
    steps = stairs_trace(name, answer, look.stairs)
    return (*edges, steps) if steps is not None else tuple(edges)


def _sweep(
    capture: Capture,
    pair: tuple[Trace1D, Trace1D],
    edges: tuple[Edge, ...],
    names: tuple[str, str],
    caveats: tuple[Caveat, ...],
) -> BenchResult:
    """The result of a slow sweep: a transfer curve, no response."""
    units = capture.channel(names[0]).unit, capture.channel(names[1]).unit
    curve = measure_transfer(*pair, edges, units, names[1])
    transition, swing = read_drive(edges, pair[0], units[0])
    return BenchResult(
        capture=capture,
        drive_name=names[0],
        output_name=names[1],
        drive_transition=transition,
        drive_swing=swing,
        drive_kind="sweep",
        rising=None,
        falling=None,
        asymmetry=Estimate.not_resolved("asymmetry", unit="ratio"),
        update_interval=Estimate.not_resolved("update_interval", unit="s"),
        noise=curve.estimates["noise"],
        swing=curve.swing,
        caveats=(*caveats, SWEEP),
        traces=(curve.trace,),
        extra=MappingProxyType({key: value for key, value in curve.estimates.items() if key != "noise"}),
    )


def _returns(source: Trace1D, edges: tuple[Edge, ...], answer: Trace1D) -> bool:
    """Whether a drive jumps and falls back by itself, to a level on one side or between jumps either way."""
    if rests_midway(source.values):
        return True
    if len(edges) < max(2, 1.5 * len(find_edges(answer))):
        return False
    jumps, ways_back = (np.median([edge.at_most_s for edge in part]) for part in (edges[0::2], edges[1::2]))
    return float(max(jumps, ways_back) / min(jumps, ways_back)) > RETURN_RATIO


def _spikes(answer: Trace1D) -> tuple[Caveat, ...]:
    if not answer.n_spikes:
        return ()
    text = f"{counted(answer.n_spikes, 'lone sample')} of the output lay far off and gave way to neighbours."
    return (Caveat(code="spikes", text=text, advice="Look for a loose contact, or readings taken while a motor runs."),)


def _nothing(answer: Trace1D) -> NotEnoughDataError:
    return NotEnoughDataError(
        "A capture needs at least one edge that the output answers.",
        {"output range": f"{float(np.ptp(answer.values)):.4g}", "noise rms": f"{answer.noise:.4g}"},
        "Check the output's probe, or name the columns with --drive and --output.",
    )


def _look(
    source: Trace1D | None, answer: Trace1D, edges: tuple[Edge, ...], name: str
) -> tuple[Look, tuple[Caveat, ...]]:
    """The edges behind the drive; as steps where there is none, or where it explains them far worse."""
    if source is None:
        return look_at_edges(undriven_windows(answer, edges), answer), ()
    smooth = denoised(source, edges)
    look = look_at_edges(driven_windows(smooth, answer, edges, source.noise), answer)
    if look.misfit <= REFUSED_MISFIT:
        return look, ()
    steps = find_edges(answer)
    plain = look_at_edges(undriven_windows(answer, steps), answer)
    if not plain.directions or plain.misfit >= UNDRIVEN_MISFIT * look.misfit:
        return look, ()
    refuse_wave(name, answer, steps)
    return plain, (DRIVE_UNFIT,)
