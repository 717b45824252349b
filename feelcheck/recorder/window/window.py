"""The window itself: opens, draws thirty times a second, hears keys, closes."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

import pygame
import pygame.display
import pygame.event
import pygame.image

from feelcheck.canvas import PICTURES, open_canvas
from feelcheck.recorder.guide import Command, Guide, GuideView, SoFar
from feelcheck.recorder.window.sheet import draw_sheet

__all__ = ["SheetWindow"]

LINGER = "FEELCHECK_LINGER_S"
"""Environment variable with how long the last page stands, s."""
FRAME_S = 1 / 30
LINGER_S = 10.0
LONGEST_WAIT_S = 60.0
"""How long the last page waits for its numbers."""
_KEYS = {
    pygame.K_SPACE: Command.GO,
    pygame.K_RETURN: Command.GO,
    pygame.K_r: Command.REPEAT,
    pygame.K_s: Command.SKIP,
    pygame.K_ESCAPE: Command.STOP,
    pygame.K_q: Command.STOP,
}


class Answering(Protocol):
    """Works out what a recording says while it goes on; none of its methods waits."""

    def counted(self) -> None:
        """Take note that one more flick counted."""

    def finish(self) -> None:
        """Begin to work out what the whole session says."""

    def newest(self) -> SoFar:
        """Return what is known now."""

    def close(self) -> None:
        """Stop; safe to call twice."""


class SheetWindow:
    """A window that shows a guided recording and hears the keyboard.

    Parameters
    ----------
    answers : callable or None
        Begins to work out what a session's flicks say, given its folder.
    linger_s : float or None, s
        How long the last page stands; 10 s where it is not given.

    Raises
    ------
    SourceError
        If no window can be opened.
    """

    def __init__(self, *, answers: Callable[[Path], Answering] | None = None, linger_s: float | None = None) -> None:
        self._begin = answers
        self._answers: Answering | None = None
        self._flicks = 0
        self._canvas = open_canvas()
        self._linger_s = float(os.environ.get(LINGER, LINGER_S)) if linger_s is None else linger_s
        self._drawn_s = 0.0
        self._pictures = Path(os.environ[PICTURES]) if os.environ.get(PICTURES) else None
        self._shown: dict[str, int] = {}

    def begun(self, folder: Path) -> None:
        """Begin to work out what the session says."""
        if self._begin is not None:
            self._answers = self._begin(folder)

    def show(self, view: GuideView) -> Sequence[Command]:
        """Draw where a frame is due; return the commands of the keys pressed since."""
        commands = self._heard()
        if self._answers is not None and view.flicks > self._flicks:
            self._flicks = view.flicks
            self._answers.counted()
        now_s = time.perf_counter()
        if now_s - self._drawn_s >= FRAME_S:
            self._drawn_s = now_s
            self._draw(view, [])
        return commands

    def end(self, guide: Guide) -> None:
        """Show the last page until a key is pressed or its time is over, which begins when its numbers are there."""
        if self._answers is not None:
            self._answers.finish()
        began_s = time.perf_counter()
        until_s = began_s + self._linger_s
        while time.perf_counter() < until_s:
            self._draw(guide.view(), guide.remarks)
            if self._heard(any_key=True):
                return
            waits = self._answers is not None and not self._answers.newest().done
            if waits and time.perf_counter() < began_s + LONGEST_WAIT_S:
                until_s = time.perf_counter() + self._linger_s
            time.sleep(0.05)

    def close(self) -> None:
        """Close the window; safe to call twice."""
        if self._answers is not None:
            self._answers.close()
        pygame.display.quit()

    def _draw(self, view: GuideView, remarks: list[str]) -> None:
        so_far = SoFar() if self._answers is None else self._answers.newest()
        draw_sheet(self._canvas, view, remarks, so_far)
        pygame.display.flip()
        if self._pictures is not None:
            self._picture(view, self._pictures, told=so_far.done)

    def _heard(self, *, any_key: bool = False) -> list[Command]:
        commands: list[Command] = []
        for event in pygame.event.get():
            if event.type == pygame.QUIT:
                commands.append(Command.STOP)
            elif event.type == pygame.VIDEORESIZE:
                self._canvas.fit(pygame.display.get_surface())
            elif event.type == pygame.KEYDOWN and (any_key or event.key in _KEYS):
                commands.append(_KEYS.get(event.key, Command.GO))
        return commands

    def _picture(self, view: GuideView, folder: Path, *, told: bool) -> None:
        """Keep one picture of each state, taken when it has stood for a few frames."""
        action = "none" if view.step is None else str(view.step.action)
        made = "none" if view.verdict is None else view.verdict.reason.name.lower()
        name = f"{view.stage}_{action}_{made}" + ("_told" if told else "")
        self._shown[name] = self._shown.get(name, 0) + 1
        if self._shown[name] == 6:
            folder.mkdir(parents=True, exist_ok=True)
            pygame.image.save(self._canvas.surface, str(folder / f"{name}.png"))
