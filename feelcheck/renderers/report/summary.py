"""The page's summary: plain sentences, each made from estimates and changing with their status, sign and interval."""

from __future__ import annotations

from collections.abc import Sequence

from feelcheck.model import (
    BenchResult,
    ChainLink,
    Estimate,
    FeelResult,
    HandResult,
    MetricComparison,
    Report,
    Status,
)
from feelcheck.numerics.uncertainty import coverage_interval, scaled_estimate
from feelcheck.renderers._format import format_brief, format_difference, name_of, shown

__all__ = [
    "asymmetry_sentence",
    "bench_sentences",
    "both_ways",
    "carry_sentence",
    "chain_sentence",
    "comparison_sentence",
    "comparison_sentences",
    "delay_sentence",
    "direction_sentence",
    "hand_sentences",
    "summary_sentences",
    "summary_topics",
    "trailing_sentence",
    "use_sentence",
]


def summary_topics(report: Report) -> list[tuple[str, list[str]]]:
    """Return the sentences by topic; a topic without sentences is left out, and a page without any says so."""
    compared = report.comparison
    rows = () if compared is None else compared.metrics
    topics = (
        ("On the bench", [sentence for result in report.bench for sentence in bench_sentences(result)]),
        ("In the hand", [sentence for result in report.hand for sentence in hand_sentences(result)]),
        ("Against each other", [] if compared is None else comparison_sentences(rows, compared.baseline)),
        ("Along the chain", [chain_sentence(link) for link in report.links]),
        ("In use", [sentence for result in report.feel for sentence in _use_sentences(result)]),
    )
    found = [(topic, list(dict.fromkeys(sentences))) for topic, sentences in topics if sentences]
    return found or [("", ["Nothing has been measured yet."])]


def summary_sentences(report: Report) -> list[str]:
    """Return all sentences of the summary in the page's order."""
    return [sentence for _, sentences in summary_topics(report) for sentence in sentences]


def delay_sentence(where: str, estimate: Estimate) -> str:
    """Return what is known of a smoothing delay.

    Examples
    --------
    >>> delay_sentence("birch, left_x, code rising", Estimate.at_most("smoothing_delay", 0.001, unit="s"))
    'birch, left_x, code rising: any smoothing is shorter than 1.00 ms.'
    """
    bound = format_brief(estimate).removeprefix("at most ").removeprefix("at least ")
    return {
        Status.OK: f"{where}: the output trails by {format_brief(estimate)}.",
        Status.AT_MOST: f"{where}: any smoothing is shorter than {bound}.",
        Status.AT_LEAST: f"{where}: smoothing is longer than {bound}; how much longer was not seen.",
        Status.NOT_RESOLVED: f"{where}: the data does not tell how much it smooths.",
        Status.NOT_PRESENT: f"{where}: no smoothing was seen.",
    }[estimate.status]


def asymmetry_sentence(where: str, ratio: Estimate) -> str:
    """Return whether an output falls as it rises; empty where that is not known.

    Parameters
    ----------
    where : str
        Specimen and axis.
    ratio : Estimate, ratio
        Falling over rising.
    """
    low, high = coverage_interval(ratio)
    if not ratio.is_ok or low is None or high is None:
        return ""
    if low > 1:
        return f"{where}: it falls more slowly than it rises, {format_brief(ratio)} times."
    if high < 1:
        return f"{where}: it rises more slowly than it falls; falling takes {format_brief(ratio)} times as long."
    return f"{where}: no difference between rising and falling was told; their ratio is {format_brief(ratio)}."


