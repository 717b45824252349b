"""Tables one below the other in one file, each under a heading of its own: a channel in each."""

from __future__ import annotations

import re
from itertools import groupby, pairwise

__all__ = ["stacked_parts"]

_NUMBER_FIRST = re.compile(r"\s*[\"']?[+-]?[.,]?\d")


def stacked_parts(text: str, n_rows: int) -> list[str]:
    r"""Return the tables of a text with what stands above each; nothing where it holds but one.

    Parameters
    ----------
    text : str
        All of a file.
    n_rows : int
        Rows of the table that was found in it: the others are as long.

    Examples
    --------
    >>> stacked_parts("t,coil\n1,2\n2,3\n3,3\n\nt,out\n1,5\n2,6\n3,7\n", 3)
    ['t,coil\n1,2\n2,3\n3,3\n', '\nt,out\n1,5\n2,6\n3,7\n']
    >>> stacked_parts("t,coil\n1,2\n2,3\n3,3\n", 3)
    []
    """
    if text.count("\n") < 2 * n_rows:
        return []
    lines = text.splitlines(keepends=True)
    ends, at = [0], 0
    for is_data, run in groupby(lines, key=lambda line: _NUMBER_FIRST.match(line) is not None):
        length = sum(1 for _ in run)
        at += length
        if is_data and length == n_rows:
            ends.append(at)
    return ["".join(lines[begin:end]) for begin, end in pairwise(ends)] if len(ends) > 2 else []
