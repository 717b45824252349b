"""The text of `feelcheck rehearse`: what was played, what was told apart, and what that does and does not prove."""

from __future__ import annotations

from feelcheck.counted import counted
from feelcheck.model import Estimate, LiveStick, PlayedStage, RehearsalResult
from feelcheck.model.quantities import listed, words_of
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table

__all__ = [
    "KIND_WORDS",
    "MODE_WORDS",
    "answers_sentence",
    "chance_words",
    "estimate_words",
    "rehearsal_lines",
    "rehearsal_text",
    "with_interval",
]

KIND_WORDS = {
    "free": "free feel",
    "trials": "blind trials",
    "staircase": "own threshold",
    "aiming": "aiming",
}
MODE_WORDS = {
    "as_it_is": "the stick as it is",
    "exact": "stick and added stage together are the target",
    "equal_delay": "together they have the target's mean delay",
}
ON_LAST_PAGE = (
    "proportion_correct", "threshold", "throughput", "throughput_a", "throughput_b", "error_rate_a", "error_rate_b",
)  # fmt: skip


def rehearsal_text(result: RehearsalResult) -> str:
    """Return the result in words and tables, cautions last.

    Parameters
    ----------
    result : RehearsalResult
        The result.
    """
    remarks = Remarks()
    parts = [
        _head(result),
        _stages(result, remarks),
        answers_sentence(result),
        _estimates(result, remarks),
        _latencies(result),
        _sealed(result),
    ]
    remarks.marks(result.caveats)
    parts.append(remarks.section())
    parts.append("Cautions\n" + "\n".join(f"  {caution}" for caution in result.cautions))
    return "\n\n".join(part for part in parts if part)


def rehearsal_lines(result: RehearsalResult) -> list[str]:
    """Return what the window's last page says: the answer, the figures, own delays.

    Parameters
    ----------
    result : RehearsalResult
        The result.
    """
    told = [line for line in answers_sentence(result).splitlines() if line]
    for name, estimate in result.estimates.items():
        if name in ON_LAST_PAGE:
            told.append(f"{estimate_words(name).capitalize()}: {with_interval(estimate, result.intervals.get(name))}.")
    if result.trials and result.kind == "trials":
        slower, answers = ("".join(_digit(w) for w in which) for which in _both(result))
        told.append(f"Order, opened: {slower}. Your answers: {answers}.")
    if result.latency:
        delays = [format_brief(result.latency[name], interval=False) for name in ("report_to_state", "state_to_frame")]
        told.append(
            f"Own delay: {delays[0]} from report to state, {delays[1]} from state to frame; "
            f"{result.late_frames} of {counted(result.n_frames, 'frame')} came late."
        )
    return told


def stick_words(stick: LiveStick) -> str:
    """Return what the stick in hand adds by itself, as one line.

    Parameters
    ----------
    stick : LiveStick
        The stick in hand.
    """
    own = stick.response.x
    ways = f"code rising {format_brief(own.rising)}, falling {format_brief(own.falling)}"
    return f"stick in hand: {ways} ({stick.known_from})"


def _head(result: RehearsalResult) -> str:
    played = " against ".join(result.specimens)
    lines = [f"Rehearsal: {KIND_WORDS[result.kind]}, {played}", f"  {stick_words(result.stick)}"]
    if result.question:
        lines.append(f"  asked: {result.question}")
    return "\n".join(lines)


def _stages(result: RehearsalResult, remarks: Remarks) -> str:
    rows = [_stage(stage, remarks) for stage in result.stages]
    header = ("played", "added, code rising", "added, code falling", "how", "remark")
    return f"Added in software\n{text_table(header, rows)}"


def _stage(stage: PlayedStage, remarks: Remarks) -> tuple[str, ...]:
    nothing = stage.mode == "as_it_is"
    sides = ("none", "none") if nothing else (format_brief(stage.added_rising), format_brief(stage.added_falling))
    return stage.label, *sides, MODE_WORDS[stage.mode], remarks.marks(stage.caveats)


