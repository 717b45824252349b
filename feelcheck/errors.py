"""What can go wrong, said in one way: a sentence with the rule, the facts, the next step."""

from __future__ import annotations

import signal
from collections.abc import Mapping
from pathlib import Path

__all__ = [
    "FeelcheckError",
    "FormatError",
    "Interrupted",
    "NotComparableError",
    "NotEnoughDataError",
    "OutputError",
    "PluginError",
    "ProfileError",
    "RecordingStopped",
    "SourceError",
]


LONGEST_FACT = 1000


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
        lines = [self.sentence, *(f"  {key}: {_told(value)}" for key, value in self.facts.items())]
        if self.next_step:
            lines.append(f"Next: {self.next_step}")
        return "\n".join(lines)


def _told(value: object) -> str:
    """A fact as it is told: what was met may be endless."""
    text = str(value)
    return text if len(text) <= LONGEST_FACT else f"{text[:LONGEST_FACT]}... ({len(text)} characters)"


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


class Interrupted(KeyboardInterrupt):
    """A signal asked the program to end.

    Parameters
    ----------
    number : int
        Which one: 2 is Ctrl-C, 15 a request to end, 1 a terminal that was closed.

    Examples
    --------
    >>> str(Interrupted(15)), Interrupted(15).exit_code
    ('Stopped by a request to end (SIGTERM).', 143)
    """

    def __init__(self, number: int = signal.SIGINT) -> None:
        self.number = number
        super().__init__(str(self))

    @property
    def exit_code(self) -> int:
        """The program's exit code: 128 and the number of the signal."""
        return 128 + self.number

    @property
    def who(self) -> str:
        """What ended it, in words."""
        return _ENDED_BY.get(self.number, f"Stopped by signal {self.number}")

    def __str__(self) -> str:
        return f"{self.who}."


_ENDED_BY = {
    2: "Stopped by Ctrl-C",
    15: "Stopped by a request to end (SIGTERM)",
    1: "Stopped since the terminal was closed (SIGHUP)",
}


class RecordingStopped(Interrupted):
    """A recording was ended before its script was done; what was recorded is kept.

    Parameters
    ----------
    folder : Path
        The session's folder.
    asked : bool
        Whether it was asked for in the window, in the prompts or with the pad; otherwise it was a signal.
    number : int
        Which signal; Ctrl-C if nothing is said.
    """

    def __init__(self, folder: Path, *, asked: bool = False, number: int = signal.SIGINT) -> None:
        self.folder, self.asked = folder, asked
        super().__init__(number)

    def __str__(self) -> str:
        who = "Ended as you asked" if self.asked else self.who
        return f"{who}, before the script's end. What was recorded is kept.\n  folder: {self.folder}"
