"""The parent's end of the capture process."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
from collections.abc import Mapping
from typing import Any

from feelcheck.errors import SourceError

__all__ = ["CaptureChild", "capture_environment"]

_PATIENCE_S = 5.0


class CaptureChild:
    """A running capture process, spoken to in JSON lines.

    Parameters
    ----------
    order : dict
        What to record: ``kind`` (reference of the source kind), ``options``, ``cues``, ``limit_ns``.
    environment : Mapping of str or None
        Its environment, where that is not this process's own: a window here must not choose its video driver.

    Notes
    -----
    The process is started afresh, never forked, so that it holds nothing but the source; on POSIX it gets a session of
    its own, so that Ctrl-C in the terminal reaches the parent alone, which then asks it to stop. On Windows it goes
    before programs of usual priority.
    """

    def __init__(self, order: dict[str, Any], environment: Mapping[str, str] | None = None) -> None:
        self._noise = tempfile.TemporaryFile()  # noqa: SIM115 - closed by close()
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-m", "feelcheck.capturing.process"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._noise,
            text=True,
            encoding="utf-8",
            env=None if environment is None else dict(environment),
            start_new_session=sys.platform != "win32",
            creationflags=getattr(subprocess, "ABOVE_NORMAL_PRIORITY_CLASS", 0),
        )
        self._messages: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        self._reader = threading.Thread(target=self._read, name="capture", daemon=True)
        self._reader.start()
        self.tell(order)

    def _read(self) -> None:
        assert self.process.stdout is not None
        with contextlib.suppress(ValueError):
            for line in self.process.stdout:
                self._messages.put(json.loads(line))
        self._messages.put(None)

    def tell(self, message: dict[str, Any]) -> None:
        """Send one message; a process that is gone is noticed when listening.

        Parameters
        ----------
        message : dict
            What `feelcheck.capturing.process` understands; it travels as one line of JSON.
        """
        assert self.process.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            self.process.stdin.write(json.dumps(message) + "\n")
            self.process.stdin.flush()

    def listen(self, timeout_s: float) -> dict[str, Any] | None:
        """Return the next message, None where none came in time.

        Parameters
        ----------
        timeout_s : float, s
            How long to wait for one.

        Raises
        ------
        SourceError
            If the process reports an error or is gone.
        """
        try:
            message = self._messages.get(timeout=timeout_s)
        except queue.Empty:
            return None
        if message is None:
            raise SourceError(
                "The capture process ended by itself.",
                {"exit code": self.process.wait(_PATIENCE_S), "last words": self._last_words() or "none"},
                "Record again; what was recorded until then is kept.",
            )
        if "error" in message:
            told = message["error"]
            raise SourceError(told["sentence"], told["facts"], told["next_step"])
        return message

    def _last_words(self) -> str:
        self._noise.seek(0)
        lines = self._noise.read().decode("utf-8", "replace").strip().splitlines()
        return lines[-1] if lines else ""

    def close(self) -> None:
        """Ask the process to stop and wait for it; kill it where it does not; safe to call twice."""
        self.tell({"stop": True})
        with contextlib.suppress(OSError, ValueError):
            if self.process.stdin is not None:
                self.process.stdin.close()
        try:
            self.process.wait(_PATIENCE_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self._reader.join(_PATIENCE_S)
        if self.process.stdout is not None:
            self.process.stdout.close()
        self._noise.close()


def capture_environment() -> dict[str, str]:
    """Return the environment of the capture process: it never opens a window, whatever draws in this process."""
    environment = dict(os.environ)
    if sys.platform.startswith("linux"):
        environment["SDL_VIDEODRIVER"] = "dummy"
    return environment