def hand_sentences(result: HandResult) -> list[str]:
    """Return sentences on one recording: delay of each axis and direction, asymmetry, step."""
    provenance = result.recording.provenance
    name = name_of(provenance, "the recording")
    sentences = []
    silent: list[str] = []
    told: list[Estimate | None] = []
    for axis in result.axes.values():
        where = f"{name}, {axis.name} in the hand"
        delays = (axis.rising.smoothing_delay, axis.falling.smoothing_delay)
        if all(delay.status is Status.NOT_RESOLVED for delay in delays):
            silent.append(axis.name)
            continue
        sentences += both_ways(where, "with the code ", *delays)
        sentences.append(asymmetry_sentence(where, axis.asymmetry))
        error = axis.extra.get("rim_direction_error")
        if error not in told:
            sentences.append(direction_sentence(where, error))
            told.append(error)
    if silent:
        sentences.append(f"{name}: no flick tells how much {', '.join(silent)} smooth{'s' * (len(silent) == 1)}.")
    return [sentence for sentence in sentences if sentence]


def both_ways(where: str, what: str, rising: Estimate, falling: Estimate) -> list[str]:
    """Return one sentence on both directions where both have a value, else one each."""
    if rising.is_ok and falling.is_ok:
        sizes = f"{format_brief(rising)} {what}rising and by {format_brief(falling)} {what}falling"
        return [f"{where}: the output trails by {sizes}."]
    return [delay_sentence(f"{where}, {what}{word}", e) for word, e in (("rising", rising), ("falling", falling))]


def direction_sentence(where: str, error: Estimate | None) -> str:
    """Return how far directions are off round the rim; empty where the rim was not rolled.

    Examples
    --------
    >>> direction_sentence("birch, left_x", Estimate.at_most("rim_direction_error", 0.4, unit="deg"))
    'birch, left_x: directions round the rim are off by at most 0.400 deg.'
    """
    if error is None or error.status is Status.NOT_RESOLVED:
        return ""
    if error.status is Status.NOT_PRESENT:
        return f"{where}: no error of direction was seen round the rim."
    if not error.is_ok:
        return f"{where}: directions round the rim are off by {format_brief(error)}."
    return f"{where}: directions round the rim are off by up to {format_brief(error)}; look how the sensor is seated."


def bench_sentences(result: BenchResult) -> list[str]:
    """Return sentences on one capture: delay of each direction, asymmetry, internal steps."""
    provenance = result.capture.provenance
    where = f"{name_of(provenance, 'the capture')}, {result.output_name} on the bench"
    if result.rising is not None and result.falling is not None:
        sentences = both_ways(where, "", result.rising.smoothing_delay, result.falling.smoothing_delay)
    else:
        sides = (("rising", result.rising), ("falling", result.falling))
        sentences = [delay_sentence(f"{where}, {word}", s.smoothing_delay) for word, s in sides if s is not None]
    sentences.append(asymmetry_sentence(where, result.asymmetry))
    if result.update_interval.is_ok:
        sentences.append(f"{where}: the sensor holds its output for {format_brief(result.update_interval)} at a time.")
    return [sentence for sentence in sentences if sentence]


def comparison_sentence(row: MetricComparison, baseline: str) -> str:
    """Return the verdict on one metric, with the sign and the interval of the difference."""
    what = " ".join(filter(None, (row.name.replace("_", " "), "of", row.axis, row.direction)))
    margin = shown(Estimate.measured("margin", row.margin, u=0.0, unit=row.difference.unit), in_words=True)
    limit = f"{margin.value:.3g} {margin.unit}".strip()
    opening = f"{row.candidate_name} against {baseline}, {what}"
    if row.verdict == "equivalent":
        seen = "a difference was detected but it lies" if row.detected else "any difference lies"
        size = format_difference(row.difference, row.margin)
        return f"{opening}: {seen} inside the margin of {limit} (difference {size})."
    if row.verdict == "undecided":
        return f"{opening}: undecided against a margin of {limit}; the difference is {format_brief(row.difference)}."
    return f"{opening}: different, {_way(row.difference)}; the margin is {limit}."


def _way(difference: Estimate) -> str:
    low, high = coverage_interval(difference)
    if high is not None and high < 0:
        size = scaled_estimate(difference, -1.0, quantity=difference.quantity, unit=difference.unit)
        return f"lower by {format_brief(size)}"
    return f"{'higher' if low is not None and low > 0 else 'shifted'} by {format_brief(difference)}"


