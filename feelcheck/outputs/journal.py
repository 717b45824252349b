"""A journal beside an output in the making: what was done so far survives whatever happens."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from feelcheck.errors import OutputError

__all__ = ["Journal"]

_FIRST = "Made by feelcheck: journal."


class Journal:
    """One JSON document a line, appended and flushed; a torn last line is dropped when it is read.

    Parameters
    ----------
    path : Path
        The journal; one that is there already is gone on with.

    Raises
    ------
    OutputError
        If there is a file of that name that is no journal, or it cannot be written.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.done = list(self._read())
        try:
            self._stream = path.open("a", encoding="utf-8", newline="\n")
        except OSError as problem:
            facts = {"file": path, "reason": problem.strerror}
            raise OutputError("The journal cannot be written.", facts, "Name another output.") from None
        if self._stream.tell() == 0:
            self._stream.write(f"{_FIRST}\n")

    def _read(self) -> Iterator[Any]:
        if not self._path.exists():
            return
        text = self._path.read_text(encoding="utf-8", errors="replace")
        if not text.startswith(_FIRST) and not _FIRST.startswith(text.rstrip("\n")):
            facts = {"file": self._path}
            raise OutputError("A file of that name is no journal.", facts, "Move it, or name another output.")
        whole = text[: text.rfind("\n") + 1]
        if whole != text:
            os.truncate(self._path, len(whole.encode()))
        for line in whole.splitlines()[1:]:
            try:
                yield json.loads(line)
            except ValueError:
                continue

    def add(self, document: Any) -> None:
        """Append a document; it survives the end of this process.

        Parameters
        ----------
        document : object
            What JSON can hold; numbers are finite.
        """
        self._stream.write(json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n")
        self._stream.flush()

    def remove(self) -> None:
        """Take the journal away: the output is whole."""
        self._stream.close()
        self._path.unlink(missing_ok=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stream.close()
