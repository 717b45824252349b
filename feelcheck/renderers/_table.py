"""Plain text: paragraphs of one width, and tables without lines, readable in any terminal or mail."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence

__all__ = ["text_table", "wrapped"]

WIDTH = 110
"""Columns of a paragraph; a table takes what it needs."""


def wrapped(text: str, *, first: str = "", rest: str = "  ") -> str:
    """Return a paragraph in lines of the one width.

    Parameters
    ----------
    text : str
        The paragraph.
    first, rest : str
        What its first line and the others begin with.
    """
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def text_table(header: Sequence[str], rows: Sequence[Sequence[str]], *, indent: str = "  ") -> str:
    r"""Return an aligned table; an all-empty column is left out, and line ends within a cell stand as their code.

    Parameters
    ----------
    header : sequence of str, length m
        Column titles.
    rows : sequence of sequences of str, each of length m
        Cells.
    indent : str
        What stands before each line.

    Examples
    --------
    >>> print(text_table(["axis", "step"], [["left_x", "16.0"], ["left_y", "257"]]))
      axis    step
      left_x  16.0
      left_y  257
    >>> print(text_table(["file"], [["two\nlines"]]))
      file
      two\nlines
    >>> print(text_table(["specimen", "state"], [["樺", "fitted"], ["birch", "fitted"]]))
      specimen  state
      樺        fitted
      birch     fitted
    """
    kept = [k for k in range(len(header)) if any(row[k] for row in rows)]
    lines = [[header[k] for k in kept], *([_in_a_line(row[k]) for k in kept] for row in rows)]
    widths = [max(_width(line[k]) for line in lines) for k in range(len(kept))]
    padded = ([cell + " " * (width - _width(cell)) for cell, width in zip(line, widths, strict=True)] for line in lines)
    return "\n".join((indent + "  ".join(line)).rstrip() for line in padded)


def _width(cell: str) -> int:
    """Return how many columns of a terminal a text takes: letters of East Asia two, marks on others none."""
    if cell.isascii():
        return len(cell)
    return sum(0 if unicodedata.combining(c) else 1 + (unicodedata.east_asian_width(c) in "WF") for c in cell)


def _in_a_line(cell: str) -> str:
    """Show the line ends and tabs of a name as their codes."""
    return cell.replace("\n", r"\n").replace("\t", r"\t")
