"""A number with what is known about it: value, uncertainty, status, caveats."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Literal

__all__ = ["Caveat", "Estimate", "Status", "Term"]


class Status(StrEnum):
    """How far a quantity could be told from the data.

    ``OK`` a value with an uncertainty; ``AT_MOST`` only an upper bound is known; ``AT_LEAST`` only a lower bound is
    known; ``NOT_RESOLVED`` the data cannot answer; ``NOT_PRESENT`` the data answers that the effect is not there.
    """

    OK = "ok"
    AT_MOST = "at_most"
    AT_LEAST = "at_least"
    NOT_RESOLVED = "not_resolved"
    NOT_PRESENT = "not_present"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caveat:
    """A remark on a number, made where the reason is known and shown by the renderers.

    Parameters
    ----------
    code : str
        Stable snake_case name, e.g. ``"includes_drive"``.
    text : str
        What is the matter, one sentence.
    advice : str
        What to do about it, one sentence; may be empty.
    """

    code: str
    text: str
    advice: str = ""


@dataclass(frozen=True, slots=True)
class Term:
    """One contribution to a standard uncertainty; independent of the others, so that squares add up.

    Parameters
    ----------
    words : str
        Where it comes from.
    u : float
        In the unit of the estimate.
    """

    words: str
    u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """One measured quantity.

    Use the constructors `measured`, `at_most`, `at_least`, `not_resolved`, `not_present`; they keep the parts
    consistent. Intervals are derived on request by `feelcheck.numerics.uncertainty.coverage_interval`.

    Parameters
    ----------
    quantity : str
        The name of the quantity; the key it has in JSON (``"time_constant"``).
    unit : str
        Unit of value, u and bound. Seconds inside (``"s"``), ``"Hz"``, ``"counts"``, ``"fraction"``, ``"V"``, ...
    status : Status
        How far the quantity could be told.
    value : float or None
        Best value; None unless status is ok.
    u : float or None
        Standard uncertainty of value; None unless status is ok.
    bound : float or None
        The 97.5 % one-sided limit when status is at_most or at_least.
    dof : float
        Degrees of freedom behind u; infinite when u is known well.
    n : int
        How many independent pieces (flicks, edges, reports) the value rests on.
    scale : {"linear", "log"}
        Scale on which the interval is symmetric; ``"log"`` for strictly positive quantities.
    caveats : tuple of Caveat
        Remarks.
    terms : tuple of Term
        What u is made of; empty where that is not told. Stays out of JSON, comparisons and records.
    decided_by : tuple of str
        Names of the room's numbers (`feelcheck.model.numbers`) that made it this status; likewise.

    Raises
    ------
    ValueError
        If the parts contradict the status (an ok value that is not finite, a bound that is missing).

    Examples
    --------
    >>> Estimate.measured("time_constant", 0.0101, u=0.0002, unit="s", n=24).status
    <Status.OK: 'ok'>
    """

    quantity: str
    unit: str
    status: Status
    value: float | None = None
    u: float | None = None
    bound: float | None = None
    dof: float = math.inf
    n: int = 0
    scale: Literal["linear", "log"] = "linear"
    caveats: tuple[Caveat, ...] = ()
    terms: tuple[Term, ...] = field(default=(), compare=False, repr=False)
    decided_by: tuple[str, ...] = field(default=(), compare=False, repr=False)

    def __post_init__(self) -> None:
        if self.status is Status.OK:
            self._check_measured()
        elif self.value is not None or self.u is not None:
            raise ValueError(f"{self.quantity}: only an ok estimate has a value and a standard uncertainty")
        bounded = self.status in (Status.AT_MOST, Status.AT_LEAST)
        if bounded != (self.bound is not None) or (self.bound is not None and not math.isfinite(self.bound)):
            raise ValueError(f"{self.quantity}: a finite bound goes with at_most and at_least only, got {self.bound}")

    def _check_measured(self) -> None:
        if self.value is None or self.u is None or not math.isfinite(self.value) or not 0 <= self.u < math.inf:
            raise ValueError(
                f"{self.quantity}: an ok estimate needs a finite value and u >= 0, got {self.value}, {self.u}"
            )
        if not self.dof > 0:
            raise ValueError(f"{self.quantity}: degrees of freedom must be positive, got {self.dof}")
        if self.scale == "log" and self.value <= 0:
            raise ValueError(f"{self.quantity}: a log-scale estimate must be positive, got {self.value}")

    @classmethod
    def measured(
        cls,
        quantity: str,
        value: float,
        *,
        u: float,
        unit: str,
        n: int = 1,
        dof: float = math.inf,
        scale: Literal["linear", "log"] = "linear",
        caveats: tuple[Caveat, ...] = (),
        terms: tuple[Term, ...] = (),
        by: str = "",
    ) -> Estimate:
        """Return an ok estimate: a value with its standard uncertainty.

        Parameters
        ----------
        quantity, unit : str
            What was measured, and in which unit value and `u` stand (``"s"``, ``"1"``).
        value, u : float
            The value and its standard uncertainty.
        n : int
            Readings behind it.
        dof : float
            Degrees of freedom of `u`; infinite where it was not found from scatter.
        scale : {"linear", "log"}
            Whether the interval is even about the value or about its logarithm.
        caveats : tuple of Caveat
            What a person should know of it.
        terms : tuple of Term
            What `u` is made of.
        by : str
            What it is made of where that is one term, in words.

        Examples
        --------
        >>> Estimate.measured("travel", 4.0, u=0.2, unit="mm", n=3, by="scatter of the strokes").terms[0].u
        0.2
        """
        return cls(
            quantity=quantity,
            unit=unit,
            status=Status.OK,
            value=float(value),
            u=float(u),
            dof=float(dof),
            n=int(n),
            scale=scale,
            caveats=caveats,
            terms=terms or ((Term(by, float(u)),) if by and u else ()),
        )

    @classmethod
    def at_most(
        cls, quantity: str, bound: float, *, unit: str, n: int = 1, caveats: tuple[Caveat, ...] = ()
    ) -> Estimate:
        """Return an upper bound (one-sided 97.5 %).

        Parameters
        ----------
        quantity, unit : str
            What was looked for, and in which unit.
        bound : float
            The upper limit.
        n : int
            Readings behind it.
        caveats : tuple of Caveat
            Why there is no value.
        """
        return cls(quantity=quantity, unit=unit, status=Status.AT_MOST, bound=float(bound), n=int(n), caveats=caveats)

    @classmethod
    def at_least(
        cls, quantity: str, bound: float, *, unit: str, n: int = 1, caveats: tuple[Caveat, ...] = ()
    ) -> Estimate:
        """Return a lower bound (one-sided 97.5 %).

        Parameters
        ----------
        quantity, unit : str
            What was looked for, and in which unit.
        bound : float
            The lower limit.
        n : int
            Readings behind it.
        caveats : tuple of Caveat
            Why there is no value.
        """
        return cls(quantity=quantity, unit=unit, status=Status.AT_LEAST, bound=float(bound), n=int(n), caveats=caveats)

    @classmethod
    def not_resolved(cls, quantity: str, *, unit: str, n: int = 0, caveats: tuple[Caveat, ...] = ()) -> Estimate:
        """Return an estimate that says the data cannot answer.

        Parameters
        ----------
        quantity, unit : str
            What was looked for, and in which unit.
        n : int
            Readings that were looked at.
        caveats : tuple of Caveat
            Why it cannot be told, and what to do instead.
        """
        return cls(quantity=quantity, unit=unit, status=Status.NOT_RESOLVED, n=int(n), caveats=caveats)

    @classmethod
    def not_present(cls, quantity: str, *, unit: str, n: int = 0, caveats: tuple[Caveat, ...] = ()) -> Estimate:
        """Return an estimate that says the effect is not there: tested for and not found.

        Parameters
        ----------
        quantity, unit : str
            What was looked for, and in which unit.
        n : int
            Readings that were looked at.
        caveats : tuple of Caveat
            What a person should know of it.
        """
        return cls(quantity=quantity, unit=unit, status=Status.NOT_PRESENT, n=int(n), caveats=caveats)

    @property
    def is_ok(self) -> bool:
        """Whether there is a value."""
        return self.status is Status.OK

    def with_caveats(self, *caveats: Caveat) -> Estimate:
        """Return a copy with more remarks; a remark whose code is there already is not repeated.

        Parameters
        ----------
        *caveats : Caveat
            What is added, behind those that it has.
        """
        by_code: dict[str, Caveat] = {}
        for caveat in (*self.caveats, *caveats):
            by_code.setdefault(caveat.code, caveat)
        return replace(self, caveats=tuple(by_code.values()))

    def because(self, *names: str) -> Estimate:
        """Return a copy that tells which of the room's numbers decided its status.

        Parameters
        ----------
        *names : str
            As in the room's ``numbers.py``.
        """
        return replace(self, decided_by=tuple(dict.fromkeys((*self.decided_by, *names))))

    def renamed(self, quantity: str) -> Estimate:
        """Return a copy under another name.

        Parameters
        ----------
        quantity : str
            The name.
        """
        return replace(self, quantity=quantity)
