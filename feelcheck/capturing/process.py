"""The capture process: one source, one events file, nothing else.

Run as ``python -m feelcheck.capturing.process``. It talks with its parent in JSON lines: the first line on stdin says
what to record; it answers ``ready`` with the source's description; after ``go`` it records until the time is up,
``stop`` comes, or stdin closes, which is how it learns that its parent is gone.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import signal
import sys
import threading
import time
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from feelcheck.capturing.script_wire import script_from_wire, step_from_wire
from feelcheck.errors import FeelcheckError, SourceError
from feelcheck.formats.session_log import EventLog
from feelcheck.model import Listener, Mover, Source, SourceEvent, SourceKind, SourceOptions
from feelcheck.outputs import disk_of

__all__ = ["FLUSH_NS", "capture", "main", "source_kind"]

FLUSH_NS = 20_000_000
"""Rows are handed to the system this often: at most so much is lost when the process is killed."""


def source_kind(reference: str) -> SourceKind:
    """Return the source kind behind ``module:attribute``.

    Parameters
    ----------
    reference : str
        Where the object is written: a module and a name in it.
    """
    module, _, attribute = reference.partition(":")
    kind = getattr(importlib.import_module(module), attribute)
    if not isinstance(kind, SourceKind):
        raise TypeError(f"{reference} is no SourceKind")
    return kind


_LATER = "Go on later with feelcheck log --resume; what was recorded is kept."


class _Inbox:
    """What the parent says, read by a thread that sleeps in the kernel until it does."""

    def __init__(self, lines: TextIO) -> None:
        self.messages: deque[dict[str, Any]] = deque()
        self.stop = threading.Event()
        self.arrived = threading.Event()
        self.ended = False
        self._lines = lines
        threading.Thread(target=self._read, name="parent", daemon=True).start()

    def _read(self) -> None:
        for line in self._lines:
            message = json.loads(line)
            self.messages.append(message)
            if message.get("stop"):
                self.stop.set()
            self.arrived.set()
        self.stop.set()
        self.arrived.set()

    def end(self) -> None:
        """Stop as the system asks: what is recorded is not the whole script."""
        self.ended = True
        self.stop.set()
        self.arrived.set()

    def wait(self) -> dict[str, Any] | None:
        """Return the next message, None if the parent is gone."""
        while not self.messages:
            if self.stop.is_set():
                return None
            self.arrived.wait()
            self.arrived.clear()
        return self.messages.popleft()


@dataclass(slots=True, kw_only=True)
class _Schedule:
    """Cues that this process shows by itself, in time order."""

    cues: list[tuple[int, str]]
    shown: int = 0

    def next_ns(self, otherwise_ns: int) -> int:
        return min(otherwise_ns, self.cues[self.shown][0]) if self.shown < len(self.cues) else otherwise_ns

    def due(self, now_ns: int) -> list[SourceEvent]:
        rows: list[SourceEvent] = []
        while self.shown < len(self.cues) and self.cues[self.shown][0] <= now_ns:
            rows.append((now_ns, now_ns, "cue", self.cues[self.shown][1], 0))
            self.shown += 1
        return rows


def _said(inbox: _Inbox, source: Source) -> list[SourceEvent]:
    """Return rows for the cues and notes that the parent sent, at its instants; a simulated person hears the cues."""
    rows: list[SourceEvent] = []
    while inbox.messages:
        message = inbox.messages.popleft()
        for kind in ("cue", "note"):
            if kind in message:
                t_ns = int(message.get("t_ns", time.perf_counter_ns()))
                rows.append((t_ns, t_ns, kind, str(message[kind]), int(message.get("value", 0))))
                if "step" in message and isinstance(source, Listener):
                    source.hear(t_ns, step_from_wire(message["step"]))
        if "do" in message and isinstance(source, Mover):
            source.do(message["do"])
    return rows


def capture(
    source: Source,
    log: EventLog,
    inbox: _Inbox,
    *,
    cues: list[tuple[int, str]],
    limit_ns: int,
    every_ns: int = FLUSH_NS,
) -> None:
    """Record until the source ends, the limit is reached or the parent says stop or is gone.

    Parameters
    ----------
    source : Source
        What is read.
    log : EventLog
        Where rows are written.
    inbox : inbox
        What the parent process says.
    cues : list of (int, str)
        What is asked, each from its instant on (nanoseconds of the source's clock).
    limit_ns : int, ns
        How long to record at the most.
    every_ns : int, ns
        How often rows are put on the disk.

    Notes
    -----
    One write hands the rows of `every_ns` to the system, 20 ms where nobody waits for them. The parent syncs the file
    to the disk through its own handle, since waiting for the disk here would cost reports.
    """
    now = time.perf_counter_ns
    start_ns = now()
    schedule = _Schedule(cues=[(start_ns + t_ns, text) for t_ns, text in cues])
    flush_ns = start_ns
    wake_ns = start_ns
    try:
        for batch in source.events():
            if batch:
                log.add(batch)
            now_ns = now()
            if now_ns < wake_ns:
                continue
            log.add(schedule.due(now_ns))
            if now_ns >= flush_ns:
                log.add(_said(inbox, source))
                log.flush()
                flush_ns = now_ns + every_ns
                if now_ns - start_ns >= limit_ns or inbox.stop.is_set():
                    break
            wake_ns = schedule.next_ns(flush_ns)
    finally:
        log.add(_said(inbox, source))
        log.flush()


def _tell(out: TextIO, message: dict[str, Any]) -> None:
    out.write(json.dumps(message, default=_plain) + "\n")
    out.flush()


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else str(value)


def _woken_at_once() -> None:
    """Be woken before other programs, where this user may ask for that; a loop that mostly rests takes nothing away."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(1))


def _record(out: TextIO, inbox: _Inbox) -> None:
    order = inbox.wait()
    if order is None:
        return
    options = SourceOptions(**{**order["options"], "script": script_from_wire(order["options"]["script"])})
    source = source_kind(order["kind"]).make(options)
    source.open()
    try:
        _tell(out, {"ready": source.describe()})
        answer = inbox.wait()
        if answer is None or "go" not in answer:
            return
        log = EventLog(Path(answer["go"]))
        try:
            log.sync()
            _tell(out, {"started": time.perf_counter_ns()})
            if options.low_power:
                _woken_at_once()
            cues = [(int(t_ns), str(text)) for t_ns, text in order["cues"]]
            capture(
                source,
                log,
                inbox,
                cues=cues,
                limit_ns=int(order["limit_ns"]),
                every_ns=int(order.get("every_ns", FLUSH_NS)),
            )
            if inbox.ended:
                raise SourceError("The capture process was asked to end by the system.", {"rows": log.n_rows}, _LATER)
            _tell(out, {"done": log.n_rows})
        finally:
            log.close()
    finally:
        source.close()


def main() -> int:
    """Run the capture process; return its exit code."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Whatever a library prints must not disturb the conversation with the parent.
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    inbox = _Inbox(sys.stdin)
    signal.signal(signal.SIGTERM, lambda *_: inbox.end())
    try:
        _record(out, inbox)
    except BrokenPipeError:
        return 0
    except FeelcheckError as problem:
        facts = {key: str(value) for key, value in problem.facts.items()}
        _tell(out, {"error": {"sentence": problem.sentence, "facts": facts, "next_step": problem.next_step}})
        return 2
    except OSError as problem:
        name = str(problem.filename or "")
        disk = {"file": name, "disk": disk_of(Path(name))} if name else {}
        facts = {**disk, "reason": problem.strerror or str(problem)}
        again = "Make room or name another folder with --out; what was written is kept."
        _tell(out, {"error": {"sentence": "The recording cannot be written.", "facts": facts, "next_step": again}})
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
