"""Caveats gathered from many estimates, each said once, numbered, with its advice."""

from __future__ import annotations

from collections.abc import Iterable

from feelcheck.model import Caveat, Estimate
from feelcheck.renderers._table import wrapped

__all__ = ["Remarks"]


class Remarks:
    """Collects caveats in the order they are first met and hands out their numbers.

    Examples
    --------
    >>> remarks = Remarks()
    >>> remarks.marks([Caveat(code="few", text="Two flicks only.", advice="Record ten.")])
    '[1]'
    >>> print(remarks.text())
      [1] Two flicks only. Record ten.
    """

    def __init__(self) -> None:
        self._numbers: dict[tuple[str, str], int] = {}
        self._caveats: list[Caveat] = []

    def marks(self, caveats: Iterable[Caveat]) -> str:
        """Return the numbers of these caveats, e.g. ``"[1,3]"``; empty if there are none.

        Parameters
        ----------
        caveats : iterable of Caveat
            Each is numbered when it is first met.
        """
        numbers = sorted({self._number(caveat) for caveat in caveats})
        return f"[{','.join(map(str, numbers))}]" if numbers else ""

    def of(self, *estimates: Estimate) -> str:
        """Return the marks of all caveats of these estimates.

        Parameters
        ----------
        *estimates : Estimate
            Those that stand in one row.
        """
        return self.marks(caveat for estimate in estimates for caveat in estimate.caveats)

    def text(self) -> str:
        """Return every remark met so far, one a paragraph."""
        return "\n".join(
            wrapped(f"[{number}] {caveat.text} {caveat.advice}".strip(), first="  ", rest="      ")
            for number, caveat in enumerate(self._caveats, start=1)
        )

    def section(self) -> str:
        """Return every remark met so far under its heading; empty where there is none."""
        return f"Remarks\n{self.text()}" if self._caveats else ""

    def _number(self, caveat: Caveat) -> int:
        key = (caveat.code, caveat.text)
        if key not in self._numbers:
            self._caveats.append(caveat)
            self._numbers[key] = len(self._caveats)
        return self._numbers[key]
