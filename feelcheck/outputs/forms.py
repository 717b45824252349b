"""The forms of output that the tool makes, and the mark that each carries."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "BENCH_FIGURE",
    "CARD",
    "COMPARISON_FIGURE",
    "DEMO_FILES",
    "FEEL_FIGURE",
    "HAND_FIGURE",
    "PAGE_TABLE",
    "REPEATABILITY_FIGURE",
    "REPORT_PAGE",
    "SURVEY_PAGE",
    "SURVEY_TABLE",
    "WIDE_TABLE",
    "Form",
]


@dataclass(frozen=True, slots=True)
class Form:
    """A kind of output.

    Parameters
    ----------
    name : str
        What a person calls it, in lower-case letters and blanks.
    suffixes : tuple of str
        The endings it is written under.
    in_parts : bool
        Whether a folder that holds nothing but files of this form may stand for one.
    first_column : str
        Name of the first column of a CSV, which cannot carry the mark; only a file that begins so is ever replaced.

    Examples
    --------
    >>> Form("hand figure", (".png", ".svg")).mark
    'Made by feelcheck: hand figure.'
    """

    name: str
    suffixes: tuple[str, ...]
    in_parts: bool = False
    first_column: str = ""

    @property
    def mark(self) -> str:
        """The words inside a file by which an older output of this form is known again."""
        return f"Made by feelcheck: {self.name}."


_FIGURE = (".png", ".svg")
HAND_FIGURE = Form("hand figure", _FIGURE)
BENCH_FIGURE = Form("bench figure", _FIGURE)
COMPARISON_FIGURE = Form("comparison figure", _FIGURE)
REPEATABILITY_FIGURE = Form("repeatability figure", _FIGURE)
FEEL_FIGURE = Form("feel figure", _FIGURE)
CARD = Form("card", _FIGURE)
REPORT_PAGE = Form("report page", (".html", ".htm"))
WIDE_TABLE = Form("wide table", (".csv", ".parquet", ".xlsx"), first_column="t_s")
PAGE_TABLE = Form("table of a page", (".csv",))
SURVEY_TABLE = Form("survey table", (".csv", ".parquet"), in_parts=True, first_column="path")
SURVEY_PAGE = Form("survey page", (".html",))
DEMO_FILES = {
    "birch_hand.svg": HAND_FIGURE,
    "birch_bench.svg": BENCH_FIGURE,
    "comparison.svg": COMPARISON_FIGURE,
    "at_a_glance.csv": PAGE_TABLE,
    "comparison.csv": PAGE_TABLE,
    "in_use.csv": PAGE_TABLE,
    "report.html": REPORT_PAGE,
}
