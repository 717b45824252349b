"""A page: everything that it shows, what it was made from, and whether its files still say it (`report`, `verify`)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from feelcheck.model.bench import BenchResult
from feelcheck.model.comparison import ChainLink, Comparison
from feelcheck.model.feel import FeelResult, Play
from feelcheck.model.hand import HandResult
from feelcheck.model.presented import Presented
from feelcheck.model.profile import Profile

__all__ = ["Difference", "Evidence", "FileCheck", "Making", "Report", "Tally", "Verification"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """A file or folder that a page was made from.

    Parameters
    ----------
    kind : {"reference", "capture", "recording"}
        What was asked for by name; a capture or a recording that was measured anew.
    reference : int
        Which of the references it belongs to, from 0.
    specimen, state : str
        Under which name its results are shown.
    path : str
        As it was found then.
    sha256 : Mapping[str, str]
        Hash of each file by its name; in a folder by the name within.
    told : Mapping[str, str]
        What was said of a capture that it does not say itself, such as ``time_unit``.
    """

    kind: Literal["reference", "capture", "recording"]
    reference: int
    specimen: str
    state: str
    path: str
    sha256: Mapping[str, str]
    told: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What was asked for and what was read: enough to make a page again.

    Parameters
    ----------
    references : tuple of str
        Records, captures or sessions as they were named, the baseline first.
    margin_ms : float, ms
        The largest difference of delay that does not matter.
    play : Play
        How the stick is used.
    files : tuple of Evidence
        What was read.
    """

    references: tuple[str, ...]
    margin_ms: float = 1.0
    play: Play = field(default_factory=Play)
    files: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Report(Presented):
    """What a page is made of; every part but the title may be missing.

    Parameters
    ----------
    title : str
        Heading of the page.
    profiles : tuple of Profile
        The specimens' records.
    bench : tuple of BenchResult
        Captures measured anew, with their traces.
    hand : tuple of HandResult
        Recordings measured anew, with their traces.
    comparison : Comparison or None
        The specimens against each other; its chain is shown per specimen.
    chain : tuple of ChainLink
        The chain where nothing was compared.
    feel : tuple of FeelResult
        Meaning in use.
    provenance : Mapping[str, str]
        Versions, seeds, hashes, the day: shown as they are, after what the results say of themselves.
    making : Making or None
        What was asked for and read; None for a page that nobody can make again.
    page : str
        Where the page was written; empty where it was not.
    """

    title: str
    profiles: tuple[Profile, ...] = ()
    bench: tuple[BenchResult, ...] = ()
    hand: tuple[HandResult, ...] = ()
    comparison: Comparison | None = None
    chain: tuple[ChainLink, ...] = ()
    feel: tuple[FeelResult, ...] = ()
    provenance: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    making: Making | None = None
    page: str = ""

    def __fspath__(self) -> str:
        """Return the page's path, so that a report is opened and verified like its page."""
        return self.page

    @property
    def links(self) -> tuple[ChainLink, ...]:
        """The chain of all specimens."""
        return self.chain or (self.comparison.chain if self.comparison is not None else ())


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
