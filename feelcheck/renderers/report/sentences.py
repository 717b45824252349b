"""Plain sentences, each made from estimates and changing with their status, sign and interval."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feelcheck.counted import counted
from feelcheck.model import ChainLink, Estimate, MetricComparison, Status
from feelcheck.model.quantities import words_of
from feelcheck.numerics.uncertainty import coverage_interval, scaled_estimate
from feelcheck.renderers._format import format_bound, format_brief, format_difference, format_plain

__all__ = [
    "asymmetry_sentence",
    "besides_sentence",
    "carry_sentence",
    "chain_sentence",
    "chain_sentences",
    "delay_sentence",
    "difference_sentence",
    "direction_sentence",
    "drift_sentence",
    "size_of",
    "trailing_sentence",
]

MOST_UNDECIDED = 2


def size_of(estimate: Estimate) -> float:
    """Return how large an estimate is, or how large it may be: value, else bound, without its sign; 0 if unknown.

    Parameters
    ----------
    estimate : Estimate
        The estimate.
    """
    size = estimate.value if estimate.value is not None else estimate.bound
    return abs(size or 0.0)


def delay_sentence(where: str, estimate: Estimate) -> str:
    """Return what is known of a smoothing delay.

    Parameters
    ----------
    where : str
        What the sentence begins with: the place.
    estimate : Estimate
        The estimate.

    Examples
    --------
    >>> delay_sentence("birch, left_x, code rising", Estimate.at_most("smoothing_delay", 0.001, unit="s"))
    'birch, left_x, code rising: any smoothing is shorter than 1.00 ms.'
    >>> delay_sentence("elm, left_y, code rising", Estimate.measured("smoothing_delay", 0.002, u=0.002, unit="s"))
    'elm, left_y, code rising: any smoothing is shorter than 5.92 ms; none at all fits as well.'
    """
    low, high = coverage_interval(estimate)
    if estimate.is_ok and low is not None and high is not None and low <= 0 < high:
        most = format_bound(Estimate.at_most(estimate.quantity, high, unit=estimate.unit))
        return f"{where}: any smoothing is shorter than {most}; none at all fits as well."
    bound = format_bound(estimate)
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


def direction_sentence(where: str, error: Estimate | None) -> str:
    """Return how far directions are off round the rim; empty where the rim was not rolled.

    Parameters
    ----------
    where : str
        What the sentence begins with: the place.
    error : Estimate or None
        The direction error.

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


# --- one specimen against another -------------------------------------------------------------------------------------


def difference_sentence(rows: Sequence[MetricComparison], baseline: str) -> str:
    """Return the verdicts on one metric over all axes and directions: the least and the greatest difference each way.

    Parameters
    ----------
    rows : sequence of MetricComparison
        One metric of one candidate; empty gives an empty sentence.
    baseline : str
        What it was held against.
    """
    if not rows:
        return ""
    said = [_different(way, [row for row in rows if _way(row) == way]) for way in ("higher", "lower", "shifted")]
    said += [_inside([row for row in rows if row.verdict == "equivalent"]), _undecided(rows)]
    margins = dict.fromkeys(format_plain(row.margin, row.difference.unit) for row in rows)
    margin = f"margin {', '.join(margins)}" if len(margins) < 3 else "each against its own margin"
    name = words_of(rows[0].name, "compare", "bench")
    return f"Against {baseline}, {name} ({margin}): {'; '.join(filter(None, said))}."


def besides_sentence(rows: Sequence[MetricComparison]) -> str:
    """Return what else differs, each metric by its largest difference, and how much else was looked at.

    Parameters
    ----------
    rows : sequence of MetricComparison
        Compared metrics.
    """
    told = [row for row in rows if row.verdict == "different"]
    largest = [
        max((row for row in told if row.name == name), key=lambda row: size_of(row.difference))
        for name in dict.fromkeys(row.name for row in told)
    ]
    said = [f"{words_of(row.name, 'compare', 'bench')}, {_way(row)} by {_size(row)} ({_place(row)})" for row in largest]
    n_inside, n_open = (sum(row.verdict == verdict for row in rows) for verdict in ("equivalent", "undecided"))
    rest = [f"{n} {words}" for n, words in ((n_inside, "inside the margin"), (n_open, "undecided")) if n]
    opening = f"Also different: {'; '.join(said)}." if said else ""
    return " ".join(filter(None, [opening, f"Other figures: {', '.join(rest)}." if rest else ""]))


def _way(row: MetricComparison) -> str:
    """Which way a difference that was found points; empty for every other verdict."""
    if row.verdict != "different":
        return ""
    low, high = coverage_interval(row.difference)
    if high is not None and high < 0:
        return "lower"
    return "higher" if low is not None and low > 0 else "shifted"


def _size(row: MetricComparison) -> str:
    if _way(row) != "lower":
        return format_brief(row.difference)
    difference = row.difference
    return format_brief(scaled_estimate(difference, -1.0, quantity=difference.quantity, unit=difference.unit))


def _place(row: MetricComparison) -> str:
    return f"{row.axis} {row.direction}".strip() or "the whole"


def _different(way: str, rows: Sequence[MetricComparison]) -> str:
    if not rows:
        return ""
    ordered = sorted(rows, key=lambda row: size_of(row.difference))
    ends = [ordered[0]] if len(ordered) == 1 else [ordered[0], ordered[-1]]
    sizes = " up to ".join(f"{_size(row)} on {_place(row)}" for row in ends)
    return f"different, {way} by {sizes}" + (f" ({len(rows)} in all)" if len(rows) > 2 else "")


