"""The self-contained page of a survey: distributions, control charts, outliers, pairs, what is unfinished."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from feelcheck.model import PopulationQuantity, SurveyResult
from feelcheck.renderers._panels import Picture
from feelcheck.renderers._style import DARK, LIGHT
from feelcheck.renderers.report.environment import page_environment, page_items
from feelcheck.renderers.report.tables import Cell, Table, plain_table
from feelcheck.renderers.survey_figures import chart_picture, population_picture
from feelcheck.renderers.survey_words import (
    SHAPES,
    counts_sentence,
    left_out_words,
    number_words,
    pair_words,
    quantity_words,
    unfinished_rows,
    unmeasured_rows,
)

__all__ = ["survey_page"]

DRAWN = ("smoothing_delay", "transition_10_90", "asymmetry", "rest_noise", "noise", "update_interval")
MOST_PICTURES, MOST_ROWS = 12, 200
SPREAD = "The spread is that of the sticks and of the measurements together; the last column tells the latter."
CONTROL = (
    "Limits are three standard deviations from the moving ranges: a stable process passes one by chance once in 370 "
    "recordings."
)
STANDS_OFF = "Shown is what lies more robust standard deviations from the median than the last column says."
PAIRED = "By the largest difference of smoothing delay over axes and directions; each stick once, closer than most."
FEW = "Eight recordings are needed for a control chart."
LEAD = "Every session, log and capture, one value a stick; limits hold with 95 % confidence."


def survey_page(result: SurveyResult, *, mark: str = "", voucher: str = "") -> str:
    """Return one self-contained page; nothing is fetched when it is opened.

    Parameters
    ----------
    result : SurveyResult
        What was found.
    mark, voucher : str
        The words by which the page is known again, and those by which it vouches for the table beside it.
    """
    return page_environment().get_template("population.html").render(
        title="feelcheck: the population", lead=LEAD, mark=mark, voucher=voucher, light=LIGHT, dark=DARK,
        sections=list(_sections(result)),
    )  # fmt: skip


def _sections(result: SurveyResult) -> Iterable[dict[str, Any]]:
    population = result.population
    drawn = [of for of in population.quantities if of.quantity in DRAWN and len(of.sticks) > 1][:MOST_PICTURES]
    charts = [picture for of in drawn if (picture := chart_picture(of)) is not None]
    alarm = next((of.false_alarm for of in population.quantities if of.false_alarm), 0.0)
    found = [counts_sentence(result), left_out_words(population)]
    yield _section("found", "What was found", [_counts(result)], found)
    spread: list[Picture | Table] = [*map(population_picture, drawn), _limits(population.quantities)]
    yield _section("distributions", "Distribution over the sticks", spread, [SPREAD])
    yield _section("charts", "Over time and by batch", [*charts, _batches(drawn)], [CONTROL if charts else FEW])
    rule = [STANDS_OFF, f"A clean normal population of that size shows one once in {1 / alarm:.0f}."] if alarm else []
    yield _section("outliers", "Sticks that stand off", [_outliers(population.quantities)], rule)
    yield _section("pairs", "Pairs that match best", [_pairs(result)], [PAIRED])
    yield _section("unfinished", "Unfinished and not measured", [_unfinished(result), _unmeasured(result)])


def _section(name: str, title: str, items: Sequence[Picture | Table], said: Sequence[str] = ()) -> dict[str, Any]:
    shown = page_items(name, items)
    sentences = [sentence for sentence in said if sentence] if shown or name == "found" else ["Nothing to show here."]
    return {"id": name, "title": title, "items": shown, "sentences": sentences}


def _counts(result: SurveyResult) -> Table:
    kinds: dict[tuple[str, str], set[str]] = {}
    for row in result.rows:
        kinds.setdefault((str(row["kind"]) or "not told", str(row["state"]).replace("_", " ")), set()).add(row["path"])
    rows = [(kind, state, _count(len(paths))) for (kind, state), paths in sorted(kinds.items())]
    return plain_table("Files by kind and state", ("kind", "state", "files"), rows)


def _count(n: int) -> Cell:
    return Cell(text=str(n), sort=float(n))


def _cell(value: float | None, unit: str) -> Cell:
    return Cell(text=number_words(value, unit), sort=value)


def _limits(quantities: Sequence[PopulationQuantity]) -> Table:
    header = ("quantity", "sticks", "only bounds", "median", "50 % lie below", "90 % lie below", "95 % lie below",
              "90 % lie between", "shape taken", "own uncertainty")  # fmt: skip
    return plain_table("Tolerance limits, 95 % confidence", header, [_limit_cells(of) for of in quantities])


def _limit_cells(of: PopulationQuantity) -> tuple[Cell | str, ...]:
    below = {limits.share: limits.high for limits in of.below}
    upper = [_cell(below.get(share), of.unit) if share in below else Cell(text="too few") for share in (0.5, 0.9, 0.95)]
    between = "too few"
    if of.between is not None:
        between = f"{number_words(of.between.low, of.unit)} to {number_words(of.between.high, of.unit)}"
    shapes = dict.fromkeys(SHAPES[limits.shape] for limits in of.below)
    n_bounds = sum(stick.value is None for stick in of.sticks)
    return (
        quantity_words(of), _count(len(of.sticks)), _count(n_bounds) if n_bounds else "", _cell(of.median, of.unit),
        *upper, between, ", ".join(shapes), _cell(of.measured_u, of.unit),
    )  # fmt: skip


def _batches(quantities: Sequence[PopulationQuantity]) -> Table:
    rows = [
        (quantity_words(of), mean.batch or "(no batch)", _count(mean.n), _cell(mean.mean, of.unit),
         "" if mean.low is None else f"{number_words(mean.low, of.unit)} to {number_words(mean.high, of.unit)}")
        for of in quantities for mean in of.batches
    ]  # fmt: skip
    return plain_table("Means by batch", ("quantity", "batch", "sticks", "mean", "95 % interval"), rows[:MOST_ROWS])


def _outliers(quantities: Sequence[PopulationQuantity]) -> Table:
    rows = [
        (outlier.name, quantity_words(of), _cell(outlier.value, of.unit), _cell(of.median, of.unit),
         Cell(text=f"{outlier.deviations:+.1f}", sort=outlier.deviations),
         Cell(text=f"{of.outlier_limit:.1f}", sort=of.outlier_limit))
        for of in quantities for outlier in of.outliers
    ]  # fmt: skip
    header = ("stick", "quantity", "value", "median", "robust standard deviations", "limit")
    return plain_table("Sticks that stand off", header, rows[:MOST_ROWS])


def _pairs(result: SurveyResult) -> Table:
    rows = [
        (pair.first, pair.second, Cell(text=pair_words(pair), sort=pair.difference)) for pair in result.population.pairs
    ]
    return plain_table("Pairs, the closest first", ("stick", "with", "largest difference"), rows)


def _unfinished(result: SurveyResult) -> Table:
    return plain_table("Sessions that were broken off", ("path", "specimen"), unfinished_rows(result)[:MOST_ROWS])


def _unmeasured(result: SurveyResult) -> Table:
    return plain_table("Not measured, and why", ("path", "kind", "reason"), unmeasured_rows(result)[:MOST_ROWS])
