"""Numbers of things in words: one row, two rows."""

from __future__ import annotations

__all__ = ["counted"]


def counted(n: int, one: str, many: str = "") -> str:
    """Return a number and what is counted, in the singular or the plural.

    Parameters
    ----------
    n : int
        How many.
    one : str
        What follows the number of one, the verb with it where there is one.
    many : str
        What follows any other number; an s behind the singular unless it is given.

    Examples
    --------
    >>> counted(1, "row"), counted(0, "row"), counted(1, "row was left out", "rows were left out")
    ('1 row', '0 rows', '1 row was left out')
    """
    return f"{n} {one if n == 1 else many or f'{one}s'}"
