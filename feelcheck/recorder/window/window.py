"""The window itself: opens, draws thirty times a second, hears keys, closes."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from pathlib import Path

import pygame
import pygame.display
import pygame.event
import pygame.image

from feelcheck.canvas import PICTURES, open_canvas
from feelcheck.recorder.guide import Command, Guide, GuideView
from feelcheck.recorder.window.sheet import draw_sheet

__all__ = ["SheetWindow"]

LINGER = "FEELCHECK_LINGER_S"
"""Environment variable with how long the last page stands, s."""
FRAME_S = 1 / 30
LINGER_S = 10.0
_KEYS = {
    pygame.K_SPACE: Command.GO,
    pygame.K_RETURN: Command.GO,
    pygame.K_r: Command.REPEAT,
    pygame.K_s: Command.SKIP,
    pygame.K_ESCAPE: Command.STOP,
    pygame.K_q: Command.STOP,
}


class SheetWindow:
    """A window that shows a guided recording and hears the keyboard.

    Parameters
    ----------
    linger_s : float or None, s
        How long the last page stands; 10 s where it is not given.

    Raises
    ------
    SourceError
        If no window can be opened.
    """

    def __init__(self, *, linger_s: float | None = None) -> None:
        self._canvas = open_canvas()
        self._linger_s = float(os.environ.get(LINGER, LINGER_S)) if linger_s is None else linger_s
        self._drawn_s = 0.0
        self._pictures = Path(os.environ[PICTURES]) if os.environ.get(PICTURES) else None
        self._shown: dict[str, int] = {}

    def show(self, view: GuideView) -> Sequence[Command]:
        """Draw where a frame is due; return the commands of the keys pressed since."""
        commands = self._heard()
        now_s = time.perf_counter()
        if now_s - self._drawn_s >= FRAME_S:
            self._drawn_s = now_s
            self._draw(view, [])
        return commands

    def end(self, guide: Guide) -> None:
        """Show the last page until a key is pressed or its time is over."""
        until_s = time.perf_counter() + self._linger_s
        while time.perf_counter() < until_s:
            self._draw(guide.view(), guide.remarks)
            if self._heard(any_key=True):
                return
            time.sleep(0.05)

    def close(self) -> None:
        """Close the window; safe to call twice."""
        pygame.display.quit()

    def _draw(self, view: GuideView, remarks: list[str]) -> None:
        draw_sheet(self._canvas, view, remarks)
        pygame.display.flip()
        if self._pictures is not None:
            self._picture(view, self._pictures)

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

    def _picture(self, view: GuideView, folder: Path) -> None:
        """Keep one picture of each state, taken when it has stood for a few frames."""
        action = "none" if view.step is None else str(view.step.action)
        made = "none" if view.verdict is None else view.verdict.reason.name.lower()
        name = f"{view.stage}_{action}_{made}"
        self._shown[name] = self._shown.get(name, 0) + 1
        if self._shown[name] == 6:
            folder.mkdir(parents=True, exist_ok=True)
            pygame.image.save(self._canvas.surface, str(folder / f"{name}.png"))