def _inside(rows: Sequence[MetricComparison]) -> str:
    if not rows:
        return ""
    widest = max(rows, key=lambda row: size_of(row.difference))
    seen = "a difference was detected but lies" if any(row.detected for row in rows) else "any difference lies"
    size = format_difference(widest.difference, widest.margin)
    return f"{seen} inside the margin on {', '.join(map(_place, rows))} (largest {size})"


def _undecided(rows: Sequence[MetricComparison]) -> str:
    found = [row for row in rows if row.verdict == "undecided"]
    said = [f"{_place(row)} (difference {format_brief(row.difference)})" for row in found[:MOST_UNDECIDED]]
    more = [f"{len(found) - MOST_UNDECIDED} more"] if len(found) > MOST_UNDECIDED else []
    return f"undecided on {', '.join([*said, *more])}" if found else ""


# --- along the chain --------------------------------------------------------------------------------------------------


def chain_sentence(link: ChainLink, *, hint: bool = True) -> str:
    """Return whether two links of the chain agree, and where to look if not (left out without `hint`).

    Parameters
    ----------
    link : ChainLink
        One link of the chain.
    hint : bool
        Whether to say where to look.
    """
    before, after = link.link.split("-")
    verdict = {"agree": "agree within the margin", "cannot_tell": "cannot be told"}.get(link.verdict, "disagree")
    said = f"{link.axis} {link.direction}: {before} to {after} {verdict} ({_both(link)})."
    return f"{said} {_hint(link)}".strip() if hint else said


def _hint(link: ChainLink) -> str:
    if link.verdict == "cannot_tell":
        return " ".join(dict.fromkeys(f"{caveat.text} {caveat.advice}" for caveat in link.predicted.caveats))
    return f"Look at: {'; '.join(link.look_at)}." if link.look_at and link.verdict == "disagree" else ""


def chain_sentences(links: Sequence[ChainLink]) -> list[str]:
    """Return how many predictions held, the one that is farthest off, and every one that did not or cannot be told.

    Parameters
    ----------
    links : sequence of ChainLink
        Links of the chain.
    """
    held = [link for link in links if link.verdict == "agree"]
    unlike = [link for link in links if link.verdict != "agree"]
    last = {_hint(link): link for link in unlike}
    others = [chain_sentence(link, hint=last[_hint(link)] is link) for link in unlike]
    if len(held) < 2:
        return [*map(chain_sentence, held), *others]
    farthest = max(held, key=lambda link: size_of(link.difference))
    margin = _widths(link.margin for link in held)
    agree = counted(len(links), "prediction agrees", "predictions agree")
    opening = f"{len(held)} of {agree} with what was measured (margin {margin})"
    before, after = farthest.link.split("-")
    where = f"{before} to {after}, {farthest.axis} {farthest.direction}"
    return [f"{opening}; farthest apart: {where} ({_both(farthest)}).", *others]


def _both(link: ChainLink) -> str:
    return f"predicted {format_brief(link.predicted)}, measured {format_brief(link.measured)}"


def _widths(margins_s: Iterable[float]) -> str:
    ordered = sorted(margins_s)
    least, most = f"{1e3 * ordered[0]:.3g}", f"{1e3 * ordered[-1]:.3g}"
    return f"{least} ms" if least == most else f"{least} to {most} ms"


# --- in use -----------------------------------------------------------------------------------------------------------


def drift_sentence(where: str, drift: Estimate | None) -> str:
    """Return where a pair of opposite flicks leaves the view; empty where the drift is not known.

    Parameters
    ----------
    where : str
        Specimen and axis.
    drift : Estimate, deg, or None
        Signed drift of a right flick and a left one together.
    """
    if drift is None:
        return ""
    low, high = coverage_interval(drift)
    if not drift.is_ok or low is None or high is None:
        return ""
    if low <= 0 <= high:
        return f"{where}: whether a pair of opposite flicks drifts was not told ({format_brief(drift)})."
    side = "the side where the code rises" if low > 0 else "the side where the code falls"
    size = drift if low > 0 else scaled_estimate(drift, -1.0, quantity=drift.quantity, unit=drift.unit)
    return f"{where}: a pair of opposite flicks drifts towards {side}, by {format_brief(size)}."


def carry_sentence(where: str, carry: Estimate | None, picture: Estimate | None = None) -> str:
    """Return how far the view turns on after letting go, and what that is of the picture; empty if unknown.

    Parameters
    ----------
    where : str
        What the sentence begins with: the place.
    carry : Estimate or None
        How far the view turns on, degrees.
    picture : Estimate or None
        The same as a share of the picture's width.
    """
    if carry is None or carry.status in (Status.NOT_RESOLVED, Status.NOT_PRESENT):
        return ""
    known = picture is not None and (picture.is_ok or picture.status is carry.status)
    share = f", {format_brief(picture)} of the picture's width" if known and picture is not None else ""
    return f"{where}: after letting go the view turns on by {format_brief(carry)}{share}."


def trailing_sentence(where: str, rising: Estimate | None, falling: Estimate | None) -> str:
    """Return how far the output trails the thumb in a flick, the worse way of the two; empty if unknown.

    Parameters
    ----------
    where : str
        What the sentence begins with: the place.
    rising : Estimate or None
        How far the output trails with the code rising.
    falling : Estimate or None
        How far the output trails with the code falling.
    """
    known = [e for e in (rising, falling) if e is not None and (e.is_ok or e.bound is not None)]
    if not known:
        return ""
    worst = max(known, key=size_of)
    way = "falling" if worst is falling else "rising"
    return f"{where}: in a flick the output trails the thumb by {format_brief(worst)} of full throw (code {way})."
