"""What can go wrong, said in one way: a sentence with the rule, the facts, the next step."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

__all__ = [
    "FeelcheckError",
    "FormatError",
    "NotComparableError",
    "NotEnoughDataError",
    "OutputError",
    "PluginError",
    "ProfileError",
    "RecordingStopped",
    "SourceError",
]


class FeelcheckError(Exception):
    """Root of every error that feelcheck raises on purpose.

    Parameters
    ----------
    sentence : str
        One sentence that states the rule that was broken.
    facts : Mapping[str, object], optional
        What was met, as ``key: value`` lines (file, line, got, allowed).
    next_step : str, optional
        What the user can do about it.

    Examples
    --------
    >>> print(FeelcheckError("A log needs a time column.", {"file": "alder.csv"}, "Name it with --time."))
    A log needs a time column.
      file: alder.csv
    Next: Name it with --time.
    """

    def __init__(self, sentence: str, facts: Mapping[str, object] | None = None, next_step: str = "") -> None:
        self.sentence = sentence
        self.facts = dict(facts or {})
        self.next_step = next_step
        super().__init__(str(self))

    def __str__(self) -> str:
        lines = [self.sentence, *(f"  {key}: {value}" for key, value in self.facts.items())]
        if self.next_step:
            lines.append(f"Next: {self.next_step}")
        return "\n".join(lines)


class FormatError(FeelcheckError, ValueError):
    """A file cannot be read as what it was taken for."""


class ProfileError(FeelcheckError, ValueError):
    """A specimen's record is not valid."""


class NotEnoughDataError(FeelcheckError, ValueError):
    """The data is sound but holds too little to answer."""


class NotComparableError(FeelcheckError, ValueError):
    """Two recordings differ in a way that makes their comparison meaningless."""


class OutputError(FeelcheckError, ValueError):
    """A file may not or cannot be written where it was asked for; what stood there is whole."""


class SourceError(FeelcheckError, OSError):
    """A controller or another live source cannot be reached or fell silent."""


class PluginError(FeelcheckError, LookupError):
    """A plugin is missing or broken."""


class RecordingStopped(KeyboardInterrupt):
    """A recording was ended before its script was done; what was recorded is kept.

    Parameters
    ----------
    folder : Path
        The session's folder.
    asked : bool
        Whether it was asked for in the window, in the prompts or with the pad; otherwise it was Ctrl-C.
    """

    def __init__(self, folder: Path, *, asked: bool = False) -> None:
        self.folder, self.asked = folder, asked
        super().__init__(str(self))

    def __str__(self) -> str:
        who = "Ended as you asked" if self.asked else "Stopped by Ctrl-C"
        return f"{who}, before the script's end. What was recorded is kept.\n  folder: {self.folder}"
