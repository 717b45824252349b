"""A session on the disk, as its header describes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from feelcheck.model.presented import Presented

__all__ = ["SessionOnShelf"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionOnShelf(Presented):
    """One session folder: what it says of itself, without its events; itself a path to it.

    Parameters
    ----------
    folder : Path
        Where it is.
    specimen, state, operator, script, source : str
        Labels, and how it was recorded.
    started : str
        Date and time of the start (ISO 8601, with offset).
    recording : {"recording", "complete", "interrupted", "closed"}
        How far it came.
    running : bool
        Whether somebody seems to be writing it now.
    simulated : bool
        Whether a simulated world was recorded.
    facts, capture : Mapping
        What was asked once; what the recording shows of its own quality.
    n_bytes : int
        Size of its events file.
    """

    folder: Path
    specimen: str
    state: str
    operator: str
    script: str
    source: str
    started: str
    recording: Literal["recording", "complete", "interrupted", "closed"]
    running: bool = False
    simulated: bool = False
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    capture: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    n_bytes: int = 0

    def __fspath__(self) -> str:
        """Return the folder, so that a session is read and measured like its folder."""
        return str(self.folder)

    def __truediv__(self, name: str) -> Path:
        """Return a file in the folder: ``session / "events.csv"``."""
        return self.folder / name

    @property
    def unfinished(self) -> bool:
        """Whether it was left before its script's end and nobody closed it."""
        return self.recording in ("recording", "interrupted")

    @property
    def resumable(self) -> bool:
        """Whether it can be gone on with: unfinished, and with a person at the pad, a simulated one included."""
        played = self.source == "replay" or (self.simulated and self.source != "virtual")
        return self.unfinished and not self.running and not played
