"""Whether a page says what its files say: the result of `feelcheck verify`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from feelcheck.model.presented import Presented
from feelcheck.model.report import Evidence

__all__ = ["Difference", "FileCheck", "Tally", "Verification"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileCheck:
    """A file that a page was made from, and whether it is at hand.

    Parameters
    ----------
    evidence : Evidence
        What the page tells of it.
    found : str
        Where it lies now, empty where it is missing.
    state : {"same", "changed", "missing"}
        By its hash.
    """

    evidence: Evidence
    found: str
    state: Literal["same", "changed", "missing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One value that reads otherwise.

    Parameters
    ----------
    where : str
        Its place, such as ``bench[0].rising.time_constant.value``, or ``passage 12``.
    page, now : str
        What the page says, and what its files say now; empty where there is nothing.
    """

    where: str
    page: str
    now: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many of one kind of things were held against each other.

    Parameters
    ----------
    same, different : int
        How many agree and how many do not.
    not_derived : int
        How many could not be made again.
    differences : tuple of Difference
        The first of those that differ.
    """

    same: int = 0
    different: int = 0
    not_derived: int = 0
    differences: tuple[Difference, ...] = ()

    @property
    def total(self) -> int:
        """All of them."""
        return self.same + self.different + self.not_derived


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification(Presented):
    """A page held against the files that it was made from.

    Parameters
    ----------
    page, title, made_on : str
        The page, its heading and the day that it tells (which nothing proves).
    files : tuple of FileCheck
        Everything that it was made from.
    versions : Mapping[str, tuple of str]
        Name of the tool or a library whose version is another one now: that of the page, that of today.
    numbers, words : Tally
        The numbers in the data that the page carries, and all else in them.
    shown : Tally
        The passages of text that the page shows, and its pictures; empty where they could not be made again.
    identical : bool
        Whether the page is, to the last letter, what comes out today.
    remarks : tuple of str
        Why something could not be derived.

    Examples
    --------
    >>> Verification(page="a.html", title="a", made_on="", numbers=Tally(same=3, different=1)).proved
    False
    """

    page: str
    title: str
    made_on: str
    files: tuple[FileCheck, ...] = ()
    versions: Mapping[str, tuple[str, str]] = field(default_factory=lambda: MappingProxyType({}))
    numbers: Tally = field(default_factory=Tally)
    words: Tally = field(default_factory=Tally)
    shown: Tally = field(default_factory=Tally)
    identical: bool = False
    remarks: tuple[str, ...] = ()

    @property
    def proved(self) -> bool:
        """Whether every file is at hand and unchanged, and everything that was derived again is the same."""
        tallies = (self.numbers, self.words, self.shown)
        files_same = all(check.state == "same" for check in self.files)
        return files_same and not any(tally.different or tally.not_derived for tally in tallies)
