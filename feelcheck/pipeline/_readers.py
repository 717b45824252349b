"""The readers of a family, the tool's own and other packages', and the one that is surest of a file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from feelcheck import plugins
from feelcheck.errors import FeelcheckError, FormatError, PluginError
from feelcheck.guarding import NonsenseError, attempted, failed, left_out
from feelcheck.model import Capture, Recording

__all__ = ["LOGS", "Claim", "Readers", "log_claim"]

LOGS = "feelcheck.formats"

Read = TypeVar("Read", Recording, Capture)


class Claim(NamedTuple):
    """How sure a reader is that a file is its own, from 0 to 1, the reader, and whose it is."""

    sure: float
    reader: Any
    plugin: plugins.Plugin


class Readers:
    """The readers of one plugin group, at arm's length.

    Parameters
    ----------
    group : str
        ``"feelcheck.formats"`` or ``"feelcheck.captures"``.
    """

    def __init__(self, group: str) -> None:
        self._group = group
        self._found = sorted(plugins.working(group), key=lambda found: not found[0].is_own)
        self._left_out: list[str] = []

    @property
    def are_own(self) -> bool:
        """Whether no other package brings one."""
        return all(plugin.is_own for plugin, _ in self._found)

    def surest(self, path: Path) -> Claim:
        """Return the surest claim on a path; where two are as sure, the tool's own reader stands.

        Each reader looks at the file once. One of another package that fails is named and left out.

        Parameters
        ----------
        path : Path
            What is to be read.
        """
        claims = [claim for plugin, value in self._found if (claim := self._asked(plugin, value, path)) is not None]
        return max(claims, key=lambda claim: claim.sure)

    def _asked(self, plugin: plugins.Plugin, value: Any, path: Path) -> Claim | None:
        def ask() -> Claim:
            reader = value() if isinstance(value, type) else value
            return Claim(float(reader.claims(path)), reader, plugin)

        answer = attempted(plugin, ask, _check_claim)
        said = f"the {left_out(plugin, answer[1])}"
        if answer[0] is None and said not in self._left_out:
            self._left_out.append(said)
        return answer[0]

    def read(self, claim: Claim, path: Path, kind: type[Read], **options: Any) -> Read:
        """Return what the reader of a claim makes of a path; where another package's fails, the next surest one.

        Parameters
        ----------
        claim : Claim
            From `surest`.
        path : Path
            What to read.
        kind : type
            What must come of it.
        **options
            As the reader takes them.

        Raises
        ------
        FormatError
            If the reader cannot make sense of the path.
        PluginError
            If another package's reader fails on it, and nobody else can read it.
        """

        def ask() -> Read | FeelcheckError:
            try:
                found: Read = claim.reader.read(path, **options)
            except FeelcheckError as refusal:
                return refusal
            return found

        def check(found: object) -> None:
            if not isinstance(found, kind | FeelcheckError):
                raise NonsenseError(f"it returned {type(found).__name__}, not {kind.__name__}")

        found, why = attempted(claim.plugin, ask, check)
        if found is None:
            return self._without(claim.plugin, why)._otherwise(path, kind, failed(claim.plugin, why), options)
        if isinstance(found, FeelcheckError):
            raise found
        return self.remarked(found)

    def _without(self, plugin: plugins.Plugin, why: str) -> Readers:
        """The same readers but one, which is named."""
        others = Readers(self._group)
        others._found = [(one, value) for one, value in self._found if one != plugin]
        others._left_out = [*self._left_out, f"the {left_out(plugin, why)}"]
        return others

    def _otherwise(self, path: Path, kind: type[Read], failure: PluginError, options: dict[str, Any]) -> Read:
        """What the next surest reader makes of a path; the failure of the first where that one refuses it."""
        try:
            return self.read(self.surest(path), path, kind, **options)
        except FormatError:
            raise failure from None

    def remarked(self, found: Read) -> Read:
        """Return what was read with the names of the readers that were left out.

        Parameters
        ----------
        found : Recording or Capture
            What one of these readers gave.
        """
        told = replace(found.provenance, remarks=(*found.provenance.remarks, *self._left_out))
        return replace(found, provenance=told) if self._left_out else found


def log_claim(path: Path) -> float:
    """Return how sure the surest log reader is that a path is its own, from 0 to 1."""
    return Readers(LOGS).surest(path).sure


def _check_claim(claim: Claim) -> None:
    if not 0.0 <= claim.sure <= 1.0:
        raise NonsenseError(f"it claims a file by {claim.sure}, not from 0 to 1")
    if not callable(getattr(claim.reader, "read", None)):
        raise NonsenseError("it has no read")
