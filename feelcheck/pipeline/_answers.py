"""The parent's end of the process that works out what a recording says while it goes on."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

from feelcheck.recorder.guide import SoFar

__all__ = ["Answers"]

LEAST_FLICKS = 5
"""Flicks that count before a pooled value is worked out."""
EVERY = 4
"""Pooled again after so many more."""


class Answers:
    """What is known so far of a session that is being recorded; asking never waits.

    Parameters
    ----------
    folder : Path
        The session.

    Notes
    -----
    The work is done by a process of its own at a low priority, one request after the other, so that neither the capture
    nor the window waits for it.
    """

    def __init__(self, folder: Path) -> None:
        self._scratch = tempfile.TemporaryDirectory(prefix="feelcheck-")
        self._picture = Path(self._scratch.name) / "card.png"
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "feelcheck.pipeline.beside", str(folder.absolute())],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            start_new_session=sys.platform != "win32",
            creationflags=getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0),
        )
        self._known: dict[str, Any] = {}
        self._flicks = self._pooled = 0
        self._reader = threading.Thread(target=self._read, name="answers", daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        with contextlib.suppress(ValueError):
            for line in self._process.stdout:
                self._known |= json.loads(line)

    def _ask(self, request: str) -> None:
        assert self._process.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            self._process.stdin.write(request + "\n")
            self._process.stdin.flush()

    def counted(self) -> None:
        """Take note that one more flick counted."""
        self._flicks += 1
        self._ask("flick")
        if self._flicks >= LEAST_FLICKS and self._flicks - self._pooled >= EVERY:
            self._pooled = self._flicks
            self._ask("pooled")

    def finish(self) -> None:
        """Ask what the whole session says, for the last page."""
        self._ask(f"last {self._picture}")

    def newest(self) -> SoFar:
        """Return what is known now."""
        known = self._known
        return SoFar(
            flick=str(known.get("flick", "")),
            ways=tuple((str(axis), str(way), str(words)) for axis, way, words in known.get("ways", ())),
            lines=tuple(map(str, known.get("lines", ()))),
            picture=str(known.get("picture", "")),
            done=known.get("request") == "last" or self._process.poll() is not None,
        )

    def close(self) -> None:
        """End the process; safe to call twice."""
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait()
        self._reader.join(5.0)
        for stream in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError, ValueError):
                if stream is not None:
                    stream.close()
        self._scratch.cleanup()
