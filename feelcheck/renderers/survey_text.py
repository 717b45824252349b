"""The text and JSON of `feelcheck survey` (schema feelcheck.survey/1)."""

from __future__ import annotations

from typing import Any

from feelcheck.model import PopulationQuantity, SurveyResult
from feelcheck.renderers._json import dump, encoded
from feelcheck.renderers._table import text_table
from feelcheck.renderers.survey_words import (
    counts_sentence,
    left_out_words,
    limits_words,
    number_words,
    pair_words,
    quantity_words,
    unfinished_rows,
    unmeasured_rows,
)

__all__ = ["SURVEY_SCHEMA", "survey_document", "survey_json", "survey_text"]

SURVEY_SCHEMA = "feelcheck.survey/1"
MOST_LINES = 12
HEADER = ("", "sticks", "median", "most lie where", "outliers")
TOLD = ("smoothing_delay", "transition_10_90", "rest_noise", "noise", "update_interval")


def survey_text(result: SurveyResult) -> str:
    """Return what was found and what the population is like, in words and tables.

    Parameters
    ----------
    result : SurveyResult
        The survey.
    """
    population = result.population
    told = [of for of in population.quantities if of.quantity in TOLD]
    pairs = [(pair.first, pair.second, pair_words(pair)) for pair in population.pairs[:MOST_LINES]]
    parts = [
        f"{counts_sentence(result)}\n{left_out_words(population)}".strip(),
        _listed("Population, one value a stick (95 % confidence)", HEADER,
                [_row(of) for of in told]),
        _listed("Pairs that match best, by smoothing delay", ("", "with", "largest difference"), pairs),
        _listed("Broken off", ("path", "specimen"), unfinished_rows(result)[:MOST_LINES]),
        _listed("Not measured", ("path", "kind", "reason"), unmeasured_rows(result)[:MOST_LINES]),
        f"Table: {result.table}\nPage:  {result.page}",
    ]  # fmt: skip
    return "\n\n".join(part for part in parts if part)


def _listed(title: str, header: tuple[str, ...], rows: list[Any]) -> str:
    return f"{title}\n{text_table(header, rows)}" if rows else ""


def _row(of: PopulationQuantity) -> tuple[str, ...]:
    limits = next((limits for limits in of.below if limits.share == 0.9), None)
    where = limits_words(limits, of.unit) if limits else "too few to say"
    outliers = ", ".join(outlier.name for outlier in of.outliers[:3])
    more = f" and {len(of.outliers) - 3} more" if len(of.outliers) > 3 else ""
    return quantity_words(of), str(len(of.sticks)), number_words(of.median, of.unit), where, outliers + more


def survey_json(result: SurveyResult) -> str:
    """Return the survey as one JSON document.

    Parameters
    ----------
    result : SurveyResult
        The survey.
    """
    return dump(survey_document(result))


def survey_document(result: SurveyResult) -> dict[str, Any]:
    """Return the JSON object of a survey; the rows themselves are in the table.

    Parameters
    ----------
    result : SurveyResult
        What the command gives.
    """
    population = result.population
    return {
        "schema": SURVEY_SCHEMA,
        "table": result.table,
        "page": result.page,
        "n_files": len({row["path"] for row in result.rows}),
        "n_rows": len(result.rows),
        "n_measured": result.n_measured,
        "n_unchanged": result.n_unchanged,
        "n_left": result.n_left,
        "n_other_files": result.others,
        "simulated": population.simulated,
        "simulated_left_out": population.left_out,
        "copies_left_out": population.copies,
        "population": encoded(population.quantities),
        "pairs": encoded(population.pairs),
        "unfinished": [path for path, _ in unfinished_rows(result)],
        "not_measured": [{"path": p, "kind": k, "reason": r} for p, k, r in unmeasured_rows(result)],
        "provenance": dict(result.facts),
    }
