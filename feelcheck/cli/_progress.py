"""What a recording shows: a window, or lines and a bar in the terminal, on stderr."""

from __future__ import annotations

import math
import queue
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from feelcheck.cli._outcome import remark
from feelcheck.counted import counted
from feelcheck.phases import phase
from feelcheck.plain_text import harmless

if TYPE_CHECKING:
    from feelcheck.recorder import Face

__all__ = ["Shown", "TerminalFace", "recording_shown"]

_LETTERS = {"": "go", "p": "go", "r": "repeat", "s": "skip", "q": "stop"}


class _Bar:
    """A progress bar that appears when it is first used."""

    def __init__(self) -> None:
        self._bar: Any = None
        self._task: Any = None

    def show(self, words: str, done: float, total: float, more: str) -> None:
        if self._bar is None:
            self._start()
        self._bar.update(self._task, description=harmless(words), completed=done, total=total, more=more)

    def _start(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn

        phase("")
        console = Console(stderr=True)
        columns = (TextColumn("{task.description}"), BarColumn(bar_width=24), TextColumn("{task.fields[more]}"))
        self._bar = Progress(*columns, console=console, transient=True, disable=not console.is_terminal)
        self._task = self._bar.add_task("", total=None, more="")
        self._bar.start()

    def say(self, text: str) -> None:
        """Print a line above the bar."""
        if self._bar is None:
            self._start()
        if self._bar.console.is_terminal:
            self._bar.console.print(harmless(text), markup=False, highlight=False)
        else:
            remark(text)

    def stop(self) -> None:
        if self._bar is not None:
            self._bar.stop()
            self._bar = None


class TerminalFace:
    """A guided recording in the terminal: each prompt and each judgement is a line.

    Parameters
    ----------
    bar : object
        Where lines and progress go.
    """

    def __init__(self, bar: Any) -> None:
        from feelcheck.recorder.guide.words import PAIN

        self._bar = bar
        self._prompt: tuple[Any, ...] = ()
        self._verdict: Any = None
        self._letters: queue.SimpleQueue[str] = queue.SimpleQueue()
        keys = "Any button of the pad begins, pauses and goes on. Ctrl-C ends; what was recorded is kept."
        if sys.stdin is not None and sys.stdin.isatty():
            threading.Thread(target=self._listen, name="keys", daemon=True).start()
            keys = (
                "Any button of the pad, or Enter, begins, pauses and goes on. With Enter: r last one again, "
                "s leave this one out, q end here (as Ctrl-C); what was recorded is kept."
            )
        bar.say(keys)
        bar.say(PAIN)

    def _listen(self) -> None:
        for line in sys.stdin:
            self._letters.put(line.strip().lower()[:1])

    def begun(self, folder: Path) -> None:
        """Nothing is worked out in the terminal before the end."""

    def show(self, view: Any) -> Sequence[Any]:
        """Print what changed; return what was typed."""
        from feelcheck.recorder.guide import Command

        if view.verdict is not None and view.verdict is not self._verdict:
            self._verdict = view.verdict
            self._bar.say(judged_line(view))
        prompt = (view.stage, view.done, view.step, view.attempt)
        if prompt != self._prompt:
            self._prompt = prompt
            self._bar.say(prompt_line(view))
        counts = f"{view.accepted} counted, {view.rejected} not"
        self._bar.show(f"step {min(view.done + 1, view.n_steps)} of {view.n_steps}", view.done, view.n_steps, counts)
        typed = []
        while not self._letters.empty():
            letter = self._letters.get()
            if letter in _LETTERS:
                typed.append(Command(_LETTERS[letter]))
        return typed

    def end(self, guide: Any) -> None:
        """Print the counts and the remarks."""
        view = guide.view()
        self._bar.say(f"Finished: {view.accepted} counted, {view.rejected} not counted, {view.skipped} left out.")
        for text in guide.remarks:
            self._bar.say(text)

    def close(self) -> None:
        """Take the bar away."""
        self._bar.stop()


def prompt_line(view: Any) -> str:
    """Return what is asked now as one line.

    Parameters
    ----------
    view : GuideView
        One instant.
    """
    tail = {
        "paused": " A button goes on; or hold a stick up to go on, left for the last one again, right to leave this "
        "one out, down to end.",
        "ready": f" Begins in {view.left_s:.0f} s.",
        "break": " A button goes on." if view.left_s == math.inf else f" Goes on in {view.left_s:.0f} s.",
    }.get(str(view.stage), "")
    again = f" (try {view.attempt})" if view.attempt > 1 and view.stage == "asking" else ""
    return f"> {view.sentence}{again}{tail}"


def judged_line(view: Any) -> str:
    """Return what was made of the last action as one line.

    Parameters
    ----------
    view : GuideView
        One instant, with a verdict.
    """
    verdict = view.verdict
    if verdict.good:
        return f"  counts: {view.judged}. {verdict.advice}".rstrip()
    then = "It will be asked again." if view.next_try else "It goes on without this one."
    return f"  not counted: {view.judged}. {verdict.sentence} {verdict.advice} {then}"


class Shown:
    """What `feelcheck log` shows: a bar for sources that play by themselves, a face for a person.

    Parameters
    ----------
    headless : bool
        The terminal even where there is a screen.
    """

    def __init__(self, *, headless: bool) -> None:
        self._headless = headless
        self._bar = _Bar()
        self._guided = False

    def progress(self, now: Any) -> None:
        """Show how far a recording came that nobody is led through.

        Parameters
        ----------
        now : feelcheck.recorder.Progress
            One instant of the recording.
        """
        if not self._guided:
            words = now.step.say if now.step is not None and now.step.say else "recording"
            self._bar.show(words, now.elapsed_s, now.total_s, counted(now.n_rows, "row"))

    def face_for(self, source: str) -> Callable[[], Face] | None:
        """Return what makes the face that leads a person; None where a simulated pad plays by itself, without a window.

        Parameters
        ----------
        source : str
            As in ``--source``.
        """
        return None if source == "virtual" and not self._has_window() else self.face

    def _has_window(self) -> bool:
        if self._headless:
            return False
        from feelcheck.recorder.window import has_display

        return has_display()

    def face(self) -> Face:
        """Return the window, or the terminal where that was asked for or there is no screen."""
        self._guided = True
        if not self._headless:
            found = _window()
            if found is not None:
                return found
        return TerminalFace(self._bar)

    def close(self) -> None:
        """Take the bar away."""
        self._bar.stop()


def _window() -> Face | None:
    from feelcheck.errors import SourceError
    from feelcheck.pipeline import Answers
    from feelcheck.recorder.window import SheetWindow, has_display

    if not has_display():
        remark("There is no screen: the prompts appear here, in the terminal.")
        return None
    try:
        return SheetWindow(answers=Answers)
    except SourceError as problem:
        remark(f"{problem.sentence} The prompts appear here, in the terminal.")
        return None


@contextmanager
def recording_shown(*, headless: bool) -> Iterator[Shown]:
    """Yield what shows a recording; its bar goes away at the end.

    Parameters
    ----------
    headless : bool
        The terminal even where there is a screen.
    """
    shown = Shown(headless=headless)
    try:
        yield shown
    finally:
        shown.close()
