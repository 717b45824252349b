"""Everything that one page shows: the input of `feelcheck report`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from feelcheck.model.bench import BenchResult
from feelcheck.model.comparison import ChainLink, Comparison
from feelcheck.model.feel import FeelResult
from feelcheck.model.hand import HandResult
from feelcheck.model.profile import Profile

__all__ = ["Report"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Report:
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
    """

    title: str
    profiles: tuple[Profile, ...] = ()
    bench: tuple[BenchResult, ...] = ()
    hand: tuple[HandResult, ...] = ()
    comparison: Comparison | None = None
    chain: tuple[ChainLink, ...] = ()
    feel: tuple[FeelResult, ...] = ()
    provenance: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def links(self) -> tuple[ChainLink, ...]:
        """The chain of all specimens."""
        return self.chain or (self.comparison.chain if self.comparison is not None else ())