def answers_sentence(result: RehearsalResult) -> str:
    """Return what the answers prove and what they do not, in a sentence or two; empty where nothing was asked.

    Parameters
    ----------
    result : RehearsalResult
        What the command gives.
    """
    if result.kind == "trials":
        right = f"{result.n_correct} of {result.n} correct"
        if result.p_value is None:
            return f"{right}; the number planned was not reached."
        least = result.plan.get("least_correct")
        if least is not None and (result.n_correct or 0) >= least:
            proof = "You can tell these two apart; how much it matters in play is not said by that."
        else:
            proof = "That does not prove that you tell them apart, and does not prove that you cannot."
        return f"{right}: guessing does so in {chance_words(result.p_value)} of blocks.\n{proof}"
    if result.kind == "staircase":
        return f"{result.n_correct} of {result.n} correct over all delays, which were chosen so that some are hard."
    return f"{counted(result.n or 0, 'movement')}." if result.kind == "aiming" else ""


def chance_words(chance: float) -> str:
    """Return a probability by guessing in words.

    Parameters
    ----------
    chance : float
        A probability.
    """
    return f"{100 * chance:.1f} %" if chance >= 0.001 else "less than 0.1 %"


def _estimates(result: RehearsalResult, remarks: Remarks) -> str:
    rows = [
        (estimate_words(name), with_interval(estimate, result.intervals.get(name)), remarks.of(estimate))
        for name, estimate in result.estimates.items()
    ]
    return f"Result, 95 % intervals in brackets\n{text_table(('', 'value', 'remark'), rows)}" if rows else ""


def with_interval(estimate: Estimate, interval: tuple[float, float] | None) -> str:
    """Return an estimate in brief, with its exact interval where there is one.

    Parameters
    ----------
    estimate : Estimate
        The estimate.
    interval : (float, float) or None
        Both ends of an exact interval; None where there is none.
    """
    if interval is None or estimate.value is None:
        return format_brief(estimate)
    factor, unit, decimals = (100.0, " %", 0) if estimate.unit == "fraction" else (1.0, "", 2)
    low, high = (f"{factor * end:.{decimals}f}" for end in interval)
    return f"{factor * estimate.value:.{decimals}f}{unit} ({low} to {high})"


def estimate_words(name: str) -> str:
    """Return a quantity in words, with the letter of the response where there are two.

    Parameters
    ----------
    name : str
        Name of the quantity.
    """
    stem, _, letter = name.rpartition("_")
    if letter in ("a", "b") and stem in (quantity.name for quantity in listed("rehearsal")):
        return f"{letter.upper()}: {words_of(stem, 'rehearsal')}"
    return words_of(name, "rehearsal")


def _latencies(result: RehearsalResult) -> str:
    if not result.latency:
        return ""
    words = {"report_to_state": "report to played state", "state_to_frame": "played state to frame"}
    rows = [(words.get(name, name.replace("_", " ")), format_brief(e)) for name, e in result.latency.items()]
    late = f"  {result.late_frames} of {counted(result.n_frames, 'frame')} came late"
    return f"Own delay, measured meanwhile\n{text_table(('', 'median'), rows)}\n{late}"


def _sealed(result: RehearsalResult) -> str:
    if not result.seal:
        return ""
    answered, answers = ("".join(_digit(which) for which in side) for side in _both(result))
    lines = [
        "Order, opened",
        f"  slower one came   {answered}",
        f"  answers           {answers}",
        f"  fingerprint       {result.seal}",
        f"  salt              {result.salt}, seed {result.seed}",
    ]
    return "\n".join(lines)


def _both(result: RehearsalResult) -> tuple[list[str], list[str]]:
    return [trial.slower for trial in result.trials], [trial.answer for trial in result.trials]


def _digit(which: str) -> str:
    return {"first": "1", "second": "2"}.get(which, "-")