def comparison_sentences(rows: Sequence[MetricComparison], baseline: str) -> list[str]:
    """Return a sentence for every difference and every delay, and one a specimen for what else was looked at."""
    found = []
    for candidate in dict.fromkeys(row.candidate_name for row in rows):
        own = [row for row in rows if row.candidate_name == candidate]
        told = [row for row in own if row.verdict == "different" or "delay" in row.name]
        found += [comparison_sentence(row, baseline) for row in told]
        for verdict, words in (("equivalent", "inside the margin"), ("undecided", "undecided")):
            others = dict.fromkeys(
                " ".join(filter(None, (row.name.replace("_", " "), "of", row.axis, row.direction)))
                for row in own
                if row.verdict == verdict and row not in told
            )
            if others:
                found.append(f"{candidate} against {baseline}, {words}: {', '.join(others)}.")
    return found


def chain_sentence(link: ChainLink) -> str:
    """Return whether two links of the chain agree, and where to look if not."""
    before, after = link.link.split("-")
    where = f"{link.specimen}, {link.axis} {link.direction}: {before} to {after}"
    values = f"predicted {format_brief(link.predicted)}, measured {format_brief(link.measured)}"
    if link.verdict == "agree":
        return f"{where} agree within the margin ({values})."
    if link.verdict == "cannot_tell":
        return f"{where} cannot be told ({values})."
    hint = f" Look at: {'; '.join(link.look_at)}." if link.look_at else ""
    return f"{where} disagree ({values}).{hint}"


def use_sentence(where: str, drift: Estimate) -> str:
    """Return where a pair of opposite flicks leaves the view; empty where the drift is not known.

    Parameters
    ----------
    where : str
        Specimen and axis.
    drift : Estimate, deg
        Signed drift of a right flick and a left one together.
    """
    low, high = coverage_interval(drift)
    if not drift.is_ok or low is None or high is None:
        return ""
    if low <= 0 <= high:
        return f"{where}: whether a pair of opposite flicks drifts was not told ({format_brief(drift)})."
    side = "the side where the code rises" if low > 0 else "the side where the code falls"
    size = drift if low > 0 else scaled_estimate(drift, -1.0, quantity=drift.quantity, unit=drift.unit)
    return f"{where}: a pair of opposite flicks drifts towards {side}, by {format_brief(size)}."


def carry_sentence(where: str, carry: Estimate | None, picture: Estimate | None = None) -> str:
    """Return how far the view turns on after letting go, and what that is of the picture; empty if unknown."""
    if carry is None or carry.status in (Status.NOT_RESOLVED, Status.NOT_PRESENT):
        return ""
    known = picture is not None and (picture.is_ok or picture.status is carry.status)
    share = f", {format_brief(picture)} of the picture's width" if known and picture is not None else ""
    return f"{where}: after letting go the view turns on by {format_brief(carry)}{share}."


def trailing_sentence(where: str, rising: Estimate | None, falling: Estimate | None) -> str:
    """Return how far the output trails the thumb in a flick, the worse way of the two; empty if unknown."""
    known = [e for e in (rising, falling) if e is not None and (e.is_ok or e.bound is not None)]
    if not known:
        return ""
    worst = max(known, key=lambda e: e.value if e.value is not None else e.bound or 0.0)
    way = "falling" if worst is falling else "rising"
    return f"{where}: in a flick the output trails the thumb by {format_brief(worst)} of full throw (code {way})."


def _use_sentences(result: FeelResult) -> list[str]:
    found = []
    for axis in result.axes:
        where, known = f"{result.specimen}, {axis.axis}", axis.estimates.get
        found.append(trailing_sentence(where, known("trailing_rising"), known("trailing_falling")))
        where = f"{where} at {result.play.turn_rate_deg_s:g} deg/s"
        found.append(carry_sentence(where, known("carry_on_after_release"), known("carry_on_of_picture")))
        drift = known("drift_per_pair")
        if drift is not None:
            found.append(use_sentence(where, drift))
    return [sentence for sentence in found if sentence]
