"""The sealed order: drawn before the first trial, told as a fingerprint, opened after the last."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from string import ascii_lowercase

import numpy as np

__all__ = ["SealedOrder"]

SPARE = 40
"""Draws beyond the trials that were planned, for those that are broken off and made again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedOrder:
    """Whether the slower one comes second, trial by trial.

    Parameters
    ----------
    second : tuple of bool
        One draw a trial, each for itself: no count of the earlier ones tells the next.
    salt : str
        Random letters that keep the fingerprint from being guessed.

    Examples
    --------
    >>> order = SealedOrder.drawn(4, seed=1)
    >>> order.seal == SealedOrder(second=order.second, salt=order.salt).seal
    True
    """

    second: tuple[bool, ...]
    salt: str

    @classmethod
    def drawn(cls, n: int, *, seed: int) -> SealedOrder:
        """Return an order for n trials and some to spare.

        Parameters
        ----------
        n : int
            Trials that are planned.
        seed : int
            Of draws and salt.
        """
        rng = np.random.default_rng([seed, 2])
        second = tuple(bool(draw) for draw in rng.random(n + SPARE) < 0.5)
        return cls(second=second, salt="".join(rng.choice(list(ascii_lowercase), 12)))

    @property
    def seal(self) -> str:
        """Fingerprint: SHA-256 of the salt and one digit a draw."""
        return hashlib.sha256((self.salt + self.digits).encode()).hexdigest()

    @property
    def digits(self) -> str:
        """The order as digits: 1 where the slower one comes first, 2 where it comes second."""
        return "".join("2" if second else "1" for second in self.second)
