"""Captures from files, each by the reader that is surest it is its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from feelcheck import plugins
from feelcheck.formats.scope import READER, read_captures
from feelcheck.guarding import NonsenseError, called, required
from feelcheck.model import Capture, CaptureReader

__all__ = ["capture_claim", "captures_of"]


def captures_of(paths: Sequence[Path | str], **stated: Any) -> tuple[Capture, ...]:
    """Return the captures of files.

    Parameters
    ----------
    paths : sequence of path
        Files; those of the tool's own reader that share a time axis are channels of one capture.
    **stated
        What the files do not say, as in `formats.scope.read_captures`.

    Raises
    ------
    FormatError
        If a file cannot be read as a capture.
    PluginError
        If another package's reader is surest of a file and fails on it.
    """
    others = _Others.installed()
    if not others.readers:
        return read_captures(paths, **stated)
    found: list[Capture] = []
    plain: list[Path | str] = []
    for path in paths:
        surest = others.surest(Path(path))
        if surest is None:
            plain.append(path)
        else:
            found.append(_read(*surest, Path(path), stated))
    captures = (*found, *(read_captures(plain, **stated) if plain else ()))
    return tuple(_remarked(capture, others.left_out) for capture in captures)


def capture_claim(path: Path) -> float:
    """Return how sure the surest capture reader is that a file is its own, from 0 to 1."""
    return max(READER.claims(path), *(claim for claim, _ in _Others.installed().claims(path)), 0.0)


@dataclass(slots=True)
class _Others:
    """Capture readers of other packages, and what was said of those that failed."""

    readers: list[tuple[plugins.Plugin, CaptureReader]]
    left_out: list[str] = field(default_factory=list)

    @classmethod
    def installed(cls) -> _Others:
        found = [(plugin, value) for plugin, value in plugins.working("feelcheck.captures") if not plugin.is_own]
        return cls([(plugin, value() if isinstance(value, type) else value) for plugin, value in found])

    def surest(self, path: Path) -> tuple[plugins.Plugin, CaptureReader] | None:
        """The reader that is surer of a file than the tool's own; None where none is."""
        claims = [pair for pair in self.claims(path) if pair[0] > READER.claims(path)]
        return self.readers[max(claims)[1]] if claims else None

    def claims(self, path: Path) -> list[tuple[float, int]]:
        """How sure each reader is, with its place; one that fails is not, and is named."""
        found = []
        for place, (plugin, reader) in enumerate(self.readers):
            try:
                found.append((_claim(plugin, reader, path), place))
            except Exception as problem:
                text = f"the {plugin.whose} was left out: {type(problem).__name__}: {problem}"
                self.left_out += [text] if text not in self.left_out else []
        return found


def _claim(plugin: plugins.Plugin, reader: CaptureReader, path: Path) -> float:
    return called(plugin, lambda: float(reader.claims(path)), _check_claim)


def _read(plugin: plugins.Plugin, reader: CaptureReader, path: Path, stated: dict[str, Any]) -> Capture:
    given = {name: value for name, value in stated.items() if value is not None}
    return required(plugin, lambda: reader.read(path, **given), _check_capture)


def _check_claim(claim: float) -> None:
    if not 0.0 <= claim <= 1.0:
        raise NonsenseError(f"it claims a file by {claim}, not from 0 to 1")


def _check_capture(capture: Capture) -> None:
    if not isinstance(capture, Capture):
        raise NonsenseError(f"it returned {type(capture).__name__}, not Capture")


def _remarked(capture: Capture, remarks: list[str]) -> Capture:
    told = replace(capture.provenance, remarks=(*capture.provenance.remarks, *remarks))
    return replace(capture, provenance=told) if remarks else capture
