"""The loop of a guided recording: rows in, prompts out, a face in between; the capture process does the rest."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

from feelcheck.capturing.child import CaptureChild
from feelcheck.capturing.rows import RowTail
from feelcheck.capturing.script_wire import step_to_wire
from feelcheck.errors import RecordingStopped
from feelcheck.formats.session_log import EVENTS_FILE, sync_file
from feelcheck.recorder.guide import Command, Guide, GuideView, Said

__all__ = ["Face", "run_guide"]

SEEN_LAG_S = 0.05
"""Rows of the last 50 ms may still be on their way: the capture process hands them over every 20 ms."""
_SYNC_S = 0.5
_TURN_S = 0.02
_LAST_S = 0.3


class Face(Protocol):
    """What a person sees of the recording, and how they answer: a window or a terminal."""

    def begun(self, folder: Path) -> None:
        """Take note that a session is recorded into a folder from now on.

        Parameters
        ----------
        folder : Path
            The session's.
        """

    def show(self, view: GuideView) -> Sequence[Command]:
        """Show one instant; return what was asked for since the last one.

        Parameters
        ----------
        view : GuideView
            What is asked, judged and counted now.
        """

    def end(self, guide: Guide) -> None:
        """Show that it is over and what is to be said, for as long as it takes to read.

        Parameters
        ----------
        guide : Guide
            As it stands at the end: its last view and its remarks.
        """

    def close(self) -> None:
        """Put it away; safe to call twice."""


def run_guide(
    guide: Guide, child: CaptureChild, folder: Path, face: Face, *, progress: Callable[[int], None] = lambda _: None
) -> bool:
    """Lead the person through the script while the capture process records; return whether the script was finished.

    Parameters
    ----------
    guide : Guide
        The state machine.
    child : CaptureChild
        The capture process, recording already.
    folder : Path
        The session's folder.
    face : Face
        The window or the terminal.
    progress : callable
        Called in every turn with the number of rows.

    Raises
    ------
    SourceError
        If the capture process fails.
    RecordingStopped
        If the person asked for its end.
    """
    synced_s = time.monotonic()
    with (folder / EVENTS_FILE).open("rb") as stream:
        tail = RowTail(stream)
        while not guide.finished:
            message = child.listen(_TURN_S)
            if message is not None and "done" in message:
                guide.time_is_up()
                return False
            now_s = time.perf_counter_ns() * 1e-9 - SEEN_LAG_S
            guide.take(tail.new())
            said = guide.look(now_s)
            for command in face.show(guide.view()):
                guide.command(command)
            _tell(child, said)
            progress(tail.n_rows)
            if guide.stopped:
                _tell(child, guide.look(now_s))
                raise RecordingStopped(folder, asked=True)
            if time.monotonic() - synced_s >= _SYNC_S:
                sync_file(folder / EVENTS_FILE)
                synced_s = time.monotonic()
        time.sleep(_LAST_S)
    return True


def _tell(child: CaptureChild, said: Sequence[Said]) -> None:
    """Hand over what was shown just now."""
    t_ns = time.perf_counter_ns()
    for row in said:
        step = {} if row.step is None else {"step": step_to_wire(row.step)}
        child.tell({row.kind: row.text, "value": row.value, "t_ns": t_ns, **step})
