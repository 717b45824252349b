"""How often each kind of verdict was right, wrong or left open over simulated studies: shown with the verdicts."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources

from scipy import special

from feelcheck.model import VerdictRates

__all__ = ["share_at_most", "verdict_rates"]


def share_at_most(n_found: int, n: int, level: float = 0.95) -> float:
    """Return the upper end of the exact two-sided interval of a share.

    Parameters
    ----------
    n_found : int
        How many of them were counted.
    n : int
        How many values there are.
    level : float
        Two-sided level of the interval.

    References
    ----------
    C. J. Clopper, E. S. Pearson, Biometrika 26:404-413 (1934) (from memory; held against statsmodels in the tests).

    Examples
    --------
    >>> round(share_at_most(0, 60), 4)
    0.0596
    """
    return float(special.betaincinv(n_found + 1, n - n_found, 0.5 + level / 2)) if n_found < n else 1.0


@cache
def verdict_rates() -> tuple[VerdictRates, ...]:
    """Return the shipped table; its file says which command counts each kind again."""
    text = resources.files("feelcheck.comparison").joinpath("rates.toml").read_text(encoding="utf-8")
    return tuple(
        VerdictRates(
            kind=row["kind"],
            truth=row["truth"],
            n=row["n"],
            n_right=row["right"],
            n_wrong=row["wrong"],
            wrong_at_most=share_at_most(row["wrong"], row["n"]),
        )
        for row in tomllib.loads(text)["rates"]
    )
