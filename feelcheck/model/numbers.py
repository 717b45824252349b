"""Numbers that decide: each with its unit and its reason, so that a result can tell what decided it."""

from __future__ import annotations

from types import ModuleType
from typing import Any, Self

__all__ = ["Count", "Number", "numbers_of"]


class _Accountable:
    """What a number that decides has beside its value.

    Attributes
    ----------
    unit : str
        Unit; ``"1"`` for ratios and shares.
    reason : str
        Why it has this value.
    by_trial : bool
        Whether it was found by trial: then `tests/statistical/number_effect.py` counts what another value would do.
    sets : str
        Words of the term of an uncertainty that it sets; empty where it sets none.
    """

    unit: str
    reason: str
    by_trial: bool
    sets: str

    def __new__(cls, value: Any, unit: str, reason: str, *, by_trial: bool = False, sets: str = "") -> Self:
        self: Any = super().__new__(cls, value)  # type: ignore[call-arg]
        self.unit, self.reason, self.by_trial, self.sets = unit, reason, by_trial, sets
        made: Self = self
        return made

    def like(self, value: float) -> Self:
        """Return another value with the same unit, reason and term: for trying what it does."""
        return type(self)(value, self.unit, self.reason, by_trial=self.by_trial, sets=self.sets)


class Number(_Accountable, float):
    """A float that decides something.

    Examples
    --------
    >>> limit = Number(0.35, "1", "beyond it a value says little", by_trial=True)
    >>> 2 * limit, limit.unit
    (0.7, '1')
    """

    def __reduce__(self) -> tuple[Any, ...]:
        return float, (float(self),)


class Count(_Accountable, int):
    """An integer that decides something.

    Examples
    --------
    >>> list(range(Count(2, "flicks", "one has no spread")))
    [0, 1]
    """

    def __reduce__(self) -> tuple[Any, ...]:
        return int, (int(self),)


def numbers_of(room: ModuleType) -> dict[str, Number | Count]:
    """Return the numbers of a room by name, in the order in which they are written.

    Parameters
    ----------
    room : module
        The room's module of numbers.
    """
    return {name: value for name, value in vars(room).items() if isinstance(value, Number | Count)}
